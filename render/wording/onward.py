"""What a verdict says of going on to the part, in words: likeliest parts, advice, its sum."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from render.wording.odds import percent

_MOST = 4
_LEAST_SHOWN = 0.05
_AS_GOOD_AS_SURE = 0.99
_ALWAYS_MENDED = 0.95


def likeliest(going_on: Mapping[str, Any], most: int = _MOST) -> str:
    """The likeliest parts with their odds; a part that is all but sure stands without."""
    parts = [(part, float(p)) for part, p in going_on["parts"] if float(p) >= _LEAST_SHOWN][:most]
    return ", ".join(
        str(part) if p >= _AS_GOOD_AS_SURE else f"{part} {percent(p)}"
        for part, p in parts
    )


def advice(going_on: Mapping[str, Any]) -> str:
    """What going on takes; where the unit's worth was told, go on or stop, with both sides of the
    sum."""
    mend = _whole(going_on["repair_minutes"])
    takes = f"{_finding(going_on)}{mend} min to mend it{_seldom(going_on)}"
    if not going_on.get("advice"):
        return takes
    return f"{going_on['advice']}: {takes}; the unit is worth {_whole(going_on['worth'])}"


def _finding(going_on: Mapping[str, Any]) -> str:
    find = _whole(going_on["minutes"])
    return f"{find} min to find it, " if find != "0" else "nothing more to find, "


def _seldom(going_on: Mapping[str, Any]) -> str:
    """How often that mends the unit, where it does not nearly always."""
    share = float(going_on["saved"])
    if share >= _ALWAYS_MENDED:
        return ""
    return f" (mended in {max(1, round(share * 100))} of 100)"


def _whole(minutes: float) -> str:
    return f"{float(minutes):.0f}"
