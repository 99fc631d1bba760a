"""Do volts across the dropper tell next to nothing, and ohms unplugged what they can't?

The closed form: a rail at 3.0 V in place of 5.1 V raises the drop by 1.0 % at 230 V with 470 kΩ
and by 2.0 % at 120 V with 220 kΩ (computed), inside the resistor's 5 %; a drifted dropper shows the
same drop.
"""

from __future__ import annotations

import math
from statistics import median

import pytest

from engine import library
from engine.electrics.dropper import resistor_feed
from engine.evidence.joint import Joint
from engine.evidence.make import values
from engine.evidence.meaning import meaning
from engine.evidence.telling import Drop, drop
from engine.evidence.witness import SOUND, load_witness
from engine.model.records import Mains
from engine.readings import bands


@pytest.fixture(scope="module")
def starved() -> Drop:
    """The drop with the rail of the light-controlled lamp at 1.0 V on 230 V and its bus in order.

    Where the bus itself is gone the drop goes with it, and says so; the usual check is made on a
    rail that starves under a sound bus: one that stands at nine tenths of its own or more in
    most sampled units.
    """
    model = library.model("light-controlled-lamp", mains=Mains(230, 50))
    test, bus = model.test("volts-TP2"), model.test("volts-TP4")
    witness = load_witness(model)
    dictionary = witness.dictionary
    assert dictionary is not None
    meant = meaning(
        witness, bands.read("1.0 V", test, model.arrangement(test.supply)), seconds=0.2
    )
    sound = dictionary.cell(bus.id, SOUND)
    assert sound is not None

    def stands(fault: str) -> bool:
        cell = dictionary.cell(bus.id, fault)
        pairs = zip(values(cell), values(sound), strict=True) if cell else ()
        ratios = [volts / own for volts, own in pairs if volts is not None and own]
        return bool(ratios) and median(ratios) >= 0.9

    fed = {fault: p for fault, p in meant.posterior.items() if stands(fault)}
    fits = {one.fault: one.fits for one in meant.explanations}
    volts = drop(witness, test, fed, fits)
    assert volts is not None
    return volts


def test_the_drop_stays_within_the_resistor_s_tolerance(starved: Drop) -> None:
    """Whatever starves the rail under a sound bus, the drop is within 5 % of a sound unit's."""
    for volts in (starved.low, starved.high):
        assert abs(volts / starved.due - 1.0) < starved.tolerance


def test_the_drop_tells_almost_no_bits(starved: Drop) -> None:
    """Under a tenth of what is in question; another check tells several times as much."""
    assert starved.bits < 0.1 * starved.open_bits
    assert starved.others[0][1] > 5 * starved.bits


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
