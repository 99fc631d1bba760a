"""What comes where a step can't be done, in words: another check, or a remedy, and its minutes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

_NEXT_TO_NOTHING = 0.5


def words(model: Mapping[str, Any], node: Mapping[str, Any]) -> str:
    """What a chart's test node says under `instead`, without a stop at the end; empty where it says
    nothing.

    `model` is the model document; KeyError where it lacks what is named.
    """
    told = node.get("instead")
    if not told:
        return ""
    kind, name = ("tests", told.get("test")) if told.get("test") else ("remedies", told["remedy"])
    found = {item["id"]: item for item in model[kind]}[name]
    says = str(found.get("says") or name).strip().rstrip(".")
    return f"{says} ({_more(float(told['minutes']))})"


def _more(minutes: float) -> str:
    return "no longer" if minutes < _NEXT_TO_NOTHING else f"{minutes:.0f} min more"
