"""Cut points where the derived readings part: from a rule's sum to what the circuit says.

A cut parts the faults that the rules put below it from those they put above. Odds are misplaced
where a fault's reading falls on the other side, and the cut where the densities of both sides,
weighed by the priors, cross misplaces least (Bayes' rule for two classes: R. O. Duda, P. E. Hart,
Pattern Classification and Scene Analysis, 1973, 2.2). Few sampled units draw those densities, so a
crossing is a region: every cut in it misplaces hardly more (`SLACK`) than the best one. A rule's
own cut stands if it lies there; otherwise the cut moves to the region's nearer end, in as few
digits as that allows. It never leaves what the rule keeps it within, never cuts off what a sound
unit was simulated to read, and never crosses what the nominal unit reads under a fault on which
rules and circuit agreed; the first of these goes first.

A test of one part goes by its marking, so units of designs that mark it otherwise are left out.
Where a cut parts one make alone, the test says to compare (`engine.evidence.comparing`). The
densities are those of the bands as the rules have them: nothing goes in a circle, and readings stay
raw numbers. O(cuts x candidates x samples).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from engine.circuit.dictionary import Dictionary
from engine.circuit.narrowing import keep
from engine.evidence.comparing import needs_comparison
from engine.evidence.density import SURPRISE, Density
from engine.evidence.make import values
from engine.evidence.scale import METER_SHARE, METER_SHARE_ELSE, TWO_DIGITS, Floats
from engine.evidence.witness import SOUND, Witness, witness
from engine.model.records import Cut, Model, Outcome, Test
from engine.readings.bands import bands
from kb.quantities import in_base

SLACK = 0.005
"""Half a case in a hundred: cuts that misplace so little more than the best are as good. Our
choice."""
REACH, STEPS = 2.5, 120
"""Candidates, evenly by ratio, from the rule's cut over 2.5 to the cut times 2.5."""
ROOM = 0.05
"""How far into the region a cut may go for fewer digits."""
HALF = 0.4
"""Outcomes with at least this share of the likeliest one's odds count as said by the rules, as they
do where rules and circuits are compared (`engine.circuit.accord`)."""
APART = 1.05
"""Neighbouring cuts stay a twentieth apart."""


@dataclass(frozen=True, slots=True)
class Sides:
    """Densities of all faults that the rules put below (`above` false) or above a cut."""

    priors: tuple[float, ...]
    above: tuple[bool, ...]
    densities: tuple[Density, ...]

    def misplaced_odds(self, cuts: Floats) -> Floats:
        """Odds of all faults on the wrong side of each cut, what surprise puts there left out."""
        loss = np.zeros(len(cuts))
        for prior, above, density in zip(self.priors, self.above, self.densities, strict=True):
            under = density.under(cuts)
            loss += prior * (1.0 - SURPRISE) * (under if above else 1.0 - under)
        return loss

    @property
    def both(self) -> bool:
        """Whether the rules put faults on either side."""
        return any(self.above) and not all(self.above)


def place_cuts(
    model: Model,
    dictionary: Dictionary,
    values_of: Mapping[str, float],
    markings: Mapping[str, float] = {},
) -> Model:
    """The model with its cut points where the derived readings part, each with its reasons.

    `values_of` are the parts' values as the rules took them, by part in base units, and `markings`
    those that were read off this very unit. A test at which nothing was derived keeps its cuts.
    """
    of_unit = keep(dictionary, markings)
    if of_unit is None:
        return model
    by_part: dict[str, Witness | None] = {"": witness(model, of_unit)}
    tests = []
    for test in model.tests:
        part = test.on if test.on in values_of else ""
        if part not in by_part:
            part_make = keep(of_unit, {part: values_of[part]})
            by_part[part] = None if part_make is None else witness(model, part_make)
        evidence = by_part[part]
        speaks = evidence is not None and bool(test.cuts) and evidence.speaks(test)
        if evidence is None or not speaks:
            tests.append(test)
            continue
        new_test = _place_cuts(evidence, test)
        compare = not part and needs_comparison(evidence, new_test)
        tests.append(replace(new_test, compare=compare))
    return replace(model, tests=tuple(tests))


def with_cuts(test: Test, cuts: Sequence[Cut], at: Sequence[float]) -> Test:
    """The test with these cut points, in the unit of its outcomes."""
    ends = {cut.below: value for cut, value in zip(cuts, at, strict=True)}
    starts = {cut.above: value for cut, value in zip(cuts, at, strict=True)}

    def shift(outcome: Outcome) -> Outcome:
        return replace(
            outcome,
            low=starts.get(outcome.id, outcome.low), high=ends.get(outcome.id, outcome.high),
        )  # fmt: skip

    return replace(test, outcomes=tuple(map(shift, test.outcomes)), cuts=tuple(cuts))


def _place_cuts(evidence: Witness, test: Test) -> Test:
    unit = next(o.unit for o in test.outcomes if o.unit is not None)
    one = in_base(1.0, unit).value
    starts = starts_of(test)
    rule_cuts = [cut.rule * one for cut in test.cuts]
    cuts, at = [], list[float]()
    for cut, here, following in itertools.zip_longest(test.cuts, rule_cuts, rule_cuts[1:]):
        sides = sides_of(evidence, test, starts, cut.above)
        if here <= 0.0 or not sides.both:
            cuts.append(cut)
            at.append(here)
            continue
        within = (
            max(at[-1] * APART if at else 0.0, here / REACH),
            min(following / APART if following else math.inf, here * REACH),
        )
        limits = (
            0.0 if cut.at_least is None else cut.at_least * one,
            math.inf if cut.at_most is None else cut.at_most * one,
        )
        wishes = (("limit", limits), ("sound", _sound(evidence, test, starts, cut)),
                  ("agreed", _agreement(evidence, test, starts, cut, here)))  # fmt: skip
        new_cut, value = _place(cut, here, sides, within, wishes)
        cuts.append(_in_unit(new_cut, one))
        at.append(value)
    return with_cuts(test, cuts, [float(f"{value / one:.3g}") for value in at])


def _place(
    cut: Cut,
    here: float,
    sides: Sides,
    within: tuple[float, float],
    wishes: Sequence[tuple[str, tuple[float, float]]],
) -> tuple[Cut, float]:
    """The cut with its reasons, and where it goes (base unit).

    `wishes` are the spans it should keep within, by name, the gravest first: one that leaves
    nothing of those before it is passed over.
    """
    bounds, ends = within, [here]
    for _, span in wishes:
        narrower = _meeting(bounds, span)
        if narrower[0] <= narrower[1]:
            bounds = narrower
            ends += [end for end in span if 0.0 < end < math.inf]
    even = here * np.geomspace(1.0 / REACH, REACH, 2 * STEPS + 1)
    grid = np.unique(np.concatenate([even, ends]))
    losses = sides.misplaced_odds(grid)
    free = _best(grid, losses, here, within)
    region = _best(grid, losses, here, bounds)
    if free is None or region is None:
        return cut, here
    if region[0] <= here <= region[1]:
        return replace(cut, parts=free), here
    value = _simplest(*region) if here < region[0] else _simplest(region[1], region[0])
    by = "readings" if free[0] <= value <= free[1] else _binding_wish(value, free, wishes)
    return replace(cut, parts=free, by=by), value


def _binding_wish(
    value: float, free: tuple[float, float], wishes: Sequence[tuple[str, tuple[float, float]]]
) -> str:
    """Which wish keeps a cut from the region that readings alone would choose: the nearest."""
    target = free[0] if value < free[0] else free[1]
    kept_off = [
        (abs(math.log(end / value)), name)
        for name, span in wishes
        for end in span
        if 0.0 < end < math.inf and min(value, target) * 0.999 <= end <= max(value, target) * 1.001
    ]
    return min(kept_off)[1] if kept_off else "limit"


def _best(
    grid: Floats, losses: Floats, here: float, bounds: tuple[float, float]
) -> tuple[float, float] | None:
    """The region around the best cut within bounds (of equals the one next to the rule's)."""
    mask = (grid >= bounds[0]) & (grid <= bounds[1])
    if not mask.any():
        return None
    numbers = np.flatnonzero(mask)
    nearness = np.abs(np.log(grid[numbers] / here))
    best = int(numbers[np.lexsort((nearness, np.round(losses[numbers], 6)))[0]])
    fine = mask & (losses <= losses[best] + SLACK)
    low = high = best
    while low > 0 and fine[low - 1]:
        low -= 1
    while high + 1 < len(fine) and fine[high + 1]:
        high += 1
    return float(grid[low]), float(grid[high])


def _simplest(near: float, far: float) -> float:
    """The number of fewest digits from `near` a little way on towards `far`."""
    end = near * (1.0 + ROOM) if far > near else near / (1.0 + ROOM)
    end = min(end, far) if far > near else max(end, far)
    low, high = sorted((near, end))
    for digits in (1, 2, 3):
        step = 10.0 ** (math.floor(math.log10(high)) - digits + 1)
        number = math.ceil(low / step) * step if far > near else math.floor(high / step) * step
        if low <= number <= high:
            return float(f"{number:.3g}")
    return near


def starts_of(test: Test) -> dict[str, float]:
    """The lower end of each outcome's band, in base units."""
    return {band.outcome: band.low for band in bands(test)}


def sides_of(evidence: Witness, test: Test, starts: Mapping[str, float], above: str) -> Sides:
    """Prior, side by the rules, and density of each fault that was simulated."""
    rows = []
    for fault in evidence.model.faults:
        row = evidence.model.row(test.id, fault.id)
        likely = max(row, key=lambda outcome: row[outcome])
        if likely in starts and fault.prior > 0.0 and evidence.read(test, fault.id):
            over = starts[likely] >= starts[above]
            rows.append((fault.prior, over, evidence.density(test, fault.id)))
    return Sides(*(tuple(column) for column in zip(*rows, strict=True))) if rows else _NOBODY


_NOBODY = Sides((), (), ())


def _sound(
    evidence: Witness, test: Test, starts: Mapping[str, float], cut: Cut
) -> tuple[float, float]:
    """Where a cut leaves together what sound units read, the meter's error (two sigma) included."""
    dictionary = evidence.dictionary
    cell = None if dictionary is None else dictionary.cell(test.id, SOUND)
    row = evidence.model.likelihood[test.id].get(SOUND, {})
    numbers = [v for v in values(cell) if v is not None] if cell is not None else []
    if dictionary is None or not numbers or not row:
        return 0.0, math.inf
    healthy = starts.get(max(row, key=lambda outcome: row[outcome]))
    if healthy is None:
        return 0.0, math.inf
    measure = dictionary.measures.get(test.id, "")
    off = 2.0 * (METER_SHARE.get(measure, METER_SHARE_ELSE) + TWO_DIGITS)
    if healthy >= starts[cut.above]:
        return 0.0, min(numbers) * (1.0 - off)
    return max(numbers) * (1.0 + off), math.inf


def _agreement(
    evidence: Witness, test: Test, starts: Mapping[str, float], cut: Cut, here: float
) -> tuple[float, float]:
    """Where a cut leaves every nominal reading on the side of the rules that is there now."""
    dictionary = evidence.dictionary
    low, high = 0.0, math.inf
    for fault in evidence.model.faults:
        cell = None if dictionary is None else dictionary.cell(test.id, fault.id)
        if cell is None or cell.value is None or not evidence.read(test, fault.id):
            continue
        row = evidence.model.row(test.id, fault.id)
        most = max(row.values())
        sides = {starts[o] >= starts[cut.above] for o, p in row.items() if p >= HALF * most}
        if sides == {True} and cell.value >= here:
            high = min(high, cell.value)
        if sides == {False} and cell.value < here:
            low = max(low, math.nextafter(cell.value, math.inf))
    return low, high


def _meeting(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    return max(one[0], other[0]), min(one[1], other[1])


def _in_unit(cut: Cut, one: float) -> Cut:
    if cut.parts is None:
        return cut
    low, high = (float(f"{value / one:.3g}") for value in cut.parts)
    return replace(cut, parts=(low, high))
