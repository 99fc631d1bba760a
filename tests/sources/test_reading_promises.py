"""Are readings held against what makers promise?

Comparator 393/2903: supply 2 to 36 V, inputs 0 to V+ − 1.5 V at 25 °C and V+ − 2.0 V over
temperature; right with one input inside (data sheets of the 393 and 2903 class). At 3.0 V
that is inputs to 1.5 V (1.0 V), at 5.1 V to 3.6 V (3.1 V), computed.
"""

from __future__ import annotations

import pytest

from engine import library
from engine.evidence.limits import PromiseCheck, check_promises
from engine.model.records import Mains, Model


@pytest.fixture(scope="module")
def lamp() -> Model:
    """The lamp whose control rail feeds a comparator."""
    return library.model("light-controlled-lamp", mains=Mains(230, 50))


def promises(lamp: Model, volts: float, part: str = "U2") -> list[PromiseCheck]:
    """What a rail voltage says of one part's promises."""
    return [one for one in check_promises(lamp, lamp.test("volts-TP2"), volts) if one.part == part]


def test_under_two_volts_nothing_is_promised(lamp: Model) -> None:
    """1.9 V on the rail."""
    found = promises(lamp, 1.9)
    assert [one.is_kept for one in found] == [False]
    assert "2 V" in found[0].says


@pytest.mark.parametrize(("volts", "room", "hot"), [(3.0, "1.5 V", "1 V"), (5.1, "3.6 V", "3.1 V")])
def test_the_window_follows_the_rail(lamp: Model, volts: float, room: str, hot: str) -> None:
    """And one input inside is enough: the threshold's divider keeps it there."""
    supply, inputs = promises(lamp, volts)
    assert supply.is_kept
    assert f"to {room} at 25 °C, {hot} hot or cold" in inputs.says
    assert inputs.is_kept
    assert "one is always inside" in inputs.says


def test_the_threshold_is_reckoned_from_its_divider(lamp: Model) -> None:
    """470 kΩ over 100 kΩ with 1 MΩ to the output: at 3 V from 0.49 V to 0.71 V, computed."""
    inputs = promises(lamp, 3.0)[1]
    assert "the input at R4, R5, R6 between 0.486 V and 0.715 V" in inputs.says


def test_a_capacitor_is_held_to_its_rating(lamp: Model) -> None:
    """16 V on the rail's capacitor: 17 V is too much, 5 V is not."""
    assert [one.is_kept for one in promises(lamp, 17.0, "C2")] == [False]
    assert [one.is_kept for one in promises(lamp, 5.0, "C2")] == [True]
