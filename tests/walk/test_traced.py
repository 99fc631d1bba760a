"""When somebody has a drawing after all: the walk goes on with it, and can take it back."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from engine.audit import audit_walk
from engine.model.records import Model, Opening, document
from engine.planner import plan
from engine.walk import job, record, undo
from engine.walk.events import Answered, Traced
from engine.walk.job import Outset, Question, Setting, Walk, pending
from kb.trouble import TroubleError
from tests.models import simple_test, tiny_model

SHELL = Opening("shell", 3.0)
TRACE = Opening("trace-control", 10.0, ("shell",), "trace the control", kind="tracing",
                stage="control")  # fmt: skip


def unit() -> Model:
    """Two faults that only a part behind a tracing tells apart, and one seen in the shell."""
    seen, read = simple_test("seen"), simple_test("read")
    tests = (
        replace(seen, opened=("shell",)), replace(read, opened=("shell", "trace-control"))
    )  # fmt: skip
    rows = {
        "seen": {"a": "bad", "b": "good", "c": "good"},
        "read": {"a": "good", "b": "bad", "c": "good"},
    }
    return tiny_model({"a": 1, "b": 1, "c": 1}, tests, rows, openings=(SHELL, TRACE))


def walked(walk: Walk, answers: dict[str, str]) -> Walk:
    """The walk carried to its verdict."""
    while (step := pending(walk)) is not None:
        if isinstance(step, Setting):
            walk = job.take(walk, step.event)
        elif isinstance(step, Question):
            walk = job.take(walk, Answered(step.test, answers[step.test]))
    return walk


ANSWERS = {"seen": "good", "read": "bad"}


def test_a_drawing_at_hand_spares_its_minutes() -> None:
    """Ten of them, whenever it is told before."""
    begun = job.begin(Outset(unit()), plan)
    plain = walked(begun, ANSWERS)
    drawn = walked(job.take(begun, Traced("control")), ANSWERS)
    assert plain.minutes - drawn.minutes == pytest.approx(10)
    assert [step.thing for step in drawn.steps if step.kind == "traced"] == ["control"]
    assert "traced already" in drawn.model.opening("trace-control").says


def test_it_is_taken_back_like_any_answer() -> None:
    """Undone, tracing costs what it did."""
    begun = job.begin(Outset(unit()), plan)
    back = undo.undo(job.take(begun, Traced("control")))
    assert back.model == begun.model
    assert walked(back, ANSWERS).minutes == walked(begun, ANSWERS).minutes


def test_it_is_saved_and_the_audit_reckons_with_it() -> None:
    """The walk document tells it as a step and as an event."""
    walk = walked(job.take(job.begin(Outset(unit()), plan), Traced("control")), ANSWERS)
    told = record.document(walk)
    assert [step["stage"] for step in told["steps"] if step["kind"] == "traced"] == ["control"]
    assert list(audit_walk(document(walk.outset.model), json.loads(json.dumps(told)))) == []
    saved = record.reopen(json.loads(json.dumps(told)), "saved walk")
    assert job.replay(walk.outset, saved.events, plan).minutes == walk.minutes


def test_the_audit_sees_minutes_that_no_drawing_spares() -> None:
    """Where the document does not say that there is one."""
    walk = walked(job.take(job.begin(Outset(unit()), plan), Traced("control")), ANSWERS)
    told = record.document(walk)
    told["steps"] = [step for step in told["steps"] if step["kind"] != "traced"]
    codes = {breach.code for breach in audit_walk(document(walk.outset.model), told)}
    assert "AU402" in codes


def test_a_stage_that_needs_no_drawing_is_refused() -> None:
    """With the ones that do."""
    with pytest.raises(TroubleError, match="WK130") as refused:
        job.take(job.begin(Outset(unit()), plan), Traced("driver"))
    assert "control" in str(refused.value)
