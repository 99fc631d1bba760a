"""Is the plan the best there is, whatever the model?

Small awkward models (set-ups, split outcomes, several outcomes, overlapping remedies, cheap
verdicts) are checked against `tests.enumeration`, which tries every plan.
"""

from __future__ import annotations

import dataclasses
import json
import random
import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine import library
from engine.audit import audit
from engine.chart.drawing import document, draw_up
from engine.model.plan import Ask
from engine.model.records import Mains, Model
from engine.model.records import document as model_document
from engine.model.setup import closure
from engine.planner import ALL, Bound, cost_without, plan, runners_up
from tests.enumeration import best_cost
from tests.models import dense_random, stage_chain

SLOW = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
FEW = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))


@st.composite
def small_models(draw: st.DrawFn, most_faults: int = 7, most_tests: int = 6) -> Model:
    seed = draw(st.integers(0, 10**6))
    faults = draw(st.integers(2, most_faults))
    tests = draw(st.integers(1, most_tests))
    set_ups = draw(st.sampled_from([0.0, 0.5, 1.0]))
    splits = draw(st.sampled_from([0.0, 0.0, 0.1, 0.4, 0.8]))
    wrong = draw(st.sampled_from([5.0, 20.0, 60.0, 500.0]))
    if draw(st.booleans()):
        return stage_chain(
            seed, faults, tests, set_ups=set_ups, splits=splits, wrong_verdict_minutes=wrong
        )
    outcomes = draw(st.integers(2, 4))
    return dense_random(
        seed,
        faults,
        tests,
        outcomes=outcomes,
        set_ups=set_ups,
        splits=splits,
        wrong_verdict_minutes=wrong,
    )


def cost(model: Model, bounds: Bound = ALL) -> float:
    return plan(model, bounds=bounds).proof.expected_cost


@SLOW
@given(small_models())
def test_no_plan_is_cheaper(model: Model) -> None:
    assert cost(model) == pytest.approx(best_cost(model), rel=1e-9, abs=1e-9)


@FEW
@given(small_models(most_faults=4, most_tests=3))
def test_a_test_and_its_twin_tell_more_than_one_of_them(model: Model) -> None:
    """Where rows are split, two tests with equal rows are two draws."""
    twins = tuple(dataclasses.replace(test, id=f"{test.id}-twin") for test in model.tests)
    rows = {
        twin.id: model.likelihood[test.id] for test, twin in zip(model.tests, twins, strict=True)
    }
    both = dataclasses.replace(
        model, tests=model.tests + twins, likelihood={**model.likelihood, **rows}
    )
    assert plan(both).proof.expected_cost == pytest.approx(best_cost(both), rel=1e-9, abs=1e-9)


@SLOW
@given(small_models(), st.sampled_from(list(Bound)))
def test_each_bound_can_be_switched_off(model: Model, bound: Bound) -> None:
    assert cost(model, ALL - {bound}) == pytest.approx(cost(model), rel=1e-9, abs=1e-9)


@FEW
@given(small_models())
def test_no_bound_is_needed_for_the_optimum(model: Model) -> None:
    assert cost(model, Bound(0)) == pytest.approx(cost(model), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("bound", list(Bound))
def test_middling_models_cost_the_same_without_a_bound(bound: Bound) -> None:
    for seed in range(3):
        model = stage_chain(seed, 22, 26, splits=0.02)
        assert cost(model, ALL - {bound}) == pytest.approx(cost(model), rel=1e-9)


@SLOW
@given(small_models())
def test_chart_of_a_plan_recomputes_to_its_cost(model: Model) -> None:
    chart = document(draw_up(model, plan(model)))
    breaches = audit(json.loads(json.dumps(model_document(model))), chart)
    assert [breach for breach in breaches if breach.code != "AU308"] == []


@FEW
@given(small_models(), st.integers(0, 100))
def test_withdrawing_a_test_never_lowers_the_cost(model: Model, which: int) -> None:
    gone = model.tests[which % len(model.tests)].id
    left = plan(model, withdrawn=frozenset({gone})).proof.expected_cost
    assert left >= cost(model) - 1e-9


@FEW
@given(small_models(), st.floats(0.05, 20.0))
def test_scaling_all_minutes_scales_the_cost(model: Model, factor: float) -> None:
    assert cost(scaled(model, factor)) == pytest.approx(factor * cost(model), rel=1e-9)


def scaled(model: Model, factor: float) -> Model:
    def slower(record):  # type: ignore[no-untyped-def]
        return dataclasses.replace(record, minutes=record.minutes * factor)

    table = {a: {b: m * factor for b, m in row.items()} for a, row in model.supply.minutes.items()}
    return dataclasses.replace(
        model,
        tests=tuple(map(slower, model.tests)),
        remedies=tuple(map(slower, model.remedies)),
        openings=tuple(map(slower, model.openings)),
        rigs=tuple(map(slower, model.rigs)),
        supply=dataclasses.replace(model.supply, minutes=table),
        wrong_verdict_minutes=model.wrong_verdict_minutes * factor,
    )


@FEW
@given(small_models())
def test_plan_keeps_the_order_of_the_records_out_of_its_cost(model: Model) -> None:
    turned = dataclasses.replace(
        model, faults=model.faults[::-1], tests=model.tests[::-1], remedies=model.remedies[::-1]
    )
    assert cost(turned) == pytest.approx(cost(model), rel=1e-9)


@FEW
@given(small_models())
def test_every_fault_comes_to_a_verdict(model: Model) -> None:
    made = plan(model)
    listed = {f for node in made.nodes.values() if not isinstance(node, Ask)
              for f, _ in getattr(node, "weights", ())}  # fmt: skip
    assert listed == {f.id for f in model.faults if f.prior > 0}


@FEW
@given(small_models(most_faults=6, most_tests=5))
def test_runner_up_costs_what_the_best_plan_that_begins_with_it_costs(model: Model) -> None:
    for runner in runners_up(model, many=3):
        assert runner.expected_cost == pytest.approx(forced(model, runner.test), rel=1e-9)


def forced(model: Model, first: str) -> float:
    """Least cost when `first` is done first: each outcome is planned on its own."""
    from engine.model.plan import State
    from engine.model.setup import minutes, start

    test = model.test(first)
    before = start(model)
    after = State(before.opened | closure(model, test.opened), test.supply, test.rig)
    total = test.minutes + minutes(model, before, after)
    for outcome in test.outcomes:
        weights = {
            f.id: f.prior * model.row(first, f.id).get(outcome.id, 0.0) for f in model.faults
        }
        mass = sum(weights.values())
        if mass > 0:
            made = plan(model, belief=weights, state=after, tests_done=frozenset({first}))
            total += mass * made.proof.expected_cost
    return total


@FEW
@given(small_models())
def test_first_runner_up_is_the_plan_unless_stopping_is_best(model: Model) -> None:
    made = plan(model)
    root = made.nodes[made.root]
    ranked = runners_up(model, many=2)
    if isinstance(root, Ask):
        assert ranked[0].expected_cost == pytest.approx(made.proof.expected_cost, rel=1e-9)
    else:
        assert all(r.expected_cost >= made.proof.expected_cost - 1e-9 for r in ranked)


def test_a_test_not_used_costs_nothing_to_lose() -> None:
    model = stage_chain(5, 20, 24)
    used = {node.test for node in plan(model).nodes.values() if isinstance(node, Ask)}
    unused = next(test.id for test in model.tests if test.id not in used)
    assert cost_without(model, unused) == pytest.approx(0.0, abs=1e-9)


def test_the_root_test_costs_something_to_lose() -> None:
    model = stage_chain(5, 20, 24)
    made = plan(model)
    root = made.nodes[made.root]
    assert isinstance(root, Ask)
    assert cost_without(model, root.test) > 0


@pytest.mark.parametrize("seed", range(4))
def test_bound_and_plan_enclose_the_optimum_when_time_runs_out(seed: int) -> None:
    model = dense_random(seed, 40, 50, set_ups=0.7)
    best = cost(model)
    hurried = plan(model, seconds=0.0).proof
    assert hurried.lower_bound <= best + 1e-9
    assert hurried.expected_cost >= best - 1e-9


@pytest.mark.parametrize("bound", [Bound.INFORMATION, Bound.ACCESS, Bound.PAIRS])
@pytest.mark.parametrize("seed", range(3))
def test_each_bound_alone_stays_below_the_optimum(seed: int, bound: Bound) -> None:
    model = stage_chain(seed, 14, 18, set_ups=1.0, splits=0.3)
    alone = plan(model, bounds=bound | Bound.SETUP, seconds=0.0).proof
    assert 0 < alone.lower_bound <= cost(model, ALL - {bound}) + 1e-9


def test_a_hurried_plan_owns_up() -> None:
    hurried = plan(dense_random(1, 120, 120, set_ups=0.7), seconds=0.0).proof
    assert not hurried.proved_optimal
    assert hurried.lower_bound < hurried.expected_cost


def test_posterior_replaces_the_priors() -> None:
    model = stage_chain(7, 12, 14)
    rng = random.Random(3)
    belief = {f.id: rng.random() for f in model.faults}
    total = sum(belief.values())
    told = dataclasses.replace(
        model,
        faults=tuple(dataclasses.replace(f, prior=belief[f.id] / total) for f in model.faults),
    )
    assert plan(model, belief=belief).proof.expected_cost == pytest.approx(cost(told), rel=1e-9)


def test_progress_tells_bound_below_cost() -> None:
    seen: list[tuple[float, float, int]] = []
    model = dense_random(1, 120, 120, set_ups=0.7)
    plan(model, seconds=0.6, on_progress=lambda *told: seen.append(told))
    assert seen
    assert all(lower <= upper for lower, upper, _ in seen)


def test_the_proof_says_in_words_which_bounds_closed_it() -> None:
    proof = plan(stage_chain(5, 20, 24)).proof
    shares = [int(part) for part in re.findall(r"\((\d+)%\)", proof.closed_by)]
    assert 90 <= sum(shares) <= 105
    assert shares == sorted(shares, reverse=True)


def test_a_model_that_needs_no_test_says_so() -> None:
    model = dataclasses.replace(stage_chain(5, 4, 4), wrong_verdict_minutes=0.0)
    assert plan(model).proof.closed_by == "Stopping at once is best."


@pytest.mark.parametrize("topology", ["buck-lamp", "light-controlled-lamp"])
def test_a_plan_asks_though_time_is_up_at_once(topology: str) -> None:
    """On a busy machine the answer is a quick plan, not to give up a unit that nobody looked at."""
    model = library.model(topology, mains=Mains(230, 50))
    hurried = plan(model, seconds=1e-9)
    at_once = min(
        remedy.minutes
        + model.wrong_verdict_minutes
        * sum(fault.prior for fault in model.faults if fault.id not in remedy.cures)
        for remedy in model.remedies
    )
    assert isinstance(hurried.nodes[hurried.root], Ask)
    assert hurried.proof.expected_cost < 0.95 * at_once
