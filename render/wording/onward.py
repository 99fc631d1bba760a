"""What a verdict says of going on to the part, in words: likeliest parts, advice, its sum."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from render.wording.odds import percent

_MOST = 4
_LEAST_SHOWN = 0.05
_AS_GOOD_AS_SURE = 0.99
_ALWAYS_MENDED = 0.95


def likeliest(told: Mapping[str, Any], most: int = _MOST) -> str:
    """The likeliest parts with their odds; a part that is all but sure stands without."""
    shown = [(part, float(p)) for part, p in told["parts"] if float(p) >= _LEAST_SHOWN][:most]
    return ", ".join(
        str(part) if p >= _AS_GOOD_AS_SURE else f"{part} {percent(p)}"
        for part, p in shown
    )


def advice(told: Mapping[str, Any]) -> str:
    """Go on or stop, with the minutes of both sides of the sum."""
    return (
        f"{told['advice']}: {_finding(told)}{_whole(told['repair_minutes'])} min to mend it"
        f"{_seldom(told)}; the unit is worth {_whole(told['worth'])}"
    )


def short_advice(told: Mapping[str, Any]) -> str:
    """As `advice`, where there is little room."""
    find, mend = _whole(told["minutes"]), _whole(told["repair_minutes"])
    return f"{told['advice']}: {find} + {mend} min{_seldom(told)}, worth {_whole(told['worth'])}"


def _finding(told: Mapping[str, Any]) -> str:
    find = _whole(told["minutes"])
    return f"{find} min to find it, " if find != "0" else "nothing more to find, "


def _seldom(told: Mapping[str, Any]) -> str:
    """How often that mends the unit, where it does not nearly always."""
    saved = float(told["saved"])
    if saved >= _ALWAYS_MENDED:
        return ""
    return f" (mended in {max(1, round(saved * 100))} of 100)"


def _whole(minutes: float) -> str:
    return f"{float(minutes):.0f}"
