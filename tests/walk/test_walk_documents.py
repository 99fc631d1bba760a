"""Does the shipped schema take every walk that can be printed: each kind of step and of event?

The judge is the library jsonschema, which knows nothing of our classes.
"""

from __future__ import annotations

import json
from functools import partial
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from engine import library
from engine.model.records import Mains
from engine.planner import plan
from engine.walk import events, job, record
from engine.walk.events import Answered, Away, CannotDo, Known, Lacking, Measured, Traced, Unmended
from engine.walk.job import Outset, Question, Setting, Walk
from kb.language import formats

PLANNER = partial(plan, seconds=0.5)


def settled(walk: Walk) -> Walk:
    """With what is to be set up done, so that a question or the verdict is due."""
    while isinstance(step := job.pending(walk), Setting):
        walk = job.take(walk, step.event)
    return walk


def likeliest(walk: Walk, step: Question) -> str:
    """The answer expected most."""
    rows = {f: walk.model.row(step.test, f) for f, p in walk.belief.items() if p > 0}
    outcomes = [o.id for o in walk.model.test(step.test).outcomes]
    return max(outcomes, key=lambda o: sum(walk.belief[f] * row[o] for f, row in rows.items()))


@pytest.fixture(scope="module")
def walk() -> Walk:
    """A walk that meets each event: known, can't, lacking, traced, answers, away, did not help."""
    mains = Mains(230.0, 50.0)
    model = library.model("light-controlled-lamp", mains=mains, complaint="never-lights")
    here = job.begin(Outset(model), PLANNER)
    here = job.take(here, Known("good-lamp-at-owners", "lights"))
    here = job.take(here, Traced("control"))
    here = job.take(here, Lacking("supply", "normal-mains"))
    here = settled(here)
    step = job.pending(here)
    assert isinstance(step, Question)
    here = job.take(here, CannotDo(step.test))
    while True:
        here = settled(here)
        step = job.pending(here)
        if not isinstance(step, Question):
            break
        here = job.take(here, Answered(step.test, likeliest(here, step), "as told"))
        if sum(isinstance(event, Away) for event in here.events) == 0 and len(here.steps) > 8:
            here = job.take(here, Away())
    remedy = here.plan.nodes[here.node]
    return job.take(here, Unmended(remedy.remedy))


def valid(plain: Any) -> list[str]:
    """What the shipped schema says against a walk document."""
    schema = json.loads((formats.FOLDER / "walk.json").read_text("utf-8"))
    return [error.message for error in Draft202012Validator(schema).iter_errors(plain)]


def test_a_walk_with_every_kind_of_event_is_one(walk: Walk) -> None:
    """At each of its lengths, as it would be saved."""
    met = {events.plain(event)["event"] for event in walk.events}
    assert met == {
        "arrived", "known", "traced", "lacking", "cannot-do", "answered", "away", "unmended"
    }  # fmt: skip
    assert valid(json.loads(json.dumps(record.document(walk)))) == []


def test_every_kind_of_step_is_met(walk: Walk) -> None:
    """So that the schema is tried on each."""
    plain = record.document(walk)
    kinds = {step["kind"] for step in plain["steps"]}
    schema = json.loads((formats.FOLDER / "walk.json").read_text("utf-8"))
    assert kinds == set(schema["$defs"]["StepShape"]["properties"]["kind"]["enum"])


@pytest.mark.parametrize("store", [Measured("C1", 3.0), Measured("C1", None)])
def test_what_was_measured_is_read_again(store: Measured) -> None:
    """In volts, or out of reach."""
    told = events.Arrived(("driver-board",), "unplugged", "none", (store,))
    assert events.read(json.loads(json.dumps(events.plain(told))), "w.json") == told


def test_a_step_of_no_kind_is_refused(walk: Walk) -> None:
    """The schema does not let everything pass."""
    plain = json.loads(json.dumps(record.document(walk)))
    plain["steps"][0]["kind"] = "prayer"
    assert valid(plain)
