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


def fill(template: Any, values: Mapping[str, Scalar]) -> Any:
    """The template with its variables put in. ValueError or KeyError for what can't be filled."""
    if isinstance(template, str):
        return _filled_text(template, values)
    if isinstance(template, Mapping):
        return {str(key): fill(inner, values) for key, inner in template.items()}
    if isinstance(template, (list, tuple)):
        return [fill(inner, values) for inner in template]
    return template


def _filled_text(template: str, values: Mapping[str, Scalar]) -> Scalar:
    if template.startswith("= "):
        return float(evaluate(template[2:], values))
    if template.startswith("$"):
        return values[template[1:]]
    if "{" not in template:
        return str(template)

    def worked_out(match: re.Match[str]) -> str:
        return format(_Figure(evaluate(match[1], values)), (match[2] or ":")[1:])

    text = _WORKED_OUT.sub(worked_out, template)
    return text.format(**{name: _text(value) for name, value in values.items()})


class _Figure(float):
    """A number that prints without needless zeros where a text asks for no other form."""

    def __format__(self, form: str) -> str:
        return format(float(self), form or "g")


def _text(value: Scalar) -> str | _Figure:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return _Figure(value)
    return str(value)
