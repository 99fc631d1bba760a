"""Sampled units weighed by what is known of the one at hand: markings, parts that are not there.

A unit counts by how near its markings are. However much is known, enough units must be left to
tell a spread from, so what is known counts for less where it would leave too few (tempering).
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from engine.circuit.dictionary import Cell, Dictionary, Sibling

ALIKE = 0.05
"""Markings this near (as a share) are one: half a step of E24, IEC 60063."""
KERNEL = 0.12
"""How far markings of like units lie apart on a scale of ratios, a step of E24. Our choice."""
REACH = 2.5
"""A marking that lies so many kernels from every unit's is one that the family doesn't speak of."""
ENOUGH, ENOUGH_SHARE = 6.0, 1 / 8
"""Markings never leave fewer effective units than this, or this share of a small batch: a reading's
spread can't be told from fewer. Our choice."""
MISMATCH = math.exp(-8.0)
"""What is left of a unit with another part or kind, where too few have the same. Our choice."""
NEGLIGIBLE = 0.02
"""Units under this share of the nearest one's weight drop out. Our choice."""


def narrow(
    dictionary: Dictionary,
    values: Mapping[str, float],
    absent: Mapping[str, bool] = MappingProxyType({}),
    kinds: Mapping[str, str] = MappingProxyType({}),
) -> tuple[float, ...]:
    """The units' weights once markings are known: values (base units), parts absent or not, kinds.

    A unit counts by how near its values are on a scale of ratios, and only with the same parts and
    kinds where enough units have those. Weights are tempered so that enough units count. Empty
    where a marking is far from every unit's: then the dictionary does not speak for this unit.
    Parts that no unit has a value for are passed over. O(units x markings).
    """
    units = dictionary.units
    marks = {part: v for part, v in values.items() if any(part in unit.values for unit in units)}
    for part, value in marks.items():
        if not any(_apart(unit, part, value) <= REACH * KERNEL for unit in units):
            return ()
    weights = [unit.weight for unit in units]
    # a kind that no unit has in the listed one's place is the listed one
    others = {p: k if any(u.kinds.get(p) == k for u in units) else "" for p, k in kinds.items()}
    differences = [_other_parts(unit, marks, absent, others) for unit in units]
    least = enough(len(units))
    exact = [w if count == 0 else 0.0 for w, count in zip(weights, differences, strict=True)]
    if effective(exact) >= least:
        weights = exact
    logs = [
        count * math.log(MISMATCH) - 0.5 * sum(d * d for d in _distances(unit, marks))
        for unit, count in zip(units, differences, strict=True)
    ]
    weights = tempered(weights, logs, least)
    most = max(weights, default=0.0)
    weights = [w if w >= NEGLIGIBLE * most else 0.0 for w in weights]
    total = sum(weights)
    return tuple(weight / total for weight in weights) if total > 0.0 else ()


def far_markings(dictionary: Dictionary, values: Mapping[str, float]) -> frozenset[str]:
    """The parts whose marking (base units) is far from every unit's: none has such a design."""
    units = dictionary.units
    known = {part for unit in units for part in unit.values}
    return frozenset(
        part
        for part, value in values.items()
        if (part in known and all(_apart(u, part, value) > REACH * KERNEL for u in units))
        or (part not in known and abs(value / dictionary.listed.get(part, value) - 1.0) > ALIKE)
    )


def far_parts(dictionary: Dictionary, absent: Mapping[str, bool]) -> frozenset[str]:
    """The parts with a marking that no sampled unit lacks though this one does, or the reverse."""
    units = dictionary.units
    known = {part for unit in units for part in unit.values}
    return frozenset(
        part
        for part, lacks in absent.items()
        if (part in known or part in dictionary.listed)
        and all((part in unit.absent) != lacks for unit in units)
    )


def _distances(unit: Sibling, values: Mapping[str, float]) -> Iterator[float]:
    """How many kernels the unit's markings lie off, of the parts that it has."""
    for part, value in values.items():
        if part in unit.values:
            yield _apart(unit, part, value) / KERNEL


def _apart(unit: Sibling, part: str, value: float) -> float:
    """The distance of two markings on a scale of ratios; infinite where the unit lacks the part."""
    own = unit.values.get(part, 0.0)
    if own == value:
        return 0.0
    return abs(math.log(own / value)) if own > 0.0 and value > 0.0 else math.inf


def _other_parts(
    unit: Sibling,
    values: Mapping[str, float],
    absent: Mapping[str, bool],
    kinds: Mapping[str, str],
) -> int:
    """How many parts the unit has otherwise than is known: there or not, of another kind."""
    others = sum((part in unit.absent) != gone for part, gone in absent.items())
    others += sum(part in unit.absent for part in values if part not in absent)
    return others + sum(unit.kinds.get(part, "") != kind for part, kind in kinds.items())


def enough(count: int) -> float:
    """How many effective units must be left of `count`, for a spread to be told from."""
    return min(ENOUGH, ENOUGH_SHARE * count)


def effective(weights: Sequence[float]) -> float:
    """How many equal units weights amount to, (sum w)^2 / sum w^2 (Kish)."""
    squares = sum(weight * weight for weight in weights)
    return sum(weights) ** 2 / squares if squares > 0.0 else 0.0


def tempered(weights: Sequence[float], logs: Sequence[float], least: float) -> list[float]:
    """Weights times exp(logs), the logs scaled down until `least` units count: by bisection."""

    def at(heat: float) -> list[float]:
        top = max(log for log, w in zip(logs, weights, strict=True) if w > 0.0)
        return [
            w * math.exp(heat * (log - top)) if w > 0.0 else 0.0
            for w, log in zip(weights, logs, strict=True)
        ]

    if not any(weight > 0.0 for weight in weights) or effective(at(1.0)) >= least:
        return at(1.0) if any(weight > 0.0 for weight in weights) else list(weights)
    low, high = 0.0, 1.0
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (middle, high) if effective(at(middle)) >= least else (low, middle)
    return at(low)


def keep(dictionary: Dictionary, values: Mapping[str, float]) -> Dictionary | None:
    """The dictionary of those units alone that are near these values (as `narrow`)."""
    key = tuple(sorted(values.items()))
    for whole, markings, part in tuple(_KEPT):
        if whole is dictionary and markings == key:
            return part
    part = _keep(dictionary, values)
    _KEPT.append((dictionary, key, part))
    return part


_KEPT: deque[tuple[Dictionary, tuple[tuple[str, float], ...], Dictionary | None]] = deque(maxlen=64)
"""What `keep` gave lately, by the dictionary itself: each complaint asks for the same parts."""


def _keep(dictionary: Dictionary, values: Mapping[str, float]) -> Dictionary | None:
    weights = narrow(dictionary, values)
    if not weights:
        return None
    stay = [number for number, weight in enumerate(weights) if weight > 0.0]

    narrower: dict[int, Cell] = {}  # faults that a test can't tell apart share their cell

    def of(cell: Cell) -> Cell:
        if id(cell) not in narrower:
            samples = tuple(cell.samples[n] for n in stay if n < len(cell.samples))
            narrower[id(cell)] = replace(cell, samples=samples)
        return narrower[id(cell)]

    units = tuple(replace(dictionary.units[n], weight=weights[n]) for n in stay)
    if len(stay) == len(dictionary.units):
        return replace(dictionary, units=units)
    cells = {t: {f: of(cell) for f, cell in row.items()} for t, row in dictionary.cells.items()}
    return replace(dictionary, units=units, cells=cells)
