"""Readings that follow a good unit's or a marking, as the audit knows it, in plain numbers.

Nothing here is shared with `engine.evidence.following` but the theory written there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from engine.audit.densities import NARROWEST, Scale, spread_of

# Those of `engine.evidence.following`.
ALIKE, SAME_MAKE, EXPLAINS, FEW = 0.05, 0.05, 0.5, 4
Places = Sequence[float | None]


@dataclass(frozen=True, slots=True)
class Reference:
    """How far this unit's figure lies above each design's, the designs' sound places, and whether
    the figure is a good unit's reading."""

    offsets: Places
    sound: Places
    is_good: bool


def reference(
    scale: Scale,
    sound: Sequence[float | None],
    good: float | None,
    markings: Mapping[str, tuple[float, Sequence[float | None]]],
    draws: Sequence[float],
) -> Reference | None:
    """What readings of a test go with; `markings` hold this unit's and each design's by part."""
    places = _places(scale, sound)
    if good is not None:
        if not math.isfinite(good) or all(place is None for place in places):
            return None
        return Reference(_less(scale.place(good), places), places, is_good=True)
    if sum(place is not None for place in places) < FEW:
        return None
    best, least = None, EXPLAINS * _spread(places, draws)
    for _, (value, own) in sorted(markings.items()):
        if not value > 0.0 or sum(bool(one) for one in own) < FEW:
            continue
        offsets = [math.log(value / one) if one else None for one in own]
        shift = _plus(places, offsets)
        if sum(one is not None for one in shift) >= FEW and _spread(shift, draws) < least:
            best, least = Reference(offsets, places, is_good=False), _spread(shift, draws)
    return best


def follow(
    scale: Scale, values: Sequence[float | None], by: Reference, draws: Sequence[float]
) -> list[tuple[float | None, float, bool]]:
    """Place, spread and whether it is a good unit's reading, by design."""
    places = _places(scale, values)
    spread = max(NARROWEST, _spread(places, draws))
    table: list[tuple[float | None, float, bool]] = [(place, spread, False) for place in places]
    shift = _plus(places, by.offsets)
    for side in (True, False):
        group = [
            n for n, (one, own) in enumerate(zip(places, by.sound, strict=True))
            if shift[n] is not None and _is_alike(one, own) is side
        ]  # fmt: skip
        if side and by.is_good:
            for n in group:
                table[n] = (shift[n], max(NARROWEST, SAME_MAKE), True)
        elif len(group) >= FEW:
            weights = [draws[n] for n in group]
            stay = spread_of([_number(places[n]) for n in group], weights)
            go = spread_of([_number(shift[n]) for n in group], weights)
            least = SAME_MAKE if by.is_good else NARROWEST
            for n in group:
                table[n] = (
                    (shift[n], max(least, go), False) if go < stay
                    else (places[n], max(NARROWEST, stay), False)
                )  # fmt: skip
    return table


def _is_alike(one: float | None, own: float | None) -> bool:
    return one is not None and own is not None and abs(one - own) <= math.log(1.0 + ALIKE)


def _places(scale: Scale, values: Sequence[float | None]) -> list[float | None]:
    return [
        None if one is None or not math.isfinite(one) else scale.place(one) for one in values
    ]


def _less(one: float, places: Places) -> list[float | None]:
    return [None if place is None else one - place for place in places]


def _plus(places: Places, offsets: Places) -> list[float | None]:
    return [
        None if place is None or offset is None else place + offset
        for place, offset in zip(places, offsets, strict=True)
    ]


def _spread(places: Places, draws: Sequence[float]) -> float:
    pairs = [(p, w) for p, w in zip(places, draws, strict=True) if p is not None]
    return spread_of([p for p, _ in pairs], [w for _, w in pairs])


def _number(place: float | None) -> float:
    return math.nan if place is None else place
