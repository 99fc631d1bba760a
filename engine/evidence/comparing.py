"""Where a band on paper is one make's: sampled designs' good and faulty readings lie on both sides.

A chart has one cut for all makers. Over the sampled designs, weighed as drawn, the odds that a
sound unit lies on the cut's wrong side and the odds that one of the faults beyond it does, half and
half, say how often it misleads. Against a good unit of the same design a reading is off or it is
not, by more than both meters' and parts' tolerance. Where the cut misleads in more than `MISLEADS`,
and the comparison in less than half of that, the chart says to compare.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from engine.circuit.dictionary import Cell
from engine.evidence.make import values
from engine.evidence.scale import Floats
from engine.evidence.witness import SOUND, Witness
from engine.model.records import Test
from engine.readings.bands import Band, bands

MISLEADS = 0.1
"""Odds, sound and faulty alike, above which a cut parts no makes but one. Our choice."""
HALF = 0.5
"""What a comparison must leave of them at most to be worth it. Our choice."""
OFF = 0.07
"""How far a reading may lie from a like unit's: parts within 5 %, two meters within 1 %."""
LEAST_ODDS = 0.01
"""Faults beyond a cut that are rarer together are no reason for a line on paper. Our choice."""
_OVER = 1e12
"""Over range, in base units; of the algorithm."""


def needs_comparison(evidence: Witness, test: Test) -> bool:
    """Whether a measured test's band parts good from faulty on one make alone, and a comparison
    with a good unit would do it on all. O(faults x designs)."""
    dictionary, model = evidence.dictionary, evidence.model
    row = model.likelihood[test.id].get(SOUND, {})
    cell = None if dictionary is None else dictionary.cell(test.id, SOUND)
    whole = next((b for b in bands(test) if b.outcome == _likeliest(row)), None)
    if dictionary is None or cell is None or whole is None:
        return False
    weights = evidence.draws()
    sound = _numbers(cell, len(weights))
    sides: dict[bool, list[tuple[float, Floats]]] = {False: [], True: []}
    for fault in model.faults:
        own = dictionary.cell(test.id, fault.id)
        likely = _likeliest(model.row(test.id, fault.id))
        band = next((b for b in bands(test) if b.outcome == likely), None)
        if own is not None and band is not None and band != whole and evidence.read(test, fault.id):
            sides[band.low > whole.low].append((fault.prior, _numbers(own, len(weights))))
    return any(
        _misleads(whole, above, sound, weights, faults)
        for above, faults in sides.items()
        if sum(prior for prior, _ in faults) >= LEAST_ODDS
    )


def _misleads(
    whole: Band, above: bool, sound: Floats, weights: Floats, faults: list[tuple[float, Floats]]
) -> bool:
    """Whether the cut on one side of the sound band misleads, and a comparison would not."""
    priors = np.array([prior for prior, _ in faults])
    numbers = np.array([own for _, own in faults])
    shares = np.where(np.isnan(numbers), 0.0, priors[:, None] * weights)
    good = np.where(np.isnan(sound), 0.0, weights)
    if not shares.sum() > 0.0 or not good.sum() > 0.0:
        return False
    shares, good = shares / shares.sum(), good / good.sum()
    with np.errstate(invalid="ignore"):
        if above:
            off, unseen = sound >= whole.high, numbers < whole.high
            alike = numbers <= sound * (1.0 + OFF)
        else:
            off, unseen = sound < whole.low, numbers >= whole.low
            alike = numbers >= sound * (1.0 - OFF)
    cut = float(good[off].sum() + shares[unseen].sum()) / 2.0
    left = float(shares[alike].sum()) / 2.0
    return cut > MISLEADS and left <= HALF * cut


def _likeliest(row: Mapping[str, float]) -> str:
    return max(row, key=lambda outcome: row[outcome]) if row else ""


def _numbers(cell: Cell, count: int) -> Floats:
    """[N] a cell's readings by design, the nominal one first; not a number where there is none."""
    plain = [math.nan if v is None else min(v, _OVER) for v in values(cell)][:count]
    return np.array(plain + [math.nan] * (count - len(plain)))
