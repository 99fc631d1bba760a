"""Readings that follow a figure known of this very unit: a good unit's reading, a marking.

A sampled design's reading is moved by how far this unit's figure lies from the design's own, on the
test's scale, where readings of all designs then lie closer together: a fault that leaves a reading
as it is leaves it as the good unit's, one that halves it halves that; ohms go with the part's own
marking, a rail with its clamp's. Elsewhere they stay, as where a fault pulls each make to nothing.
This is regression on one figure with a slope of 0 or 1: a slope fitted freely to some tens of
designs would say more than they know (B. Efron, C. Morris, J. Am. Stat. Assoc. 70, 1975, on
shrinkage).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.evidence.density import NARROWEST, spread_of
from engine.evidence.scale import Floats, Scale

ALIKE = 0.05
"""Within a twentieth of what the sound sample reads, a fault leaves the reading as it is."""
SAME_MAKE = 0.05
"""How far two units of one make read apart, as a share: the usual tolerance of their parts."""
EXPLAINS = 0.5
"""A marking counts for a test where sound readings less it spread this much less. Our choice."""
FEW = 4
"""Of fewer designs than this no spread is told. Our choice."""


@dataclass(frozen=True, slots=True)
class Reference:
    """How far this unit's figure lies above each design's on the scale, [N], NaN where the design
    has none; `sound` [N] are the designs' sound readings there; `least` is how far readings lie
    apart that follow it."""

    offsets: Floats
    sound: Floats
    least: float


def by_good_unit(on: Scale, sound: Sequence[float | None], good: float) -> Reference | None:
    """The reference of a good unit's reading (base unit); None where the designs have none."""
    places = places_of(on, sound)
    if not math.isfinite(good) or not np.isfinite(places).any():
        return None
    return Reference(on.at(good) - places, places, max(NARROWEST, SAME_MAKE))


def by_marking(
    on: Scale,
    sound: Sequence[float | None],
    values: Mapping[str, Sequence[float | None]],
    markings: Mapping[str, float],
    draws: Floats,
) -> Reference | None:
    """The reference of the marking that explains the sound readings best, None where none does.

    `values` are the designs' markings by part, `markings` this unit's, base units. O(parts x N).
    """
    places = places_of(on, sound)
    stands = np.isfinite(places)
    if stands.sum() < FEW:
        return None
    best, least = None, EXPLAINS * spread_of(places[stands], draws[stands])
    for part, value in sorted(markings.items()):
        own = np.array([one or math.nan for one in values.get(part, ())])
        if len(own) != len(places) or np.isfinite(own).sum() < FEW or not value > 0.0:
            continue
        offsets = math.log(value) - np.log(own)
        both = stands & np.isfinite(offsets)
        if both.sum() < FEW:
            continue
        spread = spread_of((places + offsets)[both], draws[both])
        if spread < least:
            best, least = Reference(offsets, places, NARROWEST), spread
    return best


def follow(
    on: Scale, values: Sequence[float | None], reference: Reference, draws: Floats
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """[N] places of a fault's readings on the scale, moved where they follow, their spreads, and
    which of them are a good unit's reading: those hold for a design that nobody sampled as well.

    Designs whose reading the fault leaves alike, and the others, each follow or stay as a group.
    """
    places = places_of(on, values)
    spreads = np.full(len(places), max(NARROWEST, _spread(places, draws)))
    near = math.log1p(ALIKE)
    alike = np.abs(places - reference.sound) <= near
    known = np.isfinite(places) & np.isfinite(reference.offsets)
    for group in (known & alike, known & ~alike):
        if not group.any():
            continue
        shift = places + reference.offsets
        stay, go = _spread(places[group], draws[group]), _spread(shift[group], draws[group])
        if (group & alike).any() and reference.least >= SAME_MAKE:
            places[group], spreads[group] = shift[group], reference.least
        elif group.sum() >= FEW and go < stay:
            places[group], spreads[group] = shift[group], max(reference.least, go)
        elif group.sum() >= FEW:
            spreads[group] = max(NARROWEST, stay)
    is_good = reference.least >= SAME_MAKE
    return places, spreads, known & alike if is_good else np.zeros(len(places), dtype=bool)


def padded(values: Sequence[float | None], count: int) -> tuple[float | None, ...]:
    """Readings of as many designs as there are: none of those beyond the last simulated one."""
    return (*values[:count], *(None,) * (count - len(values)))


def places_of(on: Scale, values: Sequence[float | None]) -> Floats:
    """[N] places of readings on a scale, NaN for none and for over range."""
    plain = np.array([math.nan if one is None else one for one in values])
    inside = np.clip(np.where(np.isfinite(plain), plain, on.low), on.low, on.high)
    places: Floats = np.where(np.isfinite(plain), np.arcsinh(inside / on.bend), math.nan)
    return places


def _spread(places: Floats, draws: Floats) -> float:
    stands = np.isfinite(places)
    return spread_of(places[stands], draws[stands])
