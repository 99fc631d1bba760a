"""Do odds move smoothly with a reading? Few sampled units must not make lumpy densities."""

from itertools import pairwise
from statistics import median

import pytest

from engine import library
from engine.evidence import Joint, load_witness
from engine.readings import bands, belief
from tests.circuit.shipped_units import MAINS

STEP_VOLTS, MOST_VOLTS = 0.05, 6.0
FARTHEST, MIDDLE = 0.33, 0.06
"""Shares of all odds that may change hands over a twentieth of a volt; our choice, a third more
than was seen when the readings were derived."""


def swept(mains):
    """Odds by fault for each reading of the control rail from 0 V up."""
    model = library.model("light-controlled-lamp", mains=mains)
    joint, test = Joint(load_witness(model)), model.test("volts-TP2")
    supply = model.arrangement(test.supply)
    prior = {fault.id: fault.prior for fault in model.faults}
    for number in range(round(MOST_VOLTS / STEP_VOLTS) + 1):
        told = joint.weigh(bands.read(f"{number * STEP_VOLTS:.3f} V", test, supply))
        yield belief.weigh(prior, told.factors)


@pytest.mark.parametrize("mains", MAINS, ids=lambda mains: f"{mains.volts:g}")
def test_a_twentieth_of_a_volt_on_the_rail_moves_a_small_share_of_the_odds(mains):
    """Total variation between neighbouring readings, at most and in the middle."""
    moves = [
        sum(abs(now[fault] - before[fault]) for fault in now) / 2
        for before, now in pairwise(swept(mains))
    ]
    assert max(moves) < FARTHEST
    assert median(moves) < MIDDLE
    assert sum(moves) > 1.0
