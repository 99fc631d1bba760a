"""A part that the unit does not have: its faults and its tests go, and nothing else does."""

from __future__ import annotations

import copy
import json
from dataclasses import replace

import pytest

from engine import library
from engine.audit import audit_walk
from engine.model.records import Mains, document
from engine.planner import plan
from engine.walk import fitting, job, record, undo
from engine.walk.events import Known, NotFitted
from engine.walk.job import Outset, Walk
from kb.trouble import TroubleError


@pytest.fixture(scope="module")
def begun() -> Walk:
    """The plain lamp before its first question."""
    model = library.model("buck-lamp", mains=Mains(230.0, 50.0), complaint="never-lights")
    return job.begin(
        Outset(model), lambda model, /, **brief: plan(model, seconds=1.0, **brief)
    )


def of_part(walk: Walk, part: str) -> set[str]:
    """The faults that a part has a share in."""
    return {f.id for f in walk.model.faults if part in {own.part for own in f.parts}}


def test_its_faults_go_and_the_others_keep_their_odds(begun: Walk) -> None:
    """Bayes' rule for a part that is certainly not there: 0 for its own, the rest made to sum to
    1."""
    after = job.take(begun, NotFitted("RV1"))
    gone = of_part(begun, "RV1")
    left = 1.0 - sum(begun.belief[fault] for fault in gone)
    for fault, odds in after.belief.items():
        assert odds == pytest.approx(0.0 if fault in gone else begun.belief[fault] / left)
    assert not gone & after.suspects


def test_nothing_is_asked_of_it_any_more(begun: Walk) -> None:
    """Neither in circuit nor with a leg lifted."""
    after = job.take(begun, NotFitted("RV1"))
    assert {test.id for test in begun.model.tests if test.on == "RV1"} <= after.withdrawn
    assert all(step.test not in ("ohms-RV1", "lifted-RV1") for step in after.steps)


def test_a_fuse_that_is_not_there_was_not_taken_along(begun: Walk) -> None:
    """Faults that it would share with another part go with it."""
    after = job.take(begun, NotFitted("R1"))
    assert after.belief["U1Q-short-took-R1"] == 0.0
    assert after.belief["U1Q-short"] > begun.belief["U1Q-short"]


def test_it_can_be_taken_back(begun: Walk) -> None:
    after = undo.undo(job.take(begun, NotFitted("RV1")))
    assert after.belief == begun.belief
    assert after.withdrawn == begun.withdrawn


@pytest.mark.parametrize("part", ["R77", "", "no-fault"])
def test_a_part_that_no_test_is_done_to_is_refused(begun: Walk, part: str) -> None:
    with pytest.raises(TroubleError, match="WK136"):
        job.take(begun, NotFitted(part))


def test_what_only_this_part_explains_is_told(begun: Walk) -> None:
    """Nothing would be left: the answer or the part is mistaken."""
    only = {fault: float(fault == "RV1-short") for fault in begun.belief}
    with pytest.raises(TroubleError, match="WK137"):
        fitting.without_part(replace(begun, belief=only), "RV1")


def test_the_document_is_audited_and_read_again(begun: Walk) -> None:
    after = job.take(job.take(begun, NotFitted("RV1")), Known("look-leds", "nothing"))
    plain = json.loads(json.dumps(record.document(after)))
    model = document(after.model)
    under_way = {"AU404"}  # no verdict yet
    assert {breach.code for breach in audit_walk(model, plain)} <= under_way
    assert record.reopen(plain, "walk").events == after.events
    wrong = copy.deepcopy(plain)
    wrong["steps"][0]["factors"]["R1-open"] = 0.0
    assert "AU406" in {breach.code for breach in audit_walk(model, wrong)}
