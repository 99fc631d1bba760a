"""Other benches: what everything takes and what fails how often, drawn within their ranges.

Minutes. Each test, opening, rig, change of supply and remedy takes its middle times a factor. The
logarithm of the factor is triangular: its ends are the ends of the range, its peak is the middle,
so that no bench lies beyond what skilled people would argue about. Who is quick at one thing is
quick at most: `PACE` of the variance comes from one pace for the whole bench (Gaussian copula).

Shares. Stages first, then the faults within each, both Dirichlet with the model's shares as mean;
`STAGE_CASES` and `FAULT_CASES` are the closed cases that they are worth. Forty cases put the share
of a stage at 40 % between 25 and 55 % in 19 benches of 20, which is what skilled people say of the
LEDs in cheap lamps.

All ranges are common practice, from memory, as is the pace.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from engine.model.records import Model, Opening, Supply
from engine.readings.confusion import Floats

RANGES: Mapping[str, tuple[float, float]] = {
    "test": (0.5, 2.0),  # a part known at a glance 0.2 (0 to 0.5), by a chip's pin 1.5 (1 to 3)
    "opening": (0.6, 2.0),  # diffuser 1 to 2, board 3 to 10, base cap 5 to 15
    "tracing": (0.6, 2.0),  # a comparator stage 10 (6 to 20), a driver stage 5 (3 to 8)
    "rig": (0.5, 2.0),  # a clip 1 (0.5 to 2), tails 3 (2 to 5)
    "supply-off": (0.65, 2.0),  # off, unplug, discharge, verify 1.5 (1 to 3)
    "supply-on": (0.5, 1.5),  # limited mains, raised slowly 2 (1 to 3)
    "remedy": (0.5, 2.0),
}
"""Least and greatest factor on the middle, by kind of thing."""
PACE = 0.5
STAGE_CASES, FAULT_CASES = 40.0, 40.0
"""Share of one pace in the variance, and the closed cases that shares are worth: common practice,
from memory."""
_NORMAL = NormalDist()
Chance = np.random.Generator


@dataclass(frozen=True, slots=True)
class Spread:
    """How far benches lie apart: ranges by kind, share of one pace, cases that shares are worth."""

    ranges: Mapping[str, tuple[float, float]]
    pace: float = PACE
    stage_cases: float = STAGE_CASES
    fault_cases: float = FAULT_CASES


USUAL = Spread(RANGES)
NEAR = Spread(
    {kind: (least**0.3, greatest**0.3) for kind, (least, greatest) in RANGES.items()},
    stage_cases=STAGE_CASES * 10,
    fault_cases=FAULT_CASES * 10,
)
"""Benches close to the middle: their best plans are the second bests of the middle."""


def draw_benches(model: Model, many: int, seed: int, spread: Spread = USUAL) -> tuple[Model, ...]:
    """The model on `many` other benches; the same seed gives the same ones.

    Only minutes and priors differ: faults that can't be stay so, and rows, places and needs are
    the model's own.
    """
    return tuple(_draw(model, np.random.default_rng([seed, n]), spread) for n in range(many))


def factor(position: float, least: float, greatest: float) -> float:
    """The factor below which a share `position` of benches lie: triangular in its logarithm."""
    low, high = math.log(least), math.log(greatest)
    width = high - low
    if width <= 0.0:
        return math.exp(low)
    if position * width < -low:
        return math.exp(low + math.sqrt(position * width * -low))
    return math.exp(high - math.sqrt((1.0 - position) * width * high))


def _draw(model: Model, chance: Chance, spread: Spread) -> Model:
    pace = float(chance.standard_normal())

    def by(kind: str) -> float:
        own = float(chance.standard_normal())
        z = math.sqrt(spread.pace) * pace + math.sqrt(1.0 - spread.pace) * own
        return factor(_NORMAL.cdf(z), *spread.ranges[kind])

    return replace(
        model,
        tests=tuple(replace(t, minutes=t.minutes * by("test")) for t in model.tests),
        openings=tuple(
            replace(o, minutes=o.minutes * by(_kind(o, spread))) for o in model.openings
        ),
        rigs=tuple(replace(rig, minutes=rig.minutes * by("rig")) for rig in model.rigs),
        supply=_supply(model, by),
        remedies=tuple(replace(r, minutes=r.minutes * by("remedy")) for r in model.remedies),
        faults=tuple(
            replace(fault, prior=float(prior))
            for fault, prior in zip(model.faults, _shares(model, chance, spread), strict=True)
        ),
    )  # fmt: skip


def _kind(opening: Opening, spread: Spread) -> str:
    """The kind of an opening where it has a range of its own."""
    return opening.kind if opening.kind in spread.ranges else "opening"


def _supply(model: Model, by: Callable[[str], float]) -> Supply:
    """Every change of supply goes by the dead arrangement, so its ways on and off are drawn."""
    dead = model.dead_supply
    names = [arrangement.id for arrangement in model.supply.arrangements]
    on = {n: model.supply.minutes[dead][n] * by("supply-on") for n in names if n != dead}
    off = {n: model.supply.minutes[n][dead] * by("supply-off") for n in names if n != dead}

    def between(one: str, two: str) -> float:
        if one == two:
            return model.supply.minutes[one][two]
        return (off[one] if one != dead else 0.0) + (on[two] if two != dead else 0.0)

    minutes = {one: {two: between(one, two) for two in names} for one in names}
    return replace(model.supply, minutes=minutes)


def _shares(model: Model, chance: Chance, spread: Spread) -> Floats:
    """Priors by stage, then by fault within the stage; what can't be stays impossible."""
    prior = np.array([fault.prior for fault in model.faults], dtype=np.float64)
    sample = np.zeros_like(prior)
    stages: dict[str, list[int]] = {}
    for at, fault in enumerate(model.faults):
        if fault.prior > 0.0:
            stages.setdefault(fault.stage, []).append(at)
    groups: Sequence[list[int]] = list(stages.values())
    whole = np.array([prior[group].sum() for group in groups])
    shares = _dirichlet(chance, whole / whole.sum(), spread.stage_cases)
    for group, share in zip(groups, shares, strict=True):
        within = prior[group] / prior[group].sum()
        sample[group] = share * _dirichlet(chance, within, spread.fault_cases)
    priors: Floats = sample / sample.sum() * prior.sum()
    return priors


def _dirichlet(chance: Chance, mean: Floats, cases: float) -> Floats:
    """A draw with that mean; no share falls to nothing, for a plan must still allow for it."""
    sample = np.maximum(chance.dirichlet(np.maximum(mean * cases, 1e-3)), 1e-9)
    whole: Floats = sample / sample.sum()
    return whole
