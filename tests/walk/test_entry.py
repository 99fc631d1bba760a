"""Is a unit kept from the mains, or from the bench, when the entry check says so?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from engine import library
from engine.model.notes import EntryQuestion
from engine.model.records import Mains, Model, Remedy
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


BANG = EntryQuestion("bang", "Did it trip?", {"no": "go-on", "rcd": "cold-first"})
AFTER_A_TRIP = EntryQuestion(
    "insulation", "Does its insulation hold?",
    {"passes": "go-on", "fails": "scrap", "no tester": "cold-only"},
    complaints=("trips",), after={"bang": ("rcd",)},
)  # fmt: skip


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
    assert entry.Admission(decision).is_admitted is admitted


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
        assert walk.is_ended


def test_a_cold_check_that_cannot_be_done_holds_nothing_up() -> None:
    """No meter at hand: the limiter it is."""
    unit = model()
    admission = entry.admit(unit, {"bang": "bang"})
    cold = entry.cold_checks(unit, admission)
    outset = Outset(unit, entry.barred_tests(unit, admission), cold_first=cold)
    walk = prepared.work_through(job.begin(outset, plan), {})
    assert walk.is_ended


def test_a_unit_admitted_as_usual_has_no_cold_checks_to_wait_for() -> None:
    """The plan decides alone."""
    assert entry.cold_checks(model(), entry.admit(model(), {"bang": "no"})) == frozenset()


# ---- questions that only some complaints or answers bring up ----


def tripping(complaint: str | None = None, **answers: str) -> Model:
    """A unit whose check has a question about a trip; its own answers may be given anew."""
    question = replace(AFTER_A_TRIP, answers=answers) if answers else AFTER_A_TRIP
    return replace(model(), entry=(*QUESTIONS[:2], BANG, question), complaint=complaint)


@pytest.mark.parametrize(
    ("complaint", "answers", "due"),
    [
        (None, {}, False),
        (None, {"bang": "no"}, False),
        (None, {"bang": "rcd"}, True),
        ("dim", {"bang": "rcd"}, True),
        ("trips", {}, True),
        ("trips", {"bang": "no"}, True),
        ("dim", {"bang": "rcd", "insulation": "passes"}, False),
    ],
)
def test_a_conditional_question_is_due_by_complaint_or_by_answer(
    complaint: str | None, answers: Mapping[str, str], due: bool
) -> None:
    """Either suffices, whatever else the owner complains of; one that is answered is not due."""
    left = entry.outstanding(tripping(complaint), answers)
    assert (AFTER_A_TRIP.id in {question.id for question in left}) is due


@pytest.mark.parametrize(
    ("complaint", "answers", "decision"),
    [
        ("dim", {"bang": "rcd"}, "cold-only"),
        ("trips", {}, "cold-only"),
        ("dim", {"bang": "rcd", "insulation": "passes"}, "cold-first"),
        ("dim", {"bang": "rcd", "insulation": "no tester"}, "cold-only"),
        ("dim", {"bang": "rcd", "insulation": "fails"}, "scrap"),
        ("dim", {"bang": "no"}, "go-on"),
    ],
)
def test_a_trip_without_a_word_of_the_insulation_stays_cold(
    complaint: str, answers: Mapping[str, str], decision: str
) -> None:
    """Silence is no pass; after a pass the trip still keeps it off the plain mains."""
    assert entry.admit(tripping(complaint), answers).decision == decision


def test_silence_keeps_a_unit_cold_though_no_answer_would() -> None:
    """A check of another maker that knows only pass and scrap; one that only asks holds nothing."""
    strict = tripping("trips", passes="go-on", fails="scrap")
    idle = tripping("trips", yes="go-on", no="go-on")
    assert entry.admit(strict, {}).decision == "cold-only"
    assert entry.admit(idle, {}).decision == "go-on"


def test_an_answer_counts_though_nobody_asked() -> None:
    """Insulation that failed is a unit for the bin, trip or no trip."""
    assert entry.admit(tripping("dim"), {"insulation": "fails"}).decision == "scrap"


def test_questions_left_open_are_told() -> None:
    """The usual ones count as passed, and are listed all the same."""
    admission = entry.admit(tripping("dim"), {"kind": "no", "bang": "rcd"})
    assert [question.id for question in admission.unanswered] == ["wet", "insulation"]


def test_after_a_trip_without_the_insulation_test_no_walk_meets_mains() -> None:
    """With any complaint: over the walks of every fault, answered by true readings."""
    for complaint in (None, "dim", "trips"):
        unit = tripping(complaint)
        admission = entry.admit(unit, {"bang": "rcd"})
        outset = Outset(unit, entry.barred_tests(unit, admission), admission.answers)
        begun = job.begin(outset, plan)
        for fault in unit.faults:
            answers = {
                test.id: prepared.Answer(test.id, ((next(iter(unit.row(test.id, fault.id))), 1.0),))
                for test in unit.tests
            }
            walk = prepared.work_through(begun, answers)
            energies = {unit.arrangement(step.bench.supply).energy for step in walk.steps}
            assert not energies & {"mains", "hvdc"}


# ---- what the entry check tells joins what the owner told ----

EVENTS = (
    EntryQuestion("whole", "Is it whole?", {"yes": "go-on", "no": "cold-only"},
                  complains={"no": "broken"}),
    EntryQuestion("bang", "Was there a bang?", {"no": "go-on", "bang": "cold-first"},
                  complains={"bang": "banged"}),
)  # fmt: skip


@pytest.mark.parametrize(
    ("owners", "answers", "now"),
    [
        (None, {"whole": "yes", "bang": "no"}, None),
        (None, {"bang": "bang"}, "banged"),
        ("dim", {"whole": "yes", "bang": "bang"}, "dim+banged"),
        ("dim+hums", {"bang": "bang"}, "dim+hums+banged"),
        ("dim", {"whole": "no", "bang": "bang"}, "dim+broken+banged"),
        ("banged", {"whole": "no"}, "banged+broken"),
        ("banged", {"bang": "bang"}, None),
        ("dim+banged", {"bang": "bang"}, None),
        ("banged", {"bang": "no"}, None),
        ("one-of-them", {"bang": "bang"}, "banged"),
        ("one-of-them+dim", {"bang": "bang"}, "dim+banged"),
    ],
)
def test_what_the_entry_check_brings_out_joins_the_complaint(
    owners: str | None, answers: Mapping[str, str], now: str | None
) -> None:
    """All are kept, each once; only "one of several happened" gives way to the one that did."""
    unit = replace(model(), entry=EVENTS, complaint=owners)
    assert entry.complaint_now(unit, entry.admit(unit, answers), "one-of-them") == now


def test_a_unit_that_is_turned_away_has_no_complaint_more() -> None:
    """Nothing is planned for it."""
    unit = replace(model(), entry=(*EVENTS, QUESTIONS[0]))
    assert entry.complaint_now(unit, entry.admit(unit, {"bang": "bang", "kind": "yes"})) is None


def weights(complaint: str) -> dict[str, float]:
    """How many times likelier this complaint makes each fault of a shipped lamp, but for a factor
    that all share."""
    plain, said = (
        library.model("buck-lamp", mains=Mains(230, 50), complaint=said, depth="stage")
        for said in (None, complaint)
    )
    return {f.id: said.fault(f.id).prior / f.prior for f in plain.faults if f.prior > 0}


@pytest.mark.parametrize("owners", ["dim", "never-lights", "flicker+hum-buzz"])
def test_a_bang_weighs_together_with_what_the_owner_told(owners: str) -> None:
    """The weights of all complaints multiply: Bayes' rule for signs that are independent given the
    fault (any textbook of probability)."""
    bang = "died-with-flash"
    joint, one, other = (weights(said) for said in (f"{owners}+{bang}", owners, bang))
    ratios = [joint[f] / (one[f] * other[f]) for f in joint]
    assert max(ratios) == pytest.approx(min(ratios), rel=1e-6)
    assert len({round(one[f] / joint[f], 6) for f in joint}) > 1
