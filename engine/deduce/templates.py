"""What a rule concludes is written as templates; here their variables are put in.

`$x` alone is the value itself; `{x}` or `{x:.1f}` inside a text is the value as text; `= x * 2`
is worked out; `{= x * 2:.1f}` is worked out inside a text. Lists and mappings are filled within.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from engine.deduce.expressions import evaluate
from engine.deduce.facts import Scalar

_WORKED_OUT = re.compile(r"\{= *([^{}:]+?)(:[^{}]*)?\}")


def fill(wanted: Any, values: Mapping[str, Scalar]) -> Any:
    """The template with its variables put in. ValueError or KeyError for what can't be filled."""
    if isinstance(wanted, str):
        return _filled_text(wanted, values)
    if isinstance(wanted, Mapping):
        return {str(key): fill(inner, values) for key, inner in wanted.items()}
    if isinstance(wanted, (list, tuple)):
        return [fill(inner, values) for inner in wanted]
    return wanted


def _filled_text(wanted: str, values: Mapping[str, Scalar]) -> Scalar:
    if wanted.startswith("= "):
        return float(evaluate(wanted[2:], values))
    if wanted.startswith("$"):
        return values[wanted[1:]]
    if "{" not in wanted:
        return str(wanted)

    def worked_out(found: re.Match[str]) -> str:
        return format(_Figure(evaluate(found[1], values)), (found[2] or ":")[1:])

    text = _WORKED_OUT.sub(worked_out, wanted)
    return text.format(**{name: _text(value) for name, value in values.items()})


class _Figure(float):
    """A number that prints without needless zeros where a text asks for no other form."""

    def __format__(self, form: str) -> str:
        return format(float(self), form or "g")


def _text(value: Scalar) -> str | _Figure:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return _Figure(value)
    return str(value)
