"""Sampled units weighed by markings, by how this one is built and by a good unit's readings, as the
audit knows it.

Nothing here is shared with `engine.circuit.narrowing` but what is written there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from engine.audit.bench import Document
from engine.audit.cells import Cells

# Those of `engine.circuit.narrowing`.
KERNEL, ENOUGH, ENOUGH_SHARE, MISMATCH, NEGLIGIBLE = 0.12, 6.0, 1 / 8, -8.0, 0.02
REACH, MARKED = 2.5, 0.05


def near_markings(readings: Document, marks: Mapping[str, float]) -> dict[str, float]:
    """The markings (base units) that some sampled design of a readings document is near."""
    near = {}
    for part, value in marks.items():
        own = [u["values"][part] for u in readings["units"] if part in u["values"]]
        own_listing = float(readings["listed"].get(part, value))
        if any(abs(math.log(one / value)) <= REACH * KERNEL for one in own) or (
            not own and abs(value / own_listing - 1.0) <= MARKED
        ):
            near[part] = value
    return near


def near_build(readings: Document, absent: Mapping[str, bool]) -> dict[str, bool]:
    """What is told of parts being there or not (True: not) that some sampled design shares; what is
    told of parts that have no value in any of them says nothing of designs."""
    with_value = set(readings["listed"]).union(*(unit["values"] for unit in readings["units"]))
    return {
        part: lacks_it
        for part, lacks_it in absent.items()
        if part not in with_value
        or any((part in unit["absent"]) is lacks_it for unit in readings["units"])
    }


def marked_weights(
    units: Sequence[Document],
    marks: Mapping[str, float],
    absent: Mapping[str, bool] = {},
    kinds: Mapping[str, str] = {},
) -> list[float]:
    """The units' weights by markings: near values on a scale of ratios, tempered until enough units
    count, a unit built otherwise (a part there or not, another kind) only where too few are built
    so."""
    prior = [float(unit["weight"]) for unit in units]
    logs, same = [], []
    for unit in units:
        values = unit["values"]
        lacks = sum(part in unit["absent"] for part in marks if part not in absent)
        lacks += sum((part in unit["absent"]) != other for part, other in absent.items())
        lacks += sum(not _is_of_kind(unit, units, part, kind) for part, kind in kinds.items())
        near_by = sum(
            (math.log(values[part] / value) / KERNEL) ** 2
            for part, value in marks.items()
            if part in values
        )
        logs.append(MISMATCH * lacks - near_by / 2)
        same.append(not lacks)
    exact = [weight if is_same else 0.0 for weight, is_same in zip(prior, same, strict=True)]
    enough = min(ENOUGH, ENOUGH_SHARE * len(units))
    weights = heat(exact if _count(exact) >= enough else prior, logs)
    weights = [weight if weight >= NEGLIGIBLE * max(weights) else 0.0 for weight in weights]
    return [weight / sum(weights) for weight in weights]


def _is_of_kind(unit: Document, units: Sequence[Document], part: str, kind: str) -> bool:
    """Whether a unit's part is of a kind; one that no unit names is the listed one."""
    if any(other["kinds"].get(part) == kind for other in units):
        return bool(unit["kinds"].get(part) == kind)
    return part not in unit["kinds"]


def heat(weights: Sequence[float], logs: Sequence[float]) -> list[float]:
    """Weights times exp(logs), the logs scaled down until enough units count."""
    enough = min(ENOUGH, ENOUGH_SHARE * len(weights))
    top = max(log for log, weight in zip(logs, weights, strict=True) if weight)

    def at(warmth: float) -> list[float]:
        pairs = zip(weights, logs, strict=True)
        return [w and w * math.exp(warmth * (log - top)) for w, log in pairs]

    if _count(at(1.0)) >= enough:
        return at(1.0)
    low, high = 0.0, 1.0
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (middle, high) if _count(at(middle)) >= enough else (low, middle)
    return at(low)


def _count(weights: Sequence[float]) -> float:
    """How many equal units weights amount to."""
    squares = sum(weight * weight for weight in weights)
    return sum(weights) ** 2 / squares if squares else 0.0


UNLISTED, UNLISTED_IF_FAR = 0.15, 0.5
NEAR, FAR = 0.05, 1e-3
SOUND = "no-fault"
"""As `engine.evidence` has them: `table` and `make` there say where from."""


def prior_weights(readings: Document) -> list[float]:
    """The units' own weights, the nominal one's first."""
    weights = [float(unit["weight"]) for unit in readings["units"]]
    return shares([_nominal(readings, weights), *weights])


def unit_weights(readings: Document, circuit: Document, cells: Cells) -> list[float]:
    """The designs' weights by what is known of this unit, the unlisted one last."""
    weights = [float(unit["weight"]) for unit in readings["units"]]
    marks = circuit.get("markings", {})
    absent, kinds = circuit.get("absent", {}), circuit.get("kinds", {})
    near, build = near_markings(readings, marks), near_build(readings, absent)
    if near or build or kinds:
        weights = marked_weights(readings["units"], near, build, kinds)
    logs = [0.0] * len(weights)
    good = {
        test: (row, value)
        for test, value in circuit.get("good", {}).items()
        if (row := cells.file_row(test, SOUND)) is not None
    }
    for row, value in good.values():
        for number, (_, reading) in enumerate(row[1 : len(weights) + 1]):
            if reading is not None:
                logs[number] += math.log(FAR + near_reading(reading, value))
    if good:
        weights = shares(heat(weights, logs))
    is_far = len(near) < len(marks) or len(build) < len(absent)
    unlisted = UNLISTED_IF_FAR if is_far else UNLISTED
    designs = shares([_nominal(readings, weights), *weights])
    return [*((1.0 - unlisted) * weight for weight in designs), unlisted]


def shares(weights: Sequence[float]) -> list[float]:
    """The weights made to sum to 1."""
    total = sum(weights)
    return [weight / total for weight in weights]


def log_sum(logs: Sequence[float]) -> float:
    """The log of the sum of what these are logs of."""
    most = max(logs)
    return most + math.log(sum(math.exp(log - most) for log in logs))


def largest_one(odds: Mapping[str, float]) -> dict[str, float] | None:
    """The odds over their largest; None where all are 0."""
    most = max(odds.values(), default=0.0)
    return {fault: p / most for fault, p in odds.items()} if most > 0.0 else None


def _nominal(readings: Document, weights: Sequence[float]) -> float:
    if not weights:
        return 1.0
    designs = [u["values"] == readings["listed"] for u in readings["units"]]
    alike = [weight for weight, is_it in zip(weights, designs, strict=True) if is_it]
    return sum(alike) / len(weights) if alike else 1.0 / len(weights)


def near_reading(one: float, other: float) -> float:
    """How near a design's reading is to the good unit's, 1 where they are the same."""
    if one <= 0.0 or other <= 0.0 or not math.isfinite(one) or not math.isfinite(other):
        return 1.0 if one == other else math.exp(-0.5 * (min(abs(one - other), 1.0) / 0.2) ** 2)
    return math.exp(-0.5 * (math.log(one / other) / NEAR) ** 2)
