"""Does what comes off a rig read as coming off, whatever words it goes on by?"""

from __future__ import annotations

import pytest

from engine import library
from engine.model.records import Mains, document
from render.wording.unrigging import removal

TOPOLOGIES = [topology.id for topology in library.topologies()]


@pytest.mark.parametrize(
    ("fitted", "comes_off"),
    [
        ("clip the meter across TP4 (bulk) and cover the light sensor",
         "take the meter's clips off TP4 (bulk) and uncover the light sensor"),
        ("clip the meter across TP1 (plus and minus)",
         "take the meter's clips off TP1 (plus and minus)"),
        ("bridge Q1 with a clip lead", "take the clip lead off Q1"),
        ("feed the gate from a floating battery", "take the floating battery off the gate"),
        ("lift one leg of R6", "solder the lifted leg of R6 back"),
        ("Sensor covered with tape", "undo: Sensor covered with tape"),
    ],
)  # fmt: skip
def test_each_doing_is_turned_round(fitted: str, comes_off: str) -> None:
    assert removal({"id": "r", "says": fitted}) == comes_off


def test_its_own_words_come_first() -> None:
    assert removal({"id": "r", "says": "bridge Q1", "off": "lead off."}) == "lead off"


def test_what_the_next_rig_has_too_stays_on() -> None:
    worn = {"id": "a", "says": "clip the meter across TP4 and cover the light sensor"}
    then = {"id": "b", "says": "clip the meter across TP1 and cover the light sensor"}
    assert removal(worn, then) == "take the meter's clips off TP4"


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_no_shipped_rig_comes_off_by_being_fitted(topology: str) -> None:
    made = document(library.model(topology, mains=Mains(230.0, 50.0), depth="part"))
    for rig in made["rigs"]:
        if rig["id"] != made["start"]["rig"]:
            assert not removal(rig).startswith(("undo", "take off: ", "clip ", "cover "))
