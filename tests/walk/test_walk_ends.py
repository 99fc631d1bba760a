"""Where does a walk end, and what does it say of itself there?"""

from __future__ import annotations

import itertools
import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.model.file import read_model
from engine.model.plan import Ask, Plan, Verdict
from engine.model.records import Model
from engine.planner import plan
from engine.readings.bands import Answer
from engine.readings.belief import report_odds
from engine.walk import job, prepared, record
from engine.walk.ending import conclude
from engine.walk.events import Answered, Arrived, CannotDo, Event, Known, Lacking, Measured
from engine.walk.job import Outset, Question, Setting, Walk, pending
from kb.trouble import TroubleError
from tests.models import stage_chain

LANTERN = Path(__file__).parents[1] / "safety" / "gate-lantern.model.json"


def lantern() -> Model:
    """The invented gate lantern: five faults, four tests, misreads."""
    return read_model(LANTERN.read_text(encoding="utf-8"), LANTERN.name)


def true_answers(model: Model, fault: str) -> dict[str, Answer]:
    """What each test shows most often under a fault, told without a misread."""
    answers = {}
    for test in model.tests:
        row = model.row(test.id, fault)
        answers[test.id] = Answer(test.id, ((max(row, key=lambda o: row[o]), 1.0),))
    return answers


def planned_remedy(model: Model, made: Plan, answers: Mapping[str, Answer]) -> str:
    """The remedy that the printed plan leads to, followed by hand."""
    node = made.nodes[made.root]
    while isinstance(node, Ask):
        node = made.nodes[node.branches[answers[node.test].outcome]]
    assert isinstance(node, Verdict)
    return node.remedy


def begun(model: Model) -> Walk:
    """A walk at its first question."""
    return job.begin(Outset(model), plan)


def to_question(walk: Walk) -> Walk:
    """The walk with all setup steps of the pending test carried out."""
    while isinstance(step := pending(walk), Setting):
        walk = job.take(walk, step.event)
    return walk


def answered(walk: Walk, outcome: str) -> Walk:
    """The walk after its pending test showed an outcome."""
    walk = to_question(walk)
    step = pending(walk)
    assert isinstance(step, Question)
    return job.take(walk, Answered(step.test, outcome))


# ---- true readings ----


@given(st.integers(0, 30))
@settings(max_examples=12)
def test_true_readings_lead_where_the_plan_says(seed: int) -> None:
    """For every fault of a chain; a fault that the plan sets apart is cured."""
    model = stage_chain(seed, faults=10, tests=14)
    made = plan(model)
    for fault in model.faults:
        answers = true_answers(model, fault.id)
        ending = conclude(prepared.work_through(begun(model), answers))
        assert ending.remedy.id == planned_remedy(model, made, answers)
        assert fault.id in dict(ending.faults)


@given(st.integers(0, 30))
@settings(max_examples=10)
def test_with_every_test_at_hand_a_dear_mistake_is_never_made(seed: int) -> None:
    """Where wrong verdicts cost a thousand hours, every fault that tests can tell is cured."""
    model = replace(stage_chain(seed, faults=8, tests=20), wrong_verdict_minutes=60000.0)
    for fault in model.faults:
        ending = conclude(prepared.work_through(begun(model), true_answers(model, fault.id)))
        alike = {
            other.id
            for other in model.faults
            if all(model.row(t.id, other.id) == model.row(t.id, fault.id) for t in model.tests)
        }
        assert fault.id in ending.remedy.cures or alike & set(ending.remedy.cures)


def test_a_walk_on_the_plan_takes_the_minutes_of_its_path() -> None:
    """Tests and setups, no more."""
    model = lantern()
    walk = prepared.work_through(begun(model), true_answers(model, "switch-open"))
    tests = [s.test for s in walk.steps if s.test]
    assert tests == ["other-socket", "probe-leds", "bridge-switch"]
    assert walk.minutes == pytest.approx(17.5)
    assert not any(step.replanned for step in walk.steps)


# ---- off the plan ----


def test_what_is_known_already_costs_nothing_and_is_not_asked() -> None:
    """Two answers volunteered before anything was done."""
    model = lantern()
    walk = job.take(begun(model), Known("probe-leds", "all-lit"))
    walk = job.take(walk, Known("other-socket", "dead"))
    assert walk.minutes == 0.0
    asked = to_question(walk)
    step = pending(asked)
    assert isinstance(step, Question)
    assert step.test == "bridge-switch"


def test_answers_in_any_order_lead_to_the_same_belief() -> None:
    """Three volunteered answers, all six orders."""
    model = lantern()
    told = [
        Known("probe-leds", "all-lit"),
        Known("other-socket", "dead"),
        Known("bridge-switch", "lit"),
    ]
    beliefs = []
    for order in itertools.permutations(told):
        walk = begun(model)
        for event in order:
            walk = job.take(walk, event)
        beliefs.append(walk.belief)
    for belief in beliefs[1:]:
        assert belief == pytest.approx(beliefs[0])


def test_a_test_that_cannot_be_done_is_left_out_and_the_rest_replanned() -> None:
    """The first question can't be answered."""
    walk = begun(lantern())
    first = pending(walk)
    assert first is not None
    walk = job.take(walk, CannotDo(first.test))
    assert walk.steps[-1].replanned
    later = pending(walk)
    assert later is not None
    assert later.test != first.test


def test_a_lack_that_the_plan_never_meets_leaves_it_alone() -> None:
    """A test no longer on the path is given up."""
    model = lantern()
    walk = answered(begun(model), "dead")
    before = walk.plan
    walk = job.take(walk, CannotDo("other-socket"))
    assert walk.plan is before


def test_a_missing_opening_withdraws_all_tests_behind_it() -> None:
    """The cap can't be opened."""
    model = lantern()
    opened = {test.id for test in model.tests if "cap" in test.opened}
    assert opened
    walk = job.take(begun(model), Lacking("opening", "cap"))
    assert walk.withdrawn == opened


def test_without_any_answer_a_walk_still_ends() -> None:
    """A file without answers: all that is left is the likeliest remedy."""
    walk = prepared.work_through(begun(lantern()), {})
    assert walk.is_ended
    assert {step.kind for step in walk.steps} == {"cannot"}


def test_an_answer_nothing_in_question_shows_brings_every_fault_back() -> None:
    """A dark package, yet light with the switch bridged: the package was misread, rare as it is."""
    model = misreading(lantern(), "probe-leds", {"all-lit": {"one-dark": 0.0005}})
    walk = answered(begun(model), "dead")
    walk = job.take(walk, Known("probe-leds", "one-dark"))
    assert walk.suspects == {"led-open", "other"}
    walk = job.take(walk, Known("bridge-switch", "lit"))
    assert walk.steps[-1].surprise
    assert walk.suspects == {fault for fault, p in walk.belief.items() if p > 0}
    assert walk.steps[-1].replanned


def misreading(model: Model, test: str, misread: dict[str, dict[str, float]]) -> Model:
    """The model with other odds of a test being misread."""
    tests = (replace(t, misread=misread) if t.id == test else t for t in model.tests)
    return replace(model, tests=tuple(tests))


def test_a_verdict_that_hangs_on_a_doubtful_reading_is_weighed_once_more() -> None:
    """A dark package is misread once in twenty: what only that ruled out is in question again."""
    walk = answered(begun(lantern()), "dead")
    assert walk.suspects >= {"switch-open", "driver-dead"}
    walk = job.take(walk, Known("probe-leds", "one-dark"))
    assert walk.suspects >= {"switch-open", "driver-dead"}


def test_a_verdict_on_sure_readings_stands() -> None:
    """Nothing of the package's reading is ever mistaken."""
    model = misreading(lantern(), "probe-leds", {})
    walk = answered(begun(model), "dead")
    walk = job.take(walk, Known("probe-leds", "one-dark"))
    assert walk.is_ended
    assert walk.suspects == {"led-open", "other"}


# ---- what the verdict says ----


def verdict_of(outcomes: list[str]) -> Walk:
    """A lantern walk answered with these outcomes in turn."""
    walk = begun(lantern())
    for outcome in outcomes:
        walk = answered(walk, outcome)
    assert walk.is_ended
    return walk


def test_confidence_is_the_belief_in_what_the_remedy_cures() -> None:
    """By hand over the faults."""
    walk = verdict_of(["dead", "all-lit", "dark"])
    ending = conclude(walk)
    assert ending.confidence == pytest.approx(sum(walk.belief[f] for f in ending.remedy.cures))
    assert sum(p for _, p in ending.faults) == pytest.approx(1.0)


def test_doubts_are_the_odds_of_a_misread_by_enumeration() -> None:
    """Every fault with every true reading of the three tests, weighed by hand."""
    model = lantern()
    walk = verdict_of(["dead", "all-lit", "dark"])
    told = [(step.test, step.answer) for step in walk.steps if step.test]
    total, misread = 0.0, dict.fromkeys((test for test, _ in told), 0.0)
    for fault in model.faults:
        rows = [model.row(test, fault.id) for test, _ in told]
        for true in itertools.product(*rows):
            weight = fault.prior
            for (test, answer), row, outcome in zip(told, rows, true, strict=True):
                wrong = model.test(test).misread.get(outcome, {})
                read = 1 - sum(wrong.values()) if outcome == answer else wrong.get(answer, 0.0)
                weight *= row[outcome] * read
            total += weight
            for (test, answer), outcome in zip(told, true, strict=True):
                misread[test] += weight * (outcome != answer)
    for doubt in conclude(walk).doubts:
        assert doubt.odds == pytest.approx(misread[doubt.test] / total)


def test_the_finer_answer_saves_what_one_more_test_is_worth() -> None:
    """The one test left, its outcomes weighed by hand against stopping now."""
    model = lantern()
    walk = verdict_of(["dead", "all-lit", "dark"])
    finer = conclude(walk).finer
    assert finer is not None
    weights = job.suspicion(walk)

    def cost(of: Mapping[str, float]) -> float:
        return min(
            sum(p * (r.minutes + (0 if f in r.cures else 60)) for f, p in of.items())
            for r in model.remedies
        )

    split = [
        {f: p * model.row(finer.test, f).get(o.id, 0.0) for f, p in weights.items()}
        for o in model.test(finer.test).outcomes
    ]
    assert finer.saves == pytest.approx(cost(weights) - sum(map(cost, split)))
    assert not finer.worth_it


def test_a_verdict_on_an_energised_bench_names_the_stores_to_prove_empty() -> None:
    """The last test was done on limited mains."""
    model = lantern()
    walk = verdict_of(["dead", "all-lit", "dark"])
    assert model.arrangement(walk.bench.supply).energy == "mains"
    named = {store.part for store in conclude(walk).make_safe}
    assert named == {s.part for s in model.stores if s.max_volts > s.below}


# ---- events that can't be ----


@pytest.mark.parametrize(
    ("event", "code"),
    [
        (Arrived((), "limited", "bridged"), "WK122"),
        (Arrived(("nothing",), "unplugged", "none"), "WK122"),
        (Arrived((), "steam", "none"), "WK122"),
        (Arrived(("cap",), "mains", "none"), "WK122"),
        (Answered("probe-leds", "all-lit"), "WK123"),
        (Known("probe-leds", "purple"), "WK124"),
        (Known("probe-leds", "all-lit", "1", (("all-lit", 0.5), ("purple", 0.5))), "WK124"),
        (Known("tea", "ready"), "WK126"),
        (CannotDo("tea"), "WK126"),
        (Lacking("patience", "cap"), "WK121"),
    ],
)
def test_an_event_that_cannot_be_is_refused(event: Event, code: str) -> None:
    """With its code; the walk is as it was."""
    with pytest.raises(TroubleError) as refused:
        job.take(begun(lantern()), event)
    assert [trouble.code for trouble in refused.value.troubles] == [code]


def test_a_test_is_answered_once() -> None:
    """Undo is the way to change an answer."""
    walk = job.take(begun(lantern()), Known("probe-leds", "all-lit"))
    with pytest.raises(TroubleError, match="WK125"):
        job.take(walk, Known("probe-leds", "one-dark"))


def test_openings_stay_made() -> None:
    """No event closes the unit again."""
    low = (Measured("C1", 2.0),)
    walk = job.take(begun(lantern()), Arrived(("cap",), "unplugged", "none", low))
    with pytest.raises(TroubleError, match="WK122"):
        job.take(walk, Arrived((), "unplugged", "none"))


# ---- the saved walk ----


def saved() -> dict[str, object]:
    """A good walk document."""
    plain: dict[str, object] = json.loads(
        json.dumps(record.document(answered(begun(lantern()), "dead")))
    )
    return plain


@pytest.mark.parametrize(
    "damage",
    [
        {"format": "nextprobe-walk/9"},
        {"events": 3},
        {"events": [{"event": "danced"}]},
        {"events": [{"event": "answered", "test": "other-socket"}]},
        {"events": [{"event": "known", "test": "a", "answer": "b", "shares": {"b": "much"}}]},
        {"options": []},
        {"entry": None},
    ],
    ids=str,
)
def test_a_damaged_walk_document_is_told(damage: dict[str, object]) -> None:
    """In a sentence that names the file."""
    with pytest.raises(TroubleError) as told:
        record.reopen({**saved(), **damage}, "lantern.walk.json")
    assert told.value.troubles[0].place.source == "lantern.walk.json"


@pytest.mark.parametrize("missing", ["events", "options", "entry", "topology", "model_sha256"])
def test_a_walk_document_without_a_key_is_told(missing: str) -> None:
    """Each key that going on needs."""
    plain = saved()
    del plain[missing]
    with pytest.raises(TroubleError, match="WK102"):
        record.reopen(plain, "lantern.walk.json")


@pytest.mark.parametrize("thing", [None, [], "walk", 3, {}])
def test_what_is_no_walk_document_is_told(thing: object) -> None:
    """Any other JSON."""
    with pytest.raises(TroubleError, match="WK102"):
        record.reopen(thing, "lantern.walk.json")


def test_reported_odds_of_the_lantern_sum_to_one() -> None:
    """The hand reckoning above stands on rows that do."""
    model = lantern()
    for test in model.tests:
        for fault in model.faults:
            assert sum(report_odds(model, test.id, fault.id).values()) == pytest.approx(1.0)


def seen_dark(wrong_verdict_minutes: float) -> Walk:
    """A package seen dark, which is mistaken once in twenty; nothing else can be tried, and of
    each test there is one answer."""
    model = replace(lantern(), wrong_verdict_minutes=wrong_verdict_minutes)
    only = {"other-socket", "probe-leds"}
    withdrawn = frozenset(test.id for test in model.tests if test.id not in only)
    walk = job.begin(Outset(model, withdrawn, told_once=frozenset(only)), plan)
    return job.take(job.take(walk, Known("other-socket", "dead")), Known("probe-leds", "one-dark"))


def test_a_doubtful_check_is_to_be_done_again_where_being_wrong_is_dear() -> None:
    again = conclude(seen_dark(150.0)).again
    assert again is not None
    assert again.test in ("probe-leds", "other-socket")
    assert again.saves > 0


def test_no_check_is_to_be_done_again_where_being_wrong_costs_little() -> None:
    assert conclude(seen_dark(5.0)).again is None
