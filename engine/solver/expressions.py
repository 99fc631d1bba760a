"""The expressions of SPICE netlists: read, simplified where parameters settle them, put in a row.

An expression is a tree of tuples: `("num", x)`, `("var", name)`, or an operation with its operands.
Making one simplifies it: numbers are worked out, what is multiplied by zero is gone, a condition on
numbers is decided. So the many parameters of a part that switch something off cost nothing later.
`row` writes a tree as a list of operations, each on earlier values, which the kernel runs.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from kb.trouble import Place, Trouble, TroubleError

Tree = tuple[Any, ...]

SCALES = {
    "t": 1e12, "g": 1e9, "meg": 1e6, "k": 1e3, "mil": 25.4e-6, "m": 1e-3, "u": 1e-6, "n": 1e-9,
    "p": 1e-12, "f": 1e-15,
}  # fmt: skip
"""Suffixes of SPICE numbers, in either case of letters (ngspice manual, 2.2)."""
_TOKEN = re.compile(
    r"\s*(?:(?P<number>(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:e[+-]?[0-9]+)?)(?P<scale>meg|mil|[tgkmunpf])?"
    r"[a-z]*|(?P<name>[a-z_][a-z0-9_.]*)|(?P<sign>\*\*|<=|>=|==|!=|&&|\|\||[-+*/^()?:,<>!{}]))",
    re.IGNORECASE,
)
CODES = {
    name: code
    for code, name in enumerate(
        (
            "add", "sub", "mul", "div", "neg", "min", "max", "abs", "tanh", "exp", "pow", "whole",
            "sgn", "less", "select", "sqrt", "ln", "sin", "cos", "atan", "not-more",
        )
    )
}  # fmt: skip
"""The operations of the kernel, numbered as in its `expression.h`."""
_MOST_WHOLE = 64
"""Whole exponents up to this are multiplied out. Of the algorithm."""


class ReadingError(TroubleError, ValueError):
    """A netlist that the solver has no reading of: a trouble CI104."""

    def __init__(self, what: str) -> None:
        mend = "Write it as the netlists of the shipped circuits do, or take the part out"
        super().__init__(Trouble("CI104", Place("netlist"), what, mend))


def number(x: float) -> Tree:
    """A number as a tree."""
    return ("num", float(x))


def _sign(x: float) -> float:
    return float((x > 0) - (x < 0))


_WORK: Mapping[str, Callable[..., float]] = {
    "add": lambda a, b: a + b,
    "sub": lambda a, b: a - b,
    "mul": lambda a, b: a * b,
    "div": lambda a, b: a / b,
    "neg": lambda a: -a,
    "min": min,
    "max": max,
    "abs": abs,
    "tanh": math.tanh,
    "exp": math.exp,
    "pow": lambda a, b: abs(a) ** b,
    "whole": lambda a, b: a**b,
    "sgn": _sign,
    "less": lambda a, b: float(a < b),
    "not-more": lambda a, b: float(a <= b),
    "select": lambda c, a, b: a if c else b,
    "sqrt": math.sqrt,
    "ln": math.log,
    "sin": math.sin,
    "cos": math.cos,
    "atan": math.atan,
}
_FUNCTIONS = {  # how many operands each takes
    "min": 2, "max": 2, "abs": 1, "tanh": 1, "exp": 1, "pow": 2, "sgn": 1, "sqrt": 1, "ln": 1,
    "log": 1, "sin": 1, "cos": 1, "atan": 1,
}  # fmt: skip


def made(op: str, *operands: Tree) -> Tree:
    """The operation on its operands, simplified. ReadingError where numbers have no result."""
    if all(one[0] == "num" for one in operands):
        try:
            return number(_WORK[op](*(one[1] for one in operands)))
        except (ArithmeticError, ValueError) as why:
            raise ReadingError(f"{op} of {operands}") from why
    first, last = operands[0], operands[-1]
    if op == "select" and first[0] == "num":
        return operands[1] if first[1] else operands[2]
    if op == "mul":
        if number(0) in operands:
            return number(0)
        if first == number(1):
            return last
        if last == number(1):
            return first
    if op == "div":
        if first == number(0):
            return first
        if last[0] == "num" and last[1]:
            return made("mul", number(1 / last[1]), first)
    if op == "add" and first == number(0):
        return last
    if op in ("add", "sub") and last == number(0):
        return first
    if op == "sub" and first == number(0):
        return made("neg", last)
    if op == "pow" and last[0] == "num" and last[1] == int(last[1]) and 0 < last[1] <= _MOST_WHOLE:
        return ("whole", first if last[1] % 2 == 0 else made("abs", first), last)
    return (op, *operands)


class _Parser:
    """Recursive descent over tokens; each level one precedence of C."""

    def __init__(self, text: str, known: Mapping[str, float]) -> None:
        self.known, self.position = known, 0
        self.tokens: list[tuple[str, Any]] = []
        text, at = text.strip(), 0
        while at < len(text):
            match = _TOKEN.match(text, at)
            if match is None:
                raise ReadingError(f"no reading of {text[at:]!r} in an expression")
            at = match.end()
            if match["number"]:
                scale = SCALES[match["scale"].lower()] if match["scale"] else 1.0
                self.tokens.append(("number", float(match["number"]) * scale))
            elif match["name"]:
                self.tokens.append(("name", match["name"].lower()))
            else:
                self.tokens.append(("sign", match["sign"]))

    def whole(self) -> Tree:
        tree = self.choice()
        if self.position < len(self.tokens):
            raise ReadingError(f"left over: {self.tokens[self.position :]}")
        return tree

    def take(self, *signs: str) -> str:
        if self.position < len(self.tokens):
            kind, what = self.tokens[self.position]
            if kind == "sign" and what in signs:
                self.position += 1
                return str(what)
        return ""

    def want(self, sign: str) -> None:
        if not self.take(sign):
            raise ReadingError(f"{sign} is missing at {self.tokens[self.position :]}")

    def choice(self) -> Tree:
        condition = self.either()
        if not self.take("?"):
            return condition
        first = self.choice()
        self.want(":")
        return made("select", condition, first, self.choice())

    def either(self) -> Tree:
        tree = self.both()
        while self.take("||"):
            other = self.both()
            tree = made("select", tree, number(1), made("select", other, number(1), number(0)))
        return tree

    def both(self) -> Tree:
        tree = self.comparison()
        while self.take("&&"):
            other = self.comparison()
            tree = made("select", tree, made("select", other, number(1), number(0)), number(0))
        return tree

    def comparison(self) -> Tree:
        tree = self.sum()
        sign = self.take("<=", ">=", "==", "!=", "<", ">")
        if not sign:
            return tree
        other = self.sum()
        if sign in ("<", ">"):
            return made("less", *((tree, other) if sign == "<" else (other, tree)))
        if sign in ("<=", ">="):
            return made("not-more", *((tree, other) if sign == "<=" else (other, tree)))
        equal = made("mul", made("not-more", tree, other), made("not-more", other, tree))
        return equal if sign == "==" else made("sub", number(1), equal)

    def sum(self) -> Tree:
        tree = self.product()
        while sign := self.take("+", "-"):
            tree = made("add" if sign == "+" else "sub", tree, self.product())
        return tree

    def product(self) -> Tree:
        tree = self.signed()
        while sign := self.take("*", "/"):
            tree = made("mul" if sign == "*" else "div", tree, self.signed())
        return tree

    def signed(self) -> Tree:
        if self.take("-"):
            return made("neg", self.signed())
        if self.take("+"):
            return self.signed()
        if self.take("!"):
            return made("select", self.signed(), number(0), number(1))
        base = self.atom()
        if self.take("^", "**"):
            return made("pow", base, self.signed())
        return base

    def atom(self) -> Tree:
        for opening, closing in (("(", ")"), ("{", "}")):
            if self.take(opening):
                tree = self.choice()
                self.want(closing)
                return tree
        if self.position >= len(self.tokens):
            raise ReadingError("an expression ends too soon")
        kind, what = self.tokens[self.position]
        self.position += 1
        if kind == "number":
            return number(what)
        if kind == "name":
            return self.named(what)
        raise ReadingError(f"{what} in an expression")

    def named(self, name: str) -> Tree:
        if name in ("v", "i") and self.take("("):
            return self.probed(name)
        if name in _FUNCTIONS and self.take("("):
            operands = [self.choice()]
            while self.take(","):
                operands.append(self.choice())
            self.want(")")
            if len(operands) != _FUNCTIONS[name]:
                raise ReadingError(f"{name} takes {_FUNCTIONS[name]} operands")
            return made("ln" if name == "log" else name, *operands)
        if name in self.known:
            return number(self.known[name])
        if name == "pi":
            return number(math.pi)
        raise ReadingError(f"nothing is known of {name} in an expression")

    def probed(self, letter: str) -> Tree:
        """`v(a)`, `v(a,b)` or `i(x)`, what stands in the brackets taken as names."""
        names = []
        while True:
            kind, what = self.tokens[self.position] if self.position < len(self.tokens) else ("", 0)
            if kind not in ("name", "number"):
                raise ReadingError(f"{letter}() of {what}")
            names.append(what if kind == "name" else f"{what:g}")
            self.position += 1
            if not self.take(","):
                break
        self.want(")")
        variables = [("var", f"{letter} {name}") for name in names]
        if len(variables) > (2 if letter == "v" else 1):
            raise ReadingError(f"{letter}() of {names}")
        ground = [number(0) if one == ("var", "v 0") else one for one in variables]
        return made("sub", *ground) if len(ground) == 2 else ground[0]


def expression(text: str, known: Mapping[str, float]) -> Tree:
    """The tree of a SPICE expression; braces count as brackets, `known` are the parameters.

    Variables are named `v node` and `i element`, in small letters. ReadingError where the solver
    has no reading of it.
    """
    try:
        return _Parser(text, known).whole()
    except RecursionError:
        raise ReadingError("an expression is nested too deeply") from None


def value(text: str, known: Mapping[str, float]) -> float:
    """The number of a SPICE value, parameters in braces allowed. ReadingError if it is none."""
    plain = _plain(text)
    if plain is None:
        tree = expression(text, known)
        plain = float(tree[1]) if tree[0] == "num" else math.nan
    if not math.isfinite(plain):
        raise ReadingError(f"{text} is no number")
    return plain


@functools.lru_cache(maxsize=4096)
def _plain(text: str) -> float | None:
    """The number of a text that is one and nothing else; None for an expression."""
    match = _TOKEN.fullmatch(text.strip())
    if match is None or not match["number"]:
        return None
    return float(match["number"]) * (SCALES[match["scale"].lower()] if match["scale"] else 1.0)


def put(tree: Tree, trees: Mapping[str, Tree]) -> Tree:
    """The tree with some variables replaced by trees."""
    if tree[0] == "num":
        return tree
    if tree[0] == "var":
        return trees.get(tree[1], tree)
    return made(tree[0], *(put(one, trees) if isinstance(one, tuple) else one for one in tree[1:]))


def variables(tree: Tree) -> tuple[str, ...]:
    """The names of a tree's variables, each once, in the order in which they come."""
    if tree[0] == "num":
        return ()
    if tree[0] == "var":
        return (tree[1],)
    return tuple(dict.fromkeys(name for one in tree[1:] for name in variables(one)))


def affine(tree: Tree) -> tuple[dict[str, float], float] | None:
    """Coefficients by variable and the constant of a tree that is a straight sum; None if not."""
    op = tree[0]
    if op == "num":
        return {}, tree[1]
    if op == "var":
        return {tree[1]: 1.0}, 0.0
    if op not in ("add", "sub", "neg", "mul"):
        return None
    parts = [affine(one) for one in tree[1:]]
    if None in parts:
        return None
    (first, constant), *rest = [part for part in parts if part is not None]
    if op == "neg":
        return {name: -c for name, c in first.items()}, -constant
    ((second, other),) = rest
    if op == "mul":
        if first and second:
            return None
        one, factor = (second, constant) if not first else (first, other)
        return {n: factor * c for n, c in one.items()}, constant * other
    sign = 1.0 if op == "add" else -1.0
    names = dict.fromkeys((*first, *second))
    sums = {n: first.get(n, 0.0) + sign * second.get(n, 0.0) for n in names}
    return sums, constant + sign * other


@dataclass(frozen=True, slots=True)
class Row:
    """An expression as operations in a row.

    Values are numbered: variables first, then `constants`, then results. `operations` holds code
    and three operands of each, flat; the last result is the expression's value.
    """

    names: tuple[str, ...]
    constants: tuple[float, ...]
    operations: tuple[int, ...]


def row(tree: Tree) -> Row:
    """The tree's operations, equal ones once. O(operations)."""
    names = variables(tree)
    constants: dict[float, int] = {}
    order: dict[Tree, None] = {}

    def walk(one: Tree) -> None:
        if one[0] == "num":
            constants.setdefault(one[1], len(constants))
        elif one[0] != "var" and one not in order:
            for operand in one[1:]:
                walk(operand)
            order[one] = None

    walk(tree)
    places: dict[Tree, int] = {("var", name): n for n, name in enumerate(names)}
    places |= {number(c): len(names) + n for c, n in constants.items()}
    places |= {one: len(names) + len(constants) + n for n, one in enumerate(order)}
    operations: list[int] = []
    for one in order:
        operands = [places[operand] for operand in one[1:]]
        operations += [CODES[one[0]], *operands, *[0] * (3 - len(operands))]
    return Row(names, tuple(constants), tuple(operations))
