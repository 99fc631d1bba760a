"""What a person at the bench is told in full, and what the bench's mark stands for afterwards."""

from __future__ import annotations

from dataclasses import replace

from engine.model.records import Caution, Model, Rig
from engine.planner import plan
from engine.walk import job, warned
from engine.walk.events import Answered, Arrived, Away, Measured
from engine.walk.job import Outset, Walk
from tests.safety.test_stores import CLIP, LID, OUTPUT, TRAY, cabinet


def warning() -> Model:
    """A unit whose arrangements, rig and checks each warn of something."""
    model = cabinet(OUTPUT)
    cautions = tuple(
        Caution(name, name, "WARNING", f"Mind the {name}")
        for name in ("charge", "mains", "lead", "light")
    )
    arrangements = tuple(
        replace(a, cautions=("charge",) if a.energy == "none" else ("mains",))
        for a in model.supply.arrangements
    )
    tests = tuple(replace(test, cautions=("charge", "light")) for test in model.tests)
    rig = Rig(CLIP.id, CLIP.minutes, True, cautions=("charge", "lead"))
    return replace(
        model, cautions=cautions, tests=tests, rigs=(model.rigs[0], rig),
        supply=replace(model.supply, arrangements=arrangements),
    )  # fmt: skip


def opened() -> Walk:
    walk = job.begin(Outset(warning()), plan)
    low = (Measured("C2", 1.0),)
    return job.take(walk, Arrived((LID, TRAY), "dead", "none", low))


def test_what_was_told_as_the_unit_was_opened_is_not_told_again_at_its_checks() -> None:
    assert warned.at_test(opened(), "tray") == ("light",)


def test_a_check_that_is_done_once_more_repeats_nothing() -> None:
    walk = job.take(opened(), Answered("tray", "good"))
    assert "light" in warned.standing(walk)


def test_a_new_supply_tells_everything_anew() -> None:
    walk = job.take(opened(), Arrived((LID, TRAY), "limited", "none"))
    assert warned.standing(walk) == {"mains"}
    assert warned.at_test(walk, "powered") == ("charge", "light")


def test_a_rig_tells_what_is_its_own() -> None:
    walk = job.take(opened(), Arrived((LID, TRAY), "dead", "clip"))
    assert warned.standing(walk) == {"charge", "lead"}


def test_whoever_comes_back_is_told_anew() -> None:
    walk = job.take(opened(), Away())
    assert warned.standing(walk) == frozenset()
    due = job.pending(walk)
    assert isinstance(due, job.Setting)
    assert warned.at_setup(walk, due) == ("charge",)
