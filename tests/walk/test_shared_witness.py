"""Does a process that sits at many walks keep what is large once, and not once for each?"""

from __future__ import annotations

from dataclasses import replace
from functools import cache, partial

from engine import library
from engine.model.records import Mains, Model
from engine.planner import plan
from engine.walk import job
from engine.walk.events import Answered
from engine.walk.job import Outset, Question, Setting, Walk
from render.cli.testifying import witness_for

PLANNER = partial(plan, seconds=0.0, effort=1e7)


@cache
def lamp(complaint: str | None = None) -> Model:
    """A lamp whose circuit was read, to the stage."""
    return library.model(
        "capacitor-dropper-lamp", mains=Mains(230, 50), depth="stage", complaint=complaint
    )


def walked(answers: int) -> Walk:
    """A walk as a server begins it, with some answers."""
    walk = job.begin(Outset(lamp(), witness=witness_for(lamp())), PLANNER)
    while answers:
        match job.pending(walk):
            case Setting() as setting:
                walk = job.take(walk, setting.event)
            case Question(test):
                walk = job.take(walk, Answered(test, lamp().test(test).outcomes[0].id))
                answers -= 1
            case _:
                break
    return walk


def test_walks_of_one_model_share_the_tables_of_its_readings() -> None:
    """The second makes none that the first has made."""
    first = walked(3)
    tables = first.outset.joint.witness.tables
    assert tables
    before = {name: id(table) for name, table in tables.items()}
    second = walked(3)
    assert second.outset.joint.witness is first.outset.joint.witness
    assert {name: id(table) for name, table in tables.items()} == before


def test_a_walk_weighs_the_same_whoever_made_the_tables() -> None:
    """Against a witness of its own."""
    from engine.evidence.witness import load_witness

    walk = walked(4)
    alone = job.resume(Outset(lamp(), witness=load_witness(lamp())), walk.events, PLANNER)
    assert alone.belief == walk.belief


def test_a_unit_of_which_more_is_known_has_a_witness_of_its_own() -> None:
    """As has another model."""
    plain = witness_for(lamp())
    assert witness_for(lamp(), ["R1=100 ohm"]) is not plain
    assert witness_for(lamp("dim")) is not plain
    assert witness_for(lamp()) is plain


def test_few_are_kept() -> None:
    """Those used last."""
    models = [replace(lamp(), complaint=f"complaint-{number}") for number in range(9)]
    first = witness_for(lamp())
    for model in models:
        witness_for(model)
    assert witness_for(lamp()) is not first
