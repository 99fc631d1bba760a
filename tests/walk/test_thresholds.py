"""What stays in question on a walk changes just at the figure that says so.

Choices of ours; each case was worked out by hand.
"""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from engine.evidence import Testimony as Says
from engine.planner import plan
from engine.walk import explain, hearing, job
from engine.walk.doubts import in_question
from engine.walk.events import Answered
from engine.walk.job import Outset
from engine.walk.mending import after_failure
from tests.models import simple_test, tiny_model
from tests.walk.test_walk_ends import lantern


def test_faults_that_hold_a_fivehundredth_together_are_out_of_question():
    """Two in a thousand: 0.15 minutes, where a wrong verdict costs 75."""
    assert in_question({"a": 0.998, "b": 0.0015, "c": 0.0005}) == {"a"}
    assert in_question({"a": 0.9978, "b": 0.0016, "c": 0.0006}) == {"a", "b"}


def walk_heard(factors, slips):
    """A walk at even odds whose circuit weighs the next reading so; its rows part nothing."""
    circuit = SimpleNamespace(testimony=lambda *_: Says(factors, slips))
    model = SimpleNamespace(row=lambda *_: {"low": 0.5, "high": 0.5})
    return SimpleNamespace(
        belief=dict.fromkeys(factors, 1.0 / len(factors)),
        suspects=frozenset(factors),
        joint=circuit,
        history={},
        model=model,
        outlook=model,
    )


LOW = Answered("probe", "low")


def heard(factors, slips):
    """What is left in question once the circuit has weighed a reading."""
    return hearing.hear(walk_heard(factors, slips), LOW).suspects


@pytest.mark.parametrize(("factor", "goes_on"), [(0.90, True), (0.88, False)])
def test_a_plan_goes_on_where_a_reading_moves_the_odds_by_three_hundredths(factor, goes_on):
    """Planned for even odds; 1/1.90 is 0.026 from a half, 1/1.88 is 0.032."""
    walk = walk_heard({"a": 1.0, "b": factor}, dict.fromkeys("ab", 0.0))
    assert hearing.as_planned(walk, LOW) == goes_on


def test_a_plan_goes_on_though_a_fault_that_hardly_counted_fell_out_of_question():
    """Two in a hundred before, and a thousandth of that after: 0.02 from what was planned for."""
    walk = walk_heard({"a": 1.0, "b": 1e-3}, dict.fromkeys("ab", 0.0))
    walk.belief = {"a": 0.98, "b": 0.02}
    assert hearing.hear(walk, LOW).suspects == {"a"}
    assert hearing.as_planned(walk, LOW)


def test_a_reading_leaves_in_question_what_holds_half_a_thousandth():
    """Of all odds read right."""
    assert heard({"a": 1.0, "b": 6e-4, "c": 4e-4}, dict.fromkeys("abc", 0.0)) == {"a", "b"}


def test_a_reading_that_a_misreading_explains_best_is_a_surprise():
    """Less than a twentieth of all odds read right."""
    assert heard({"a": 1.0, "b": 1.0}, {"a": 0.94, "b": 0.94}) == {"a", "b"}
    assert heard({"a": 1.0, "b": 1.0}, {"a": 0.96, "b": 0.96}) == frozenset()


def test_a_repair_that_did_not_help_was_made_badly_three_times_in_a_hundred():
    """The odds of what it cures beside the rest fall to 0.03 of what they were."""
    walk = job.begin(Outset(lantern()), plan)
    remedy = next(r for r in walk.model.remedies if 0 < len(r.cures) < len(walk.belief))
    after = after_failure(walk, remedy).belief
    cured, other = remedy.cures[0], next(f for f in walk.belief if f not in remedy.cures)
    before = walk.belief[cured] / walk.belief[other]
    assert after[cured] / after[other] == pytest.approx(0.03 * before)


def answered(odds):
    """Two faults at even odds, the first of which is bad with these odds, the other surely."""
    rows = {"t": {"a": {"bad": odds, "good": 1.0 - odds}, "b": "bad"}}
    model = tiny_model({"a": 0.5, "b": 0.5}, [simple_test("t")], rows)
    walk = job.begin(Outset(model), plan)
    return walk, job.take(walk, Answered("t", "bad"))


@pytest.mark.parametrize(("odds", "cleared"), [(1 / 19.1, True), (1 / 18.9, False)])
def test_an_answer_clears_what_it_leaves_one_in_twenty(odds, cleared):
    """1 to 19: the level below which a repairer stops thinking of a suspect; our choice."""
    before, after = answered(odds)
    (ground,) = explain.how(after).grounds
    assert [weight.suspect for weight in ground.cleared] == (["a"] if cleared else [])
    bad = next(p for p in explain.why(before).prospects if p.outcome == "bad")
    assert [suspect.fault for suspect in bad.drops] == (["a"] if cleared else [])


@pytest.mark.parametrize(("odds", "pointed"), [(0.49, True), (0.51, False)])
def test_an_answer_points_at_what_it_makes_twice_as_likely(odds, pointed):
    """Against all the rest; our choice."""
    (ground,) = explain.how(answered(odds)[1]).grounds
    assert [weight.suspect for weight in ground.pointed] == (["b"] if pointed else [])
