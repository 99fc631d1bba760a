"""Does what is read off the unit change what readings say?"""

from __future__ import annotations

import pytest

from engine.evidence import witness
from engine.planner import plan
from engine.walk import job, record
from engine.walk.acquaintance import reacquaint
from engine.walk.events import Known
from engine.walk.job import Outset, Walk
from kb.quantities import read_quantity
from kb.trouble import TroubleError
from tests.sampled_rail import rail_model, rail_readings

LISTED = {"R2": read_quantity("470 kΩ")}


@pytest.fixture
def begun() -> Walk:
    """The rail before anything was read, its readings weighed by the circuit."""
    model = rail_model()
    return job.begin(Outset(model, witness=witness(model, rail_readings())), plan)


def test_a_marking_weighs_readings_anew(begun: Walk) -> None:
    """1.1 MΩ was 2.3 times 470 kΩ; against a marking of 330 kΩ it is what the weak feed reads."""
    told = job.take(begun, Known("feed", "above", "1.1 MΩ"))
    after = reacquaint(told, ["R2=330k"], LISTED)
    assert after.events == told.events
    assert after.belief["feed-weak"] > told.belief["feed-weak"]


def test_a_marking_is_saved_with_the_walk(begun: Walk) -> None:
    """As the option that gives it, so that a resumed walk knows it, too."""
    after = reacquaint(reacquaint(begun, ["R2=330k"], LISTED), ["rail=4.5V"], LISTED)
    assert record.document(after)["options"]["values"] == "R2=330k\nrail=4.5V"


def test_a_good_unit_s_reading_is_what_is_due(begun: Walk) -> None:
    """4.4 V is sounder where an identical good unit reads 4.4 V."""
    told = job.take(begun, Known("rail", "as-due", "4.4 V"))
    after = reacquaint(told, ["rail=4.4V"], LISTED)
    assert after.belief["no-fault"] > told.belief["no-fault"]


@pytest.mark.parametrize(
    ("typed", "code"), [("R2", "EV102"), ("R9=3k", "EV101"), ("R2=4k7", "EV103")]
)
def test_what_is_no_marking_gets_a_sentence(begun: Walk, typed: str, code: str) -> None:
    """And the walk stays as it was."""
    with pytest.raises(TroubleError) as wrong:
        reacquaint(begun, [typed], LISTED)
    assert [trouble.code for trouble in wrong.value.troubles] == [code]
