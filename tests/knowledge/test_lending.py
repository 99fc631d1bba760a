"""A good part clipped across one of the unit: what it helps, and what it leaves as it was.

Source of what is expected: common practice, no source. In parallel a sound capacitor makes up for
one that lost its capacitance or opened, and a sound resistor for one that opened or drifted up
(parallel admittances add: any text on circuits); a short or a leak stays beside it.
"""

from __future__ import annotations

import pytest

from engine import library
from engine.model.records import Mains, Model


@pytest.fixture(scope="module", params=[(230.0, 50.0), (120.0, 60.0)], ids=["230", "120"])
def lamp(request: pytest.FixtureRequest) -> Model:
    return library.model("buck-lamp", mains=Mains(*request.param))


def works(model: Model, test: str, fault: str) -> float:
    return model.row(test, fault).get("as-it-should", 0.0)


@pytest.mark.parametrize("fault", ["C2-open", "C2-worn-flat", "C2-worn-bulged"])
def test_a_good_capacitor_makes_up_for_lost_capacitance(lamp: Model, fault: str) -> None:
    assert works(lamp, "light-with-one-across-C2", fault) > 0.9


@pytest.mark.parametrize(
    "fault", ["C2-short", "C2-leaky-far", "U1-improper-weak", "U1-none", "R4-open", "L2-open"]
)
def test_it_helps_nothing_else(lamp: Model, fault: str) -> None:
    assert works(lamp, "light-with-one-across-C2", fault) < 0.1


@pytest.mark.parametrize("fault", ["R4-open", "R4-drifted"])
def test_a_good_resistor_makes_up_for_one_that_opened_or_drifted(lamp: Model, fault: str) -> None:
    assert works(lamp, "light-with-one-across-R4", fault) > 0.9
    assert works(lamp, "light-with-one-across-R4", "C2-open") < 0.1


def test_it_is_live_and_taken_off_before_the_unit_goes_back(lamp: Model) -> None:
    test = lamp.test("light-with-one-across-C2")
    rig = next(rig for rig in lamp.rigs if rig.id == test.rig)
    assert rig.hands_on
    assert rig.off
    assert "Unplugged" in rig.how
    assert test.hazards


def test_whoever_clips_a_capacitor_on_is_told_that_it_bursts_the_wrong_way_round(
    lamp: Model,
) -> None:
    cautions = {rig.id: rig.cautions for rig in lamp.rigs}
    assert "bursting-capacitor" in cautions["one-across-C2"]
    assert "bursting-capacitor" not in cautions["one-across-R4"]
