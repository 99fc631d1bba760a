"""Is a unit kept from the mains, or from the bench, when the entry check says so?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from engine.model import EntryQuestion, Model, Remedy
from engine.planner import plan
from engine.walk import entry, job, prepared
from engine.walk.job import Outset
from kb.trouble import TroubleError
from tests.models import stage_chain

QUESTIONS = (
    EntryQuestion("kind", "Is it one of these?", {"no": "go-on", "yes": "refuse"}, "Not ours."),
    EntryQuestion("wet", "Is it wet?", {"dry": "go-on", "wet": "scrap"}, "Water stays."),
    EntryQuestion(
        "bang", "Did it go with a bang?", {"no": "go-on", "bang": "cold-first", "rcd": "cold-only"}
    ),
)


def model() -> Model:
    """A unit with tests on plain mains, on limited mains and unplugged."""
    return replace(stage_chain(3, faults=10, tests=40), entry=QUESTIONS)


@pytest.mark.parametrize(
    ("answers", "decision"),
    [
        ({}, "go-on"),
        ({"kind": "no", "wet": "dry", "bang": "no"}, "go-on"),
        ({"bang": "bang"}, "cold-first"),
        ({"bang": "rcd"}, "cold-only"),
        ({"wet": "wet", "bang": "bang"}, "scrap"),
        ({"kind": "yes", "wet": "wet"}, "refuse"),
        ({"bang": "rcd", "kind": "yes"}, "refuse"),
    ],
)
def test_the_gravest_answer_decides(answers: Mapping[str, str], decision: str) -> None:
    """In whatever order they were given."""
    assert entry.admit(model(), answers).decision == decision


@pytest.mark.parametrize(
    ("decision", "admitted"),
    [("go-on", True), ("cold-first", True), ("cold-only", True), ("scrap", False),
     ("refuse", False)],
)  # fmt: skip
def test_only_scrap_and_refuse_end_the_job(decision: str, admitted: bool) -> None:
    """The others go on, more carefully."""
    assert entry.Admission(decision).admitted is admitted


@pytest.mark.parametrize("answers", [{"kind": "maybe"}, {"colour": "blue"}])
def test_an_entry_answer_that_is_none_is_told(answers: Mapping[str, str]) -> None:
    """Unknown question or unknown answer."""
    with pytest.raises(TroubleError, match="WK11"):
        entry.admit(model(), answers)


@pytest.mark.parametrize(
    ("answer", "met"), [("no", {"dead", "bench", "limited", "socket"}),
                        ("bang", {"dead", "bench", "limited"}), ("rcd", {"dead", "bench"})],
)  # fmt: skip
def test_a_barred_supply_is_never_met(answer: str, met: set[str]) -> None:
    """Over the walks of every fault, answered by true readings."""
    unit = model()
    admission = entry.admit(unit, {"bang": answer})
    outset = Outset(unit, entry.barred_tests(unit, admission), admission.answers)
    begun = job.begin(outset, plan)
    stood = set()
    for fault in unit.faults:
        answers = {
            test.id: prepared.Answer(test.id, ((next(iter(unit.row(test.id, fault.id))), 1.0),))
            for test in unit.tests
        }
        walk = prepared.work_through(begun, answers)
        stood |= {step.bench.supply for step in walk.steps}
    assert stood <= met
    assert {t.supply for t in unit.tests if t.id not in outset.withdrawn} <= met


def test_the_models_own_scrap_remedy_is_named() -> None:
    """So that the walk document ends in a remedy."""
    unit = model()
    scrap = Remedy("scrap-it", "Scrap it", "scrap", 2.0, ())
    unit = replace(unit, remedies=(*unit.remedies, scrap))
    assert entry.remedy_for(unit, entry.admit(unit, {"wet": "wet"})) == scrap
    assert entry.remedy_for(unit, entry.admit(unit, {"kind": "yes"})) is None


def test_after_a_bang_the_cold_checks_come_before_anything_energised() -> None:
    """Whatever the plan would rather do first; and once they are done the plan goes on."""
    unit = model()
    admission = entry.admit(unit, {"bang": "bang"})
    cold = entry.cold_checks(unit, admission)
    assert cold
    outset = Outset(unit, entry.barred_tests(unit, admission), admission.answers, cold_first=cold)
    for fault in unit.faults:
        answers = {
            test.id: prepared.Answer(test.id, ((next(iter(unit.row(test.id, fault.id))), 1.0),))
            for test in unit.tests
        }
        walk = prepared.work_through(job.begin(outset, plan), answers)
        seen: set[str] = set()
        for step in walk.steps:
            if unit.arrangement(step.bench.supply).energy in ("mains", "hvdc"):
                assert cold <= seen
            seen |= {step.test or ""}
        assert walk.ended


def test_a_cold_check_that_cannot_be_done_holds_nothing_up() -> None:
    """No meter at hand: the limiter it is."""
    unit = model()
    admission = entry.admit(unit, {"bang": "bang"})
    cold = entry.cold_checks(unit, admission)
    outset = Outset(unit, entry.barred_tests(unit, admission), cold_first=cold)
    walk = prepared.work_through(job.begin(outset, plan), {})
    assert walk.ended


def test_a_unit_admitted_as_usual_has_no_cold_checks_to_wait_for() -> None:
    """The plan decides alone."""
    assert entry.cold_checks(model(), entry.admit(model(), {"bang": "no"})) == frozenset()
