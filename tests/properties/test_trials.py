"""Do the trials of a plan under misreads and wrong priors tell the truth?

The outlook is exact and the simulation is chance, written apart: they must agree. Without misreads
both must give the planner's own cost.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.chart.drawing import document, draw_up
from engine.chart.outlook import outlook
from engine.model.plan import Plan
from engine.model.records import Model, Remedy
from engine.model.setup import start
from engine.planner import plan
from engine.studies.trial import (
    Confirmation,
    confirmed_outlook,
    confirms,
    document_with_confirm,
    robustness,
    try_chart,
    try_replanning,
    worth_repeating,
)
from engine.studies.trial.robustness import draw_worlds
from tests.models import dense_random, simple_test, stage_chain, tiny_model
from tests.safety.shop_models import mistaken

SEEDS = range(6)
CLOSE = 4.5
"""Standard errors within which chance must come; beyond by luck once in 100 000 comparisons."""


def drawn(seed: int) -> Model:
    family = stage_chain if seed % 2 else dense_random
    return family(seed, faults=12, tests=16, set_ups=0.7, splits=0.2 if seed % 3 else 0.0)


def priors(model: Model) -> np.ndarray:
    return np.array([fault.prior for fault in model.faults])


def two_faults(misread: float) -> Model:
    """One minute tells two even faults apart; five minutes mend either; an hour for a wrong one."""
    remedies = [Remedy(f"mend-{f}", f, "repair", 5.0, (f,)) for f in ("a", "b")]
    rows = {"t": {"a": "good", "b": "bad"}}
    model = tiny_model(
        {"a": 1.0, "b": 1.0},
        [simple_test("t")],
        rows,
        remedies=remedies,
        wrong_verdict_minutes=60.0,
    )
    return mistaken(model, misread)


# --- outlook ---


@pytest.mark.parametrize("seed", SEEDS)
def test_outlook_without_misreads_is_the_proved_cost(seed: int) -> None:
    model = drawn(seed)
    planned = plan(model)
    prospect = outlook(model, planned)
    assert prospect.expected_cost(priors(model)) == pytest.approx(planned.proof.expected_cost)
    assert prospect.expected_minutes(priors(model)) == pytest.approx(planned.proof.expected_minutes)


@pytest.mark.parametrize("seed", SEEDS)
def test_outlook_with_misreads_is_what_chance_comes_to(seed: int) -> None:
    model = mistaken(drawn(seed), 0.06)
    planned = plan(model)
    exact = outlook(model, planned)
    tried = try_chart(model, planned, units=3000, seed=seed)
    assert abs(exact.expected_cost(priors(model)) - tried.cost) < CLOSE * tried.cost_error
    error = np.sqrt(tried.right * (1 - tried.right) / tried.units)
    assert abs(exact.accuracy(priors(model)) - tried.right) < CLOSE * error + 1e-9


def test_two_faults_by_hand() -> None:
    """1 minute, 5 for the remedy, 60 in one of ten: 12."""
    model = two_faults(0.1)
    prospect = outlook(model, plan(model))
    assert prospect.cost.tolist() == pytest.approx([12.0, 12.0])
    assert prospect.right.tolist() == pytest.approx([0.9, 0.9])


def test_answer_without_a_place_on_the_chart_is_read_once_more() -> None:
    """`odd` is shown by neither fault, told in one reading of ten: 1 minute more; told twice, in
    one of a hundred: undecided, 60 minutes, no remedy."""
    base = two_faults(0.0)
    test = simple_test("t", outcomes=("good", "bad", "odd"))
    misread = {"good": {"odd": 0.1}, "bad": {"odd": 0.1}}
    model = replace(base, tests=(replace(test, misread=misread),))
    prospect = outlook(model, plan(model))
    assert prospect.undecided.tolist() == pytest.approx([0.01, 0.01])
    assert prospect.cost.tolist() == pytest.approx([1.1 + 0.99 * 5.0 + 0.01 * 60.0] * 2)


# --- confirm steps ---


def test_two_faults_confirmed_by_hand() -> None:
    """Read again (1), agreeing in .82; else a third time (1), right in nine of ten. Wrong: both
    wrong .01, or one of two wrong and the third too .018. Cost 1 + 5 + 1 + .18 + 60 x .028 = 8.86.
    """
    model = two_faults(0.1)
    confirmed = confirms(model, plan(model))
    assert confirmed.expected_cost_with_misreads == pytest.approx(12.0)
    assert confirmed.expected_cost_with_confirm == pytest.approx(8.86)
    assert {step.outcome for step in confirmed.confirms} == {"good", "bad"}
    assert [step.minutes for step in confirmed.confirms] == [1.0, 1.0]


def test_no_confirm_where_it_costs_more_than_it_saves() -> None:
    """Misread once in a hundred: 60 minutes x .01 saved do not pay for a minute each time."""
    model = two_faults(0.01)
    confirmed = confirms(model, plan(model))
    assert confirmed == Confirmation((), pytest.approx(6.6), pytest.approx(6.6))


def test_nothing_to_confirm_where_nothing_is_misread() -> None:
    model = drawn(1)
    assert confirms(model, plan(model)).confirms == ()


@pytest.mark.parametrize("seed", SEEDS)
def test_cost_with_confirm_is_what_chance_comes_to(seed: int) -> None:
    model = mistaken(drawn(seed), 0.06)
    planned = plan(model)
    confirmed = confirms(model, planned)
    tried = try_chart(model, planned, units=3000, seed=seed, confirms=confirmed.confirms)
    gap = abs(confirmed.expected_cost_with_confirm - tried.cost)
    assert gap < CLOSE * tried.cost_error
    assert confirmed.expected_cost_with_confirm <= confirmed.expected_cost_with_misreads


@pytest.mark.parametrize("slip", [0.02, 0.06, 0.2])
@pytest.mark.parametrize("seed", SEEDS)
def test_no_confirm_step_is_missed_by_what_it_could_save_at_most(
    seed: int, slip: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever is followed, and in whatever order: the steps are those of following everything."""
    model = mistaken(drawn(seed), slip)
    planned = plan(model)
    found = confirms(model, planned)
    monkeypatch.setattr("engine.chart.confirm._least_cost", lambda *_: float("-inf"))
    assert found.confirms
    assert confirms(model, planned) == found


@pytest.mark.parametrize("seed", SEEDS)
def test_outlook_with_confirm_steps_has_the_cost_told(seed: int) -> None:
    """The steps were priced line by line; followed all together they cost the same."""
    model = mistaken(drawn(seed), 0.06)
    planned = plan(model)
    confirmed = confirms(model, planned)
    prospect = confirmed_outlook(model, planned, confirmed.confirms)
    assert prospect.expected_cost(priors(model)) == pytest.approx(
        confirmed.expected_cost_with_confirm
    )
    assert (prospect.right + prospect.undecided <= 1 + 1e-9).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_confirm_leaves_the_proved_plan_as_it_is(seed: int) -> None:
    model = mistaken(drawn(seed), 0.06)
    planned = plan(model)
    for step in confirms(model, planned).confirms:
        ask, back = planned.nodes[step.ask], planned.nodes[step.back]
        assert ask.branches[step.outcome] == step.verdict  # type: ignore[union-attr]
        assert back.test == step.test  # type: ignore[union-attr]


# --- the walk that plans anew ---


@pytest.mark.parametrize("seed", range(3))
def test_replanning_without_misreads_costs_what_was_proved(seed: int) -> None:
    model = drawn(seed)
    proved = plan(model).proof.expected_cost
    tried = try_replanning(model, plan, units=1500, seed=seed)
    assert abs(tried.cost - proved) < CLOSE * tried.cost_error


def test_replanning_is_right_more_often_than_the_chart_under_misreads() -> None:
    """Over three models together: a verdict is weighed again before it is acted upon."""
    right = np.zeros(2)
    for seed in range(3):
        model = mistaken(drawn(seed), 0.06)
        chart = try_chart(model, plan(model), units=1500, seed=seed)
        walk = try_replanning(model, plan, units=1500, seed=seed)
        right += (chart.right, walk.right)
    assert right[1] > right[0]


# --- chance and worlds ---


def test_same_seed_gives_the_same_tally() -> None:
    model = mistaken(drawn(2), 0.05)
    planned = plan(model)
    one, other, third = (try_chart(model, planned, units=200, seed=s) for s in (7, 7, 8))
    assert one == other
    assert one != third


def test_worlds_keep_the_impossible_impossible() -> None:
    worlds = draw_worlds(np.array([0.5, 0.0, 0.5]), 50, 4.0, seed=1)
    assert (worlds[:, 1] == 0.0).all()
    assert worlds.sum(axis=1) == pytest.approx(np.ones(50))


def report(model: Model, planned: Plan, cases: float) -> tuple[float, float, float, float]:
    fare = robustness(model, planned, plan, seed=3, worlds=100, units=200, cases=cases).chart
    return fare.cost.own, fare.cost.least, fare.cost.mean, fare.cost.greatest


def test_robustness_spreads_wider_where_priors_are_worth_less() -> None:
    model = mistaken(drawn(3), 0.05)
    planned = plan(model)
    own, least, mean, greatest = report(model, planned, cases=10.0)
    same, near_least, _, near_greatest = report(model, planned, cases=1000.0)
    assert own == same
    assert least < near_least < own < near_greatest < greatest
    assert least < mean < greatest


def test_robustness_compares_the_three_ways() -> None:
    model = mistaken(drawn(0), 0.06)
    found = robustness(model, plan(model), plan, seed=5, worlds=20, units=1500)
    assert found.chart.accuracy.own < found.chart_with_confirm.accuracy.own
    assert found.chart.accuracy.own < found.replanning.accuracy.own
    assert found.proved_cost < found.chart.cost.own


# --- doing a test again, from a posterior ---


def test_repetition_of_two_faults_by_hand() -> None:
    """Priors even, one reading in ten mistaken, one minute, sixty for a wrong verdict.

    Told good, the posterior is 0.9 to 0.1: stopping loses 6. Told again with the same true outcome
    of the unit, nine in ten agree: 0.82 agree, then 0.81 / 0.82 are right; 0.18 disagree, evenly.
    So one loses 0.01 x 60 + 0.09 x 60 = 6 minutes again: the repetition alone saves nothing.
    """
    model = two_faults(0.1)
    state = start(model)
    told = {model.tests[0].id: ("good",)}
    first, second = (fault.id for fault in model.faults)
    assert worth_repeating(model, {first: 0.9, second: 0.1}, state, told) is None


def test_repetition_never_saves_more_than_knowing_the_truth() -> None:
    for seed in range(6):
        model = mistaken(stage_chain(seed, 8, 10), 0.2)
        belief = {fault.id: fault.prior for fault in model.faults}
        told = {test.id: (test.outcomes[0].id,) for test in model.tests}
        found = worth_repeating(model, belief, start(model), told)
        costs = {
            fault: [
                r.minutes + model.wrong_verdict_minutes * (fault not in r.cures)
                for r in model.remedies
            ]
            for fault in belief
        }
        now = min(sum(belief[f] * costs[f][r] for f in belief) for r in range(len(model.remedies)))
        best = sum(belief[f] * min(costs[f]) for f in belief)
        assert found is None or found.saves + found.minutes <= now - best + 1e-9


def test_chart_document_with_confirm_keeps_the_plan_and_adds_its_keys() -> None:
    model = mistaken(stage_chain(3, 8, 10), 0.1)
    made = plan(model)
    plain = document(draw_up(model, made))
    whole = document_with_confirm(model, made)
    assert {key: whole[key] for key in plain} == plain
    assert set(whole) - set(plain) == {
        "expected_cost_with_misreads",
        "expected_cost_with_confirm",
        "confirm",
    }
