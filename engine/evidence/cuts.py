"""Do the rules' cut points stand where the simulated densities of their two sides cross?

A cut parts the faults that the rules put below it from those they put above. Odds are misplaced
where a fault's reading falls on the other side; the best cut misplaces least (Bayes' rule for two
classes). A cut that misplaces little more than the best stands within the crossing region.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

from engine.evidence.density import SURPRISE, Density
from engine.evidence.witness import Witness
from engine.model import Test
from engine.readings import Band, bands

STEPS, REACH = 60, 1.6
"""Candidates, evenly by ratio, from the cut over 1.6 to the cut times 1.6."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A cut between two outcomes: where the rules have it, where it would misplace least, and the
    odds misplaced at both, of all faults together."""

    test: str
    below: str
    above: str
    value: float
    best: float
    misplaced: float
    least: float


def cuts(witness: Witness) -> Iterator[Cut]:
    """Every cut of every measured test that was simulated. O(cuts x candidates x samples)."""
    for test in witness.model.tests:
        known = bands(test)
        if len(known) < 2 or not witness.speaks(test):
            continue
        for low, high in itertools.pairwise(known):
            if high.low > 0.0:
                yield _cut(witness, test, low, high)


def _cut(witness: Witness, test: Test, low: Band, high: Band) -> Cut:
    sides = tuple(_sides(witness, test, high.low))
    tried = [high.low * REACH ** (2.0 * step / STEPS - 1.0) for step in range(STEPS + 1)]
    loss = {value: _misplaced(sides, value) for value in [*tried, high.low]}
    best = min(loss, key=lambda value: (loss[value], abs(math.log(value / high.low))))
    return Cut(test.id, low.outcome, high.outcome, high.low, best, loss[high.low], loss[best])


def _sides(witness: Witness, test: Test, cut: float) -> Iterator[tuple[float, bool, Density]]:
    """Prior, whether the rules put it above the cut, and density, of each fault simulated."""
    starts = {band.outcome: band.low for band in bands(test)}
    for fault in witness.model.faults:
        row = witness.model.row(test.id, fault.id)
        likely = max(row, key=lambda outcome: row[outcome])
        if likely in starts and witness.read(test, fault.id):
            yield fault.prior, starts[likely] >= cut, witness.density(test, fault.id)


def _misplaced(sides: tuple[tuple[float, bool, Density], ...], cut: float) -> float:
    """Odds on the wrong side of a cut, what surprise puts there left out."""
    total = 0.0
    for prior, above, density in sides:
        wrong = (-math.inf, cut) if above else (cut, math.inf)
        total += prior * max(0.0, density.mass(*wrong) - SURPRISE * density.blind(*wrong))
    return total
