"""A netlist flattened into what the kernel solves: elements between numbered variables.

Variable 0 is ground; the others are node volts and branch amperes. A subcircuit with its parameters
is expanded once and kept, since circuits that differ in one part share all others. What parameters
settle is settled here: a behavioural source that has come down to a plain resistance is a resistor,
one that is a straight sum goes into the constant part of the matrix, a source that drives nothing
is gone.
"""

from __future__ import annotations

import contextlib
import functools
from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import IntEnum

from engine.solver import cards
from engine.solver.cards import Deck, Subcircuit
from engine.solver.expressions import (
    ReadingError,
    Row,
    Tree,
    affine,
    expression,
    made,
    put,
    row,
    value,
    variables,
)


class Kind(IntEnum):
    """What an element is, numbered as in the kernel's `network.h`."""

    RESISTOR = 1
    CAPACITOR = 2
    INDUCTOR = 3
    DIODE = 4
    VOLTS = 5
    AMPERES = 6
    STRAIGHT_AMPERES = 7
    STRAIGHT_VOLTS = 8
    CURVED_AMPERES = 9
    CURVED_VOLTS = 10


NOWHERE = -1
"""In place of a branch: the element's current is nobody's business."""
_DIODE = {
    "is": 1e-14, "n": 1.0, "rs": 0.0, "bv": 0.0, "ibv": 1e-3, "nbv": 0.0, "cjo": 0.0, "vj": 1.0,
    "m": 0.5,
}  # fmt: skip
"""A diode model's figures and what SPICE takes for those not given (0: no breakdown; NBV as N)."""
_DEEPEST = 20
"""How deep subcircuits may stand in each other, lest one that holds itself goes on for ever."""


@dataclass(frozen=True, slots=True)
class Primitive:
    """One element between variables of its scope: its kind, ends, branch and figures.

    `names` are the variables that `row` or the coefficients (in `figures`) are about.
    """

    kind: Kind
    a: int
    b: int
    branch: int
    figures: tuple[float, ...]
    names: tuple[int, ...] = ()
    row: Row | None = None


@dataclass(frozen=True, slots=True)
class Expansion:
    """A subcircuit's elements: variables 1 to `ports` are its ports, then come its own."""

    ports: int
    branches: tuple[bool, ...]
    """Of each variable of its own: whether it is a branch's amperes and no node's volts."""
    elements: tuple[Primitive, ...]


@dataclass(frozen=True, slots=True)
class Network:
    """A circuit in the kernel's arrays, and the variable of each node at the top level."""

    elements: bytes
    figures: bytes
    programs: bytes
    branches: bytes
    node_of: Mapping[str, int]


@dataclass(slots=True)
class _Scope:
    """One level of a netlist on its way to elements."""

    book: _Book
    known: Mapping[str, float]
    models: Mapping[str, tuple[str, Mapping[str, str]]]
    variable_of: dict[str, int]
    branches: list[bool] = field(default_factory=list)
    elements: list[Primitive] = field(default_factory=list)
    ports: int = 0

    def node(self, name: str) -> int:
        """The variable of a node, a new one where the name is new."""
        if name not in self.variable_of:
            self.variable_of[name] = self.own(False)
        return self.variable_of[name]

    def own(self, is_branch: bool) -> int:
        """A new variable of the scope's own."""
        self.branches.append(is_branch)
        return self.ports + len(self.branches)


class _Book:
    """The subcircuits of a deck and every expansion so far."""

    def __init__(self, subcircuits: Mapping[str, Subcircuit], lines: Sequence[str]) -> None:
        self.subcircuits = subcircuits
        self.lines = tuple(lines)
        self.models = cards.models(line for line in lines if line.startswith(".model"))
        self.expansion_of: dict[tuple[str, tuple[str, ...]], Expansion] = {}

    def expansion(self, name: str, texts: Sequence[str], depth: int) -> Expansion:
        """The elements of a subcircuit with parameters, each of them a `name=number`."""
        key = (name, tuple(texts))
        if key not in self.expansion_of:
            part = self.subcircuits.get(name)
            if part is None or depth > _DEEPEST:
                raise ReadingError(f"no subcircuit {name}")
            known: dict[str, float] = {}
            for parameter, text in {**part.defaults, **cards.assignments(texts)}.items():
                known[parameter] = value(text, known)
            own = cards.models(line for line in part.lines if line.startswith(".model"))
            ports = {port: n for n, port in enumerate(part.ports, 1)}
            scope = _Scope(self, known, {**self.models, **own}, {**ports, "0": 0}, ports=len(ports))
            _fill(scope, [line for line in part.lines if line[0] != "."], depth)
            self.expansion_of[key] = _trimmed(scope)
        return self.expansion_of[key]


@functools.lru_cache(maxsize=16)
def _book(text: str) -> _Book:
    deck = cards.deck(text)
    return _Book(deck.subcircuits, deck.lines)


def network(text: str, nodes: Iterable[str] = ()) -> Network:
    """The network of a netlist without title and end. ReadingError where it holds something else.

    It has the given nodes, too, be it that nothing reaches them.

    The text up to the last subcircuit is read once; O(elements) for the rest.
    """
    cut = text.rfind("\n.ends")
    cut = text.find("\n", cut + 1) + 1 if cut >= 0 else 0
    book = _book(text[:cut])
    rest = cards.deck(text[cut:]) if cut else Deck({}, ())
    if not cut:
        whole = cards.deck(text)
        book, rest = _Book({}, ()), Deck({}, whole.lines)
    lines = (*book.lines, *rest.lines)
    known: dict[str, float] = {}
    elements = []
    for line in lines:
        if line[0] != ".":
            elements.append(line)
        elif line.startswith(".param"):
            with _as_card(line):
                for name, number in cards.assignments(cards.words(line)).items():
                    known[name] = value(number, known)
        elif not line.startswith(".model"):
            raise ReadingError(f"no reading of {line}")
    models = cards.models(line for line in rest.lines if line.startswith(".model"))
    scope = _Scope(book, known, {**book.models, **models}, {"0": 0, "gnd": 0})
    _fill(scope, elements, 0)
    for node in nodes:
        scope.node(node.lower())
    return _written(scope)


def _fill(scope: _Scope, lines: Sequence[str], depth: int) -> None:
    """Adds the elements of the lines to the scope."""
    behaviours: list[tuple[str, str, str, str, Tree]] = []
    sources: list[tuple[str, str, str, str]] = []
    for line in lines:
        with _as_card(line):
            _take(scope, line, depth, behaviours, sources)
    _sources(scope, sources, behaviours)


@contextlib.contextmanager
def _as_card(line: str) -> Iterator[None]:
    """ReadingError for a card with too few words on it, or numbers beyond all bounds."""
    try:
        yield
    except ReadingError:
        raise
    except (ValueError, IndexError, ArithmeticError) as wrong:
        raise ReadingError(f"no reading of {line}") from wrong


def _take(
    scope: _Scope,
    line: str,
    depth: int,
    behaviours: list[tuple[str, str, str, str, Tree]],
    sources: list[tuple[str, str, str, str]],
) -> None:
    """Adds one card: to the scope, or to those that wait until all are known."""
    letter = line[0]
    if letter == "x":
        words = line.split()
        plain = [word for word in words[1:] if "=" not in word]
        texts = _numbers(scope, words[1 + len(plain) :])
        part = scope.book.expansion(plain[-1], texts, depth + 1)
        nodes = [scope.node(name) for name in plain[:-1]]
        if len(nodes) != part.ports:
            raise ReadingError(f"{words[0]} has {len(nodes)} nodes, not {part.ports}")
        first = scope.ports + len(scope.branches) + 1
        scope.branches += part.branches
        variable = (0, *nodes, *range(first, first + len(part.branches)))
        scope.elements += [_moved(one, variable) for one in part.elements]
    elif letter in "rcl":
        _passive(scope, line)
    elif letter == "d":
        _diode(scope, line)
    elif letter in "vi":
        name, a, b, text = (*line.split(None, 3), "0")[:4]
        sources.append((name, a, b, text))
    elif letter in "befgh":
        behaviours.append(_behaviour(scope, line))
    else:
        raise ReadingError(f"no reading of {line}")


def _numbers(scope: _Scope, texts: Sequence[str]) -> list[str]:
    if not any("{" in text for text in texts):
        return list(texts)
    return [
        f"{name}={value(text, scope.known)!r}" for name, text in cards.assignments(texts).items()
    ]


def _moved(one: Primitive, variable: Sequence[int]) -> Primitive:
    return Primitive(
        one.kind, variable[one.a], variable[one.b],
        variable[one.branch] if one.branch > 0 else one.branch, one.figures,
        tuple(variable[name] for name in one.names), one.row,
    )  # fmt: skip


def _passive(scope: _Scope, line: str) -> None:
    name, first, second, *texts = cards.words(line)
    start = cards.assignments(texts)
    plain = [text for text in texts if "=" not in text]
    if len(plain) != 1 or set(start) - {"ic"}:
        raise ReadingError(f"no reading of {line}")
    a, b, figure = scope.node(first), scope.node(second), value(plain[0], scope.known)
    begin = value(start["ic"], scope.known) if start else 0.0
    if name[0] == "r":
        if not figure:
            raise ReadingError(f"{name} has no ohms")
        scope.elements.append(Primitive(Kind.RESISTOR, a, b, NOWHERE, (1 / figure,)))
    elif name[0] == "c":
        scope.elements.append(Primitive(Kind.CAPACITOR, a, b, NOWHERE, (figure, begin)))
    else:
        scope.elements.append(Primitive(Kind.INDUCTOR, a, b, scope.own(True), (figure, begin)))


def _diode(scope: _Scope, line: str) -> None:
    _, first, second, model, *more = cards.words(line)
    kind, texts = scope.models.get(model, ("", {}))
    if kind != "d" or more or set(texts) - set(_DIODE):
        raise ReadingError(f"no reading of {line}")
    figures = {**_DIODE, **{name: value(text, scope.known) for name, text in texts.items()}}
    figures["nbv"] = figures["nbv"] or figures["n"]
    a, b = scope.node(first), scope.node(second)
    scope.elements.append(Primitive(Kind.DIODE, a, b, NOWHERE, tuple(figures.values())))


def _behaviour(scope: _Scope, line: str) -> tuple[str, str, str, str, Tree]:
    """Name, nodes, `i` or `v`, and the tree of what it gives."""
    name, a, b, text = line.split(None, 3)
    if name[0] == "b":
        what, _, formula = text.partition("=")
        if what.strip() not in ("i", "v"):
            raise ReadingError(f"no reading of {line}")
        return name, a, b, what.strip(), expression(formula, scope.known)
    words = cards.words(text)
    if len(words) != (2 if name[0] in "fh" else 3):
        raise ReadingError(f"no reading of {line}")
    probe = f"i({words[0]})" if name[0] in "fh" else f"v({words[0]},{words[1]})"
    tree = made("mul", expression(words[-1], scope.known), expression(probe, {}))
    return name, a, b, "v" if name[0] in "eh" else "i", tree


def _sources(
    scope: _Scope,
    sources: Sequence[tuple[str, str, str, str]],
    behaviours: Sequence[tuple[str, str, str, str, Tree]],
) -> None:
    currents = {f"i {name}": tree for name, *_, what, tree in behaviours if what == "i"}
    trees = [put(tree, currents) for *_, tree in behaviours]
    named = {name for tree in trees for name in variables(tree)}
    with_volts = {name for name, *_ in sources if name[0] == "v"}
    with_volts |= {name for name, *_, what, _ in behaviours if what == "v"}
    for name in sorted(with_volts):
        if f"i {name}" in named:
            scope.variable_of[f"i {name}"] = scope.own(True)
    for name, first, second, text in sources:
        a, b, figures = scope.node(first), scope.node(second), cards.course(text, scope.known)
        if name[0] == "i":
            scope.elements.append(Primitive(Kind.AMPERES, a, b, NOWHERE, figures))
        else:
            branch = _branch(scope, name, a, b)
            scope.elements.append(Primitive(Kind.VOLTS, a, b, branch, figures))
    for (name, first, second, what, _), tree in zip(behaviours, trees, strict=True):
        a, b = scope.node(first), scope.node(second)
        branch = _branch(scope, name, a, b) if what == "v" else NOWHERE
        scope.elements.append(_curved(scope, what, a, b, branch, tree))


def _branch(scope: _Scope, name: str, a: int, b: int) -> int:
    """The variable of a source's amperes; none where nobody asks and one end is ground."""
    if f"i {name}" in scope.variable_of:
        return scope.variable_of[f"i {name}"]
    return NOWHERE if 0 in (a, b) else scope.own(True)


def _curved(scope: _Scope, what: str, a: int, b: int, branch: int, tree: Tree) -> Primitive:
    def variable(name: str) -> int:
        if name.startswith("v "):
            return scope.node(name[2:])
        if name not in scope.variable_of:
            raise ReadingError(f"nothing carries {name}")
        return scope.variable_of[name]

    straight = affine(tree)
    if straight is None:
        line = row(tree)
        kind = Kind.CURVED_AMPERES if what == "i" else Kind.CURVED_VOLTS
        names = tuple(variable(name) for name in line.names)
        return Primitive(kind, a, b, branch, (), names, line)
    coefficients = {variable(name): c for name, c in straight[0].items()}
    if what == "i" and not straight[1] and _conducts(coefficients, a, b):
        siemens = coefficients[a] if a else -coefficients[b]
        return Primitive(Kind.RESISTOR, a, b, NOWHERE, (siemens,))
    kind = Kind.STRAIGHT_AMPERES if what == "i" else Kind.STRAIGHT_VOLTS
    figures = (straight[1], *coefficients.values())
    return Primitive(kind, a, b, branch, figures, tuple(coefficients))


def _conducts(coefficients: Mapping[int, float], a: int, b: int) -> bool:
    """Whether a current is a plain conductance's between its own ends."""
    own = {one for one in (a, b) if one}
    return set(coefficients) == own and len(own) > 0 and (
        len(own) == 1 or coefficients[a] == -coefficients[b]
    )  # fmt: skip


def _trimmed(scope: _Scope) -> Expansion:
    """The scope's elements without sources on nodes of its own that nothing else touches."""
    touched = [0] * (scope.ports + len(scope.branches) + 1)
    for one in scope.elements:
        for end in {one.a, one.b, *one.names}:
            touched[end] += 1
    kept = tuple(
        one
        for one in scope.elements
        if not (
            one.kind == Kind.VOLTS
            and one.branch == NOWHERE
            and touched[one.a + one.b] == 1
            and one.a + one.b > scope.ports
        )
    )
    used = {n for one in kept for n in (one.a, one.b, one.branch, *one.names)}
    own = range(scope.ports + 1, scope.ports + len(scope.branches) + 1)
    kept_own = [one for one in own if one in used]
    places = {one: n for n, one in enumerate(kept_own, scope.ports + 1)}
    variable = [*range(scope.ports + 1), *(places.get(one, 0) for one in own)]
    return Expansion(
        scope.ports,
        tuple(scope.branches[one - scope.ports - 1] for one in kept_own),
        tuple(_moved(one, variable) for one in kept),
    )


def _written(scope: _Scope) -> Network:
    elements: list[int] = []
    figures: list[float] = []
    programs: list[int] = []
    for one in scope.elements:
        if one.kind < Kind.STRAIGHT_AMPERES:
            elements += (one.kind, one.a, one.b, one.branch, len(figures))
            figures += one.figures
            continue
        elements += (one.kind, one.a, one.b, one.branch, len(programs))
        operations = one.row.operations if one.row else ()
        constants = one.row.constants if one.row else one.figures
        programs += (len(one.names), len(constants), len(operations) // 4, len(figures))
        programs += one.names
        programs += operations
        figures += constants
    return Network(
        array("i", elements).tobytes(), array("d", figures).tobytes(),
        array("i", programs).tobytes(), bytes(scope.branches), dict(scope.variable_of),
    )  # fmt: skip
