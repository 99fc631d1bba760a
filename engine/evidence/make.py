"""What is known of this very unit beside its topology: markings read, a good unit's readings.

The dictionary's samples are siblings of the unit: each drew a design and values within tolerance,
the same under every fault. So whatever is known of the unit at hand weighs the siblings: a marking
by the designs that have it, an identical good unit by how near its readings are to the sibling's
without fault. Weights are O(siblings x readings); no simulation is run.

A marking that no sampled design is near narrows nothing; it says that this unit's design is
likelier than not none of those sampled (`engine.evidence.joint`), and the rules' own sums with this
value count for more.

Codes: EV104 readings of a good unit that nothing was derived for.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from engine.circuit import narrowing
from engine.circuit.dictionary import Cell, Dictionary
from kb.trouble import Place, Trouble, TroubleError

GOOD_SPREAD = 0.05
"""How far two units of one make read apart, as a share: the usual tolerance of their parts."""
THIRDS = 3
"""Values of a part that stand for all it may have, when what a marking tells is reckoned. Of the
algorithm."""
FAR = 1e-3
"""What a sibling far from the good unit keeps: units differ in what no sibling drew."""


@dataclass(frozen=True, slots=True)
class Make:
    """Weights of the siblings, what a good unit reads by test, and markings (base units).

    No weights: those of the dictionary. `far`: parts whose markings are near no sampled design's.
    """

    weights: tuple[float, ...] = ()
    expected: Mapping[str, float] = field(default_factory=dict)
    markings: Mapping[str, float] = field(default_factory=dict)
    far: frozenset[str] = frozenset()


NothingKnown = Make()


def apply_markings(
    make: Make, readings: Dictionary | None, markings: Mapping[str, float]
) -> Make:
    """The make narrowed further by markings (part to value, base units)."""
    all_markings = {**make.markings, **markings}
    if readings is None or not markings:
        return replace(make, markings=all_markings)
    far = narrowing.far_markings(readings, all_markings)
    near = {part: value for part, value in all_markings.items() if part not in far}
    fits = narrowing.narrow(readings, near)
    if make.weights:
        known = {part: v for part, v in make.markings.items() if part not in make.far}
        before = narrowing.narrow(readings, known)
        fits = tuple(
            one * fit / old if old > 0.0 else 0.0
            for one, fit, old in zip(make.weights, fits, before, strict=True)
        )
    total = sum(fits)
    shares = tuple(weight / total for weight in fits) if total > 0.0 else ()
    return replace(make, weights=shares, markings=all_markings, far=far)


def like(make: Make, readings: Dictionary | None, sound: str, good: Mapping[str, float]) -> Make:
    """The make narrowed by readings (base unit, by test) of an identical good unit.

    `sound` is the hypothesis of no fault. TroubleError EV104 where none of the tests was derived.
    """
    if not good:
        return make
    cells = {}
    if readings is not None:
        all_cells = {test: readings.cell(test, sound) for test in good}
        cells = {test: cell for test, cell in all_cells.items() if cell is not None}
    if readings is None or not cells:
        raise _trouble(
            "EV104", "None of the good unit's readings belongs to a test that was derived",
            "Give readings of tests at test points, as nextprobe model lists them",
        )  # fmt: skip
    before = make.weights or tuple(unit.weight for unit in readings.units)
    logs = [0.0] * len(before)
    for test, cell in cells.items():
        for number, (_, value) in enumerate(cell.samples[: len(before)]):
            if value is not None:
                logs[number] += math.log(FAR + _near(value, good[test]))
    weights = narrowing.tempered(before, logs, narrowing.enough(len(before)))
    shares = tuple(weight / sum(weights) for weight in weights)
    return replace(make, weights=shares, expected={**make.expected, **good})


def values(cell: Cell) -> tuple[float | None, ...]:
    """A cell's numbers: nominal unit first, then siblings; None where it is watched."""
    pairs = ((cell.outcome, cell.value), *cell.samples)
    return tuple(None if outcome is not None else value for outcome, value in pairs)


def choices(readings: Dictionary, part: str) -> tuple[float, ...]:
    """Values that stand for those a part has in the sampled units, ascending: all of a few, else
    the middle of each third."""
    values = sorted(unit.values[part] for unit in readings.units if part in unit.values)
    distinct = sorted(set(values))
    if len(distinct) <= THIRDS:
        return tuple(distinct)
    return tuple(sorted({values[len(values) * (2 * n + 1) // (2 * THIRDS)] for n in range(THIRDS)}))


def _near(one: float, other: float) -> float:
    """Nearness of two readings on the scale of ratios, 1 where equal."""
    if one <= 0.0 or other <= 0.0 or math.isinf(one) or math.isinf(other):
        return 1.0 if one == other else math.exp(-0.5 * (min(abs(one - other), 1.0) / 0.2) ** 2)
    return math.exp(-0.5 * (math.log(one / other) / GOOD_SPREAD) ** 2)


def _trouble(code: str, what: str, mend: str) -> TroubleError:
    return TroubleError(Trouble(code, Place("what is known of the unit"), what, mend))
