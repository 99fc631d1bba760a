"""What becomes of the same units under each way of working: verdicts, minutes, cost, errors."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from engine.model import setup
from engine.model.plan import Plan
from engine.model.records import Model
from engine.readings.belief import Tables, prepare
from engine.readings.confusion import Floats, Readings
from engine.studies.contest.orders import HinderedUnit, Walking
from engine.studies.contest.ways import ORDERS
from engine.studies.trial.simulation import ChartWay, Way

QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)
"""What is told of the minutes: the middle, its half, and nine tenths."""
_Z95 = 1.959963984540054
"""Standard deviations that hold 95 % of a normal distribution."""
_MOST_MISREAD = 0.9
"""However large the factor, one answer in ten stays right: rows must sum to 1. Our choice."""
Tell = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Confusion:
    """A fault that ended in a remedy which does not cure it (empty: in none): how often, and the
    minutes that this cost over all units, a unit.
    """

    fault: str
    remedy: str
    units: int
    share: float
    cost: float


@dataclass(frozen=True, slots=True)
class Bout:
    """How one way of working fared. Minutes are bench minutes without the remedy's.

    `right_low`, `right_high` are the 95 % interval of `right` (`wilson`); `minutes_error` and
    `cost_error` are standard errors; `quantiles` belong to `QUANTILES`; `minutes` has every unit's.
    """

    name: str
    says: str
    right: float
    right_low: float
    right_high: float
    undecided: float
    mean_minutes: float
    minutes_error: float
    quantiles: tuple[float, ...]
    cost: float
    cost_error: float
    confusions: tuple[Confusion, ...]
    minutes: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Contest:
    """The ways of working, each on the same `units`; `misreads` is the factor on the model's."""

    units: int
    seed: int
    misreads: float
    skips: float
    bouts: tuple[Bout, ...]


def contest(
    model: Model,
    plan: Plan,
    *,
    units: int,
    seed: int,
    misreads: float = 1.0,
    skips: float = 0.0,
    seconds: float = 0.5,
    tell: Tell | None = None,
) -> Contest:
    """Let every way of working diagnose the same units; the same seed gives the same tally.

    `seconds` bounds each planning anew: where that is not enough for a proof, another machine may
    plan otherwise. Time: units x ways x tests of a job, and the walk's plannings.
    """
    world = Readings.of(_misreading(model, misreads))
    chance = np.random.default_rng(seed)
    odds = world.prior / world.prior.sum()
    faults = [int(fault) for fault in chance.choice(len(odds), size=units, p=odds)]
    ways = _ways(model, plan, prepare(model), seconds)
    bouts = []
    for number, (name, (says, way)) in enumerate(ways.items()):
        results = []
        for unit, fault in enumerate(faults):
            results.append(_job(world, way, fault, np.random.default_rng([seed, unit]), skips))
            if tell is not None and unit % 20 == 19:
                tell(number * units + unit + 1, len(ways) * units)
        bouts.append(_bout(model, name, says, faults, results))
    return Contest(units, seed, misreads, skips, tuple(bouts))


def _ways(
    model: Model, plan: Plan, tables: Tables, seconds: float
) -> Mapping[str, tuple[str, Way]]:
    ways: dict[str, tuple[str, Way]] = {
        "chart": ("the printed chart", ChartWay(plan, {})),
        "walk": ("the walk, planned anew", Walking(model, tables, plan, seconds)),
    }
    for name, (says, make) in ORDERS.items():
        ways[name] = (says, make(model, tables))
    return ways


def _misreading(model: Model, factor: float) -> Model:
    """The model with its misreads times a factor, the rest being read right."""
    tests = []
    for test in model.tests:
        rows = {}
        for true, row in test.misread.items():
            wrong = sum(share for outcome, share in row.items() if outcome != true)
            by = min(factor, _MOST_MISREAD / wrong) if wrong > 0.0 else 1.0
            rows[true] = {outcome: share * by for outcome, share in row.items() if outcome != true}
        tests.append(replace(test, misread=rows))
    return replace(model, tests=tuple(tests))


@dataclass(frozen=True, slots=True)
class _Result:
    remedy: str
    minutes: float


def _job(
    readings: Readings, way: Way, fault: int, chance: np.random.Generator, skips: float
) -> _Result:
    unit = HinderedUnit(readings, fault, chance, setup.start(readings.model), skips=skips)
    remedy = way(unit)
    return _Result(remedy or "", unit.minutes)


def _bout(
    model: Model, name: str, says: str, faults: Sequence[int], results: list[_Result]
) -> Bout:
    cures = {remedy.id: set(remedy.cures) for remedy in model.remedies}
    minutes = np.array([one.minutes for one in results])
    right = np.array(
        [
            model.faults[f].id in cures.get(e.remedy, ())
            for f, e in zip(faults, results, strict=True)
        ]
    )
    remedy = {remedy.id: remedy.minutes for remedy in model.remedies} | {"": 0.0}
    wrong = model.wrong_verdict_minutes * ~right
    cost = minutes + wrong + np.array([remedy[one.remedy] for one in results])
    low, high = wilson(int(right.sum()), len(results))
    return Bout(
        name=name,
        says=says,
        right=float(right.mean()),
        right_low=low,
        right_high=high,
        undecided=sum(not one.remedy for one in results) / len(results),
        mean_minutes=float(minutes.mean()),
        minutes_error=_error(minutes),
        quantiles=tuple(float(q) for q in np.quantile(minutes, QUANTILES)),
        cost=float(cost.mean()),
        cost_error=_error(cost),
        confusions=_confusions(model, faults, results, right),
        minutes=tuple(float(m) for m in minutes),
    )


def _confusions(
    model: Model, faults: Sequence[int], results: list[_Result], right: NDArray[np.bool_]
) -> tuple[Confusion, ...]:
    """Wrong ends by fault and remedy, those first that cost most."""
    units: defaultdict[tuple[str, str], int] = defaultdict(int)
    for fault, one, is_right in zip(faults, results, right, strict=True):
        if not is_right:
            units[model.faults[fault].id, one.remedy] += 1
    minutes = {remedy.id: remedy.minutes for remedy in model.remedies} | {"": 0.0}
    confusions = [
        Confusion(
            fault, remedy, count, count / len(results),
            count * (model.wrong_verdict_minutes + minutes[remedy]) / len(results),
        )
        for (fault, remedy), count in units.items()
    ]  # fmt: skip
    return tuple(sorted(confusions, key=lambda c: (-c.cost, c.fault, c.remedy)))


def _error(values: Floats) -> float:
    return float(values.std(ddof=1) / math.sqrt(len(values))) if len(values) > 1 else 0.0


def wilson(hits: int, tries: int) -> tuple[float, float]:
    """The 95 % score interval of a share: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927), 209."""
    if tries == 0:
        return 0.0, 1.0
    share, square = hits / tries, _Z95**2
    middle = (share + square / (2 * tries)) / (1 + square / tries)
    half = _Z95 * math.sqrt(share * (1 - share) / tries + square / (4 * tries**2))
    half /= 1 + square / tries
    return max(0.0, middle - half), min(1.0, middle + half)
