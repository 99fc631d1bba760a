"""What is known of this very unit beside its topology: markings read, a good unit's readings.

The dictionary's samples are siblings of the unit: each drew a design and values within tolerance,
the same under every fault. So whatever is known of the unit at hand weighs the siblings: a marking
by the designs that have it, an identical good unit by how near its readings are to the sibling's
without fault; a part that is not there, or of another kind, by the designs built so. Weights are
O(siblings x readings); no simulation is run.

A marking that no sampled design is near narrows nothing; it says that this unit's design is
likelier than not none of those sampled (`engine.evidence.joint`), and the rules' own sums with this
value count for more.

Codes: EV104 readings of a good unit that nothing was derived for.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

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


SOUND = "no-fault"
"""The hypothesis of no fault."""


@dataclass(frozen=True, slots=True)
class Make:
    """Weights of the siblings, what a good unit reads by test, and markings (base units).

    No weights: those of the dictionary. `absent`: parts said not to be there (True) or to be there;
    `kinds`: of which kind a part is. `far`: parts whose markings are near no sampled design's, or
    that none of them lacks (has) as the unit does.
    """

    weights: tuple[float, ...] = ()
    expected: Mapping[str, float] = field(default_factory=dict)
    markings: Mapping[str, float] = field(default_factory=dict)
    far: frozenset[str] = frozenset()
    absent: Mapping[str, bool] = field(default_factory=dict)
    kinds: Mapping[str, str] = field(default_factory=dict)


NothingKnown = Make()


def apply_markings(
    make: Make, readings: Dictionary | None, markings: Mapping[str, float]
) -> Make:
    """The make narrowed further by markings (part to value, base units)."""
    if not markings:
        return make
    return _weigh(replace(make, markings={**make.markings, **markings}), readings)


def apply_build(
    make: Make,
    readings: Dictionary | None,
    absent: Mapping[str, bool] = MappingProxyType({}),
    kinds: Mapping[str, str] = MappingProxyType({}),
) -> Make:
    """The make narrowed further by which parts the unit lacks (True) or has, and their kinds."""
    if not absent and not kinds:
        return make
    more = replace(make, absent={**make.absent, **absent}, kinds={**make.kinds, **kinds})
    return _weigh(more, readings)


def like(make: Make, readings: Dictionary | None, sound: str, good: Mapping[str, float]) -> Make:
    """The make narrowed by readings (base unit, by test) of an identical good unit.

    `sound` is the hypothesis of no fault. TroubleError EV104 where none of the tests was derived.
    """
    if not good:
        return make
    if readings is None or not any(readings.cell(test, sound) for test in good):
        raise _trouble(
            "EV104", "None of the good unit's readings belongs to a test that was derived",
            "Give readings of tests at test points, as nextprobe model lists them",
        )  # fmt: skip
    return _weigh(replace(make, expected={**make.expected, **good}), readings, sound)


def _weigh(make: Make, readings: Dictionary | None, sound: str = SOUND) -> Make:
    """The make with the siblings' weights by all that is known, in whatever order it came: how the
    unit is built first, then what a good one of its make reads."""
    if readings is None:
        return make
    far = narrowing.far_markings(readings, make.markings)
    far |= narrowing.far_parts(readings, make.absent)
    near = {part: value for part, value in make.markings.items() if part not in far}
    absent = {part: lacks for part, lacks in make.absent.items() if part not in far}
    weights: tuple[float, ...] = ()
    if near or absent or make.kinds:
        weights = narrowing.narrow(readings, near, absent, make.kinds)
    cells = {test: readings.cell(test, sound) for test in make.expected}
    if any(cells.values()):
        before = weights or tuple(unit.weight for unit in readings.units)
        logs = [0.0] * len(before)
        for test, cell in cells.items():
            for number, (_, value) in enumerate(cell.samples[: len(before)] if cell else ()):
                if value is not None:
                    logs[number] += math.log(FAR + _near(value, make.expected[test]))
        warm = narrowing.tempered(before, logs, narrowing.enough(len(before)))
        weights = tuple(weight / sum(warm) for weight in warm)
    return replace(make, weights=weights, far=far)


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
