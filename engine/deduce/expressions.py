"""The small arithmetic that rules may use after `= `: numbers, variables, + - * / **, functions.

The text is parsed by Python's own parser into a tree that is walked here; nothing is executed.
"""

from __future__ import annotations

import ast
import math
import operator
from collections.abc import Callable, Mapping

FUNCTIONS: Mapping[str, Callable[..., float]] = {
    "min": min,
    "max": max,
    "abs": abs,
    "sqrt": math.sqrt,
    "log": math.log,
    "round": round,
}

_BINARY: Mapping[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}


def evaluate(text: str, variables: Mapping[str, object]) -> float:
    """The value of an expression; ValueError says in words what can't be worked out."""
    try:
        tree = ast.parse(text.replace("$", ""), mode="eval")
    except SyntaxError as error:
        raise ValueError(f"'{text}' is not an expression: {error.msg}") from error
    except (ValueError, RecursionError, MemoryError) as error:
        raise ValueError("an expression is nested too deeply, or no text") from error
    try:
        result = float(_value(tree.body, variables, text))
    except RecursionError as error:
        raise ValueError("an expression is nested too deeply") from error
    except OverflowError as error:
        raise ValueError(f"'{text}' can't be worked out: it grows beyond all bounds") from error
    except ZeroDivisionError as error:
        raise ValueError(f"'{text}' can't be worked out: division by zero") from error
    except TypeError as error:
        raise ValueError(f"'{text}' can't be worked out: {error}") from error
    if not math.isfinite(result):
        raise ValueError(f"'{text}' can't be worked out: it gives {result}, which is no number")
    return result


def _value(node: ast.expr, variables: Mapping[str, object], text: str) -> float:
    match node:
        case ast.Constant(value=int() | float() as number):
            return float(number)  # whole numbers would grow without end: 9**9**9
        case ast.Name(id=name):
            if name not in variables:
                raise ValueError(f"'{text}' uses {name}, which no condition of the rule binds")
            value = variables[name]
            if isinstance(value, bool) or not isinstance(value, (int, float)):
                raise ValueError(f"'{text}' needs a number for {name}, but it is {value!r}")
            return float(value)
        case ast.BinOp(left=left, op=op, right=right) if type(op) in _BINARY:
            return _BINARY[type(op)](_value(left, variables, text), _value(right, variables, text))
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return -_value(operand, variables, text)
        case ast.Call(func=ast.Name(id=name), args=args, keywords=[]) if name in FUNCTIONS:
            return _call(name, [_value(arg, variables, text) for arg in args], text)
    raise ValueError(
        f"'{text}' may use only numbers, variables, + - * / **, and {', '.join(FUNCTIONS)}"
    )


def _call(name: str, values: list[float], text: str) -> float:
    try:
        return FUNCTIONS[name](*values)
    except ValueError as error:  # a root or logarithm of what has none
        raise ValueError(f"'{text}' can't be worked out: {name}: {error}") from error
