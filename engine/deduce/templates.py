"""What a rule concludes is written as templates; here their variables are put in.

`$x` alone is the value itself; `{x}` or `{x:.1f}` inside a text is the value as text; `= x * 2`
is worked out; `{= x * 2:.1f}` is worked out inside a text. Lists and mappings are filled within.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from engine.deduce.expressions import evaluate
from engine.deduce.facts import Fact, Scalar

MOST_LETTERS = 5_000
"""Of a text that a rule writes; the longest that shipped rules write has some hundreds."""
_OUT_OF_BOUNDS = re.compile(r"\{(?!=)\w*[^\w{}:][^{}]*\}|\{[^{}]*:[^{}]*\d{3}[^{}]*\}")
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
    if (wrong := _OUT_OF_BOUNDS.search(template)) is not None:
        raise ValueError(
            f"'{wrong[0]}' is no variable with the form of a number: a name, and behind a colon a "
            "width and places of two digits at most"
        )

    def worked_out(match: re.Match[str]) -> str:
        return format(_Figure(evaluate(match[1], values)), (match[2] or ":")[1:])

    text = _WORKED_OUT.sub(worked_out, template)
    text = text.format(**{name: _text(value) for name, value in values.items()})
    if len(text) > MOST_LETTERS:
        raise ValueError(f"it would be a text of {len(text)} letters, and {MOST_LETTERS} is most")
    return text


class _Figure(float):
    """A number that prints without needless zeros where a text asks for no other form."""

    def __format__(self, form: str) -> str:
        return format(float(self), form or "g")


def _text(value: Scalar) -> str | _Figure:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return _Figure(value)
    return str(value)


def conclusion(kind: str, template: Mapping[str, Any], values: Mapping[str, Scalar]) -> Fact:
    """The fact of a kind that a rule concludes; lists and mappings are its detail. As `fill`."""
    fields: list[tuple[str, Scalar]] = []
    detail: dict[str, object] = {}
    for name, pattern in template.items():
        content = fill(pattern, values)
        if isinstance(content, (str, int, float, bool)):
            fields.append((name, content))
        else:
            detail[name] = content
    return Fact(kind, tuple(fields), detail)
