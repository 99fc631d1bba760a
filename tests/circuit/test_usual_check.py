"""Do volts across the dropper tell next to nothing, and ohms unplugged what they can't?

The closed form: a rail at 3.0 V in place of 5.1 V raises the drop by 1.0 % at 230 V with 470 kΩ
and by 2.0 % at 120 V with 220 kΩ (computed), inside the resistor's 5 %; a drifted dropper shows the
same drop.
"""

from __future__ import annotations

import math

import pytest

from engine import library
from engine.electrics.dropper import resistor_feed
from engine.evidence.joint import Joint
from engine.evidence.meaning import Meaning, meaning
from engine.evidence.witness import load_witness
from engine.model.records import Mains
from engine.readings import bands


@pytest.fixture(scope="module")
def starved() -> Meaning:
    """The rail of the light-controlled lamp read at 1.0 V on 230 V."""
    model = library.model("light-controlled-lamp", mains=Mains(230, 50))
    test = model.test("volts-TP2")
    answer = bands.read("1.0 V", test, model.arrangement(test.supply))
    return meaning(load_witness(model), answer, seconds=0.2)


def test_the_drop_stays_within_the_resistor_s_tolerance(starved: Meaning) -> None:
    """Whatever starves the rail, the simulated drop is within 5 % of a sound unit's."""
    assert starved.drop is not None
    for volts in (starved.drop.low, starved.drop.high):
        assert abs(volts / starved.drop.due - 1.0) < starved.drop.tolerance


def test_the_drop_tells_almost_no_bits(starved: Meaning) -> None:
    """Under a tenth of what is in question; another check tells several times as much."""
    assert starved.drop is not None
    assert starved.drop.bits < 0.1 * starved.drop.open_bits
    assert starved.drop.others[0][1] > 5 * starved.drop.bits


def test_ohms_unplugged_tell_feed_from_load() -> None:
    """A megohm in place of 470 kΩ: the feed is in it, the loads are out."""
    model = library.model(
        "light-controlled-lamp", mains=Mains(230, 50), having=library.everything()
    )
    found = Joint(load_witness(model)).weigh(bands.read("2.2 MΩ", model.test("ohms-R2")))
    assert found is not None
    fed = "rail-current-control"
    loads = [f.id for f in model.faults if model.row(fed, f.id).get("heavy", 0.0) > 0.5]
    feed = max(found.factors[f.id] for f in model.faults if f.id.startswith("R2-drifted"))
    assert len(loads) >= 3
    assert all(feed > 10 * found.factors[load] for load in loads)


@pytest.mark.parametrize(("volts", "ohms", "more"), [(230.0, 470e3, 0.010), (120.0, 220e3, 0.020)])
def test_the_closed_form_says_so(volts: float, ohms: float, more: float) -> None:
    """From 5.1 V down to 3.0 V on the rail."""
    due, low = (resistor_feed(volts, ohms, held, 0.0).drop_volts for held in (5.1, 3.0))
    assert math.isclose(low / due - 1.0, more, abs_tol=0.0015)
