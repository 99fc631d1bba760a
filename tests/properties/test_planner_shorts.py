"""Does any plan feed a short, and is the plan still the best there is with that rule?

Small awkward models in which some answers show a short are checked against `tests.enumeration`,
which has the same rule in words of its own. Most have quick cold tests beside live ones, so that
the rule often costs something; there are closed-only tests on low voltage, which a short does not
bar, and opened ones on high-voltage DC, which it does.
"""

from __future__ import annotations

import dataclasses
import json
import random
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.audit import audit
from engine.chart.drawing import document, draw_up
from engine.model.file import read_model
from engine.model.plan import Ask, Plan, State
from engine.model.records import Model, Opening
from engine.model.records import document as model_document
from engine.model.setup import start
from engine.model.shorts import barred_tests, bars
from engine.planner import ALL, Bound, plan, runners_up
from engine.planner._kernel import price, search
from engine.planner.reduction import belief_of, reduce
from kb.trouble import TroubleError
from tests.enumeration import best_cost
from tests.models import (
    cold_and_live,
    dense_random,
    simple_test,
    stage_chain,
    tiny_model,
    with_shorts,
)

SLOW = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
FEW = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
MEMORY = 64.0 * 2**20


@st.composite
def models(draw: st.DrawFn, most_faults: int = 8, most_tests: int = 7) -> Model:
    seed = draw(st.integers(0, 10**6))
    family = draw(st.sampled_from([stage_chain, dense_random]))
    model = family(
        seed,
        draw(st.integers(3, most_faults)),
        draw(st.integers(3, most_tests)),
        set_ups=draw(st.sampled_from([0.0, 0.5, 1.0])),
        splits=draw(st.sampled_from([0.0, 0.0, 0.1, 0.8])),
        wrong_verdict_minutes=draw(st.sampled_from([60.0, 300.0, 2000.0])),
    )
    marked = with_shorts(model, seed, draw(st.sampled_from([0.2, 0.4, 0.8])))
    return cold_and_live(marked, seed) if draw(st.integers(0, 3)) else marked


def cost(model: Model, bounds: Bound = ALL) -> float:
    return plan(model, bounds=bounds).proof.expected_cost


@SLOW
@given(models())
def test_no_plan_that_feeds_no_short_is_cheaper(model: Model) -> None:
    assert cost(model) == pytest.approx(best_cost(model), rel=1e-9, abs=1e-9)


@SLOW
@given(models(), st.sampled_from(list(Bound)))
def test_each_bound_can_be_switched_off_with_shorts(model: Model, bound: Bound) -> None:
    best = pytest.approx(best_cost(model), rel=1e-9, abs=1e-9)
    assert cost(model, ALL - {bound}) == best
    assert cost(model, bound) == best


@pytest.mark.parametrize("first", range(2000, 2048, 8))
def test_models_in_a_row_cost_the_same_with_and_without_each_bound(first: int) -> None:
    """The same models each time, one in three of which pays for the rule."""
    for seed in range(first, first + 8):
        rng = random.Random(seed)
        family = rng.choice([stage_chain, dense_random])
        splits = rng.choice([0.0, 0.0, 0.1, 0.4])
        plain = family(
            seed, rng.randint(4, 9), rng.randint(3, 7), splits=splits, wrong_verdict_minutes=300.0
        )
        model = cold_and_live(with_shorts(plain, seed, 0.4), seed)
        best = pytest.approx(best_cost(model), rel=1e-9, abs=1e-9)
        for bound in Bound:
            assert cost(model, ALL - {bound}) == best
            assert cost(model, bound) == best


@FEW
@given(models())
def test_no_bound_is_needed_with_shorts(model: Model) -> None:
    assert cost(model, Bound(0)) == pytest.approx(best_cost(model), rel=1e-9, abs=1e-9)


@SLOW
@given(models(), st.sampled_from([ALL, Bound.GROUPS]))
def test_the_bound_by_groups_holds_with_shorts(model: Model, bounds: Bound) -> None:
    best = best_cost(model)
    reduction = reduce(model, belief_of(model, None), start(model), frozenset(), bounds)
    certain = reduction.certain_cost
    assert certain + price(reduction.problem, 0, 0, 0, 1e12, 0.0, MEMORY, None, 0) <= best + 1e-9
    found = search(reduction.problem, 0, 0, 0, 1e12, 0.0, MEMORY, None, 1)
    assert certain + found[2] == pytest.approx(best, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("bound", list(Bound))
@pytest.mark.parametrize("seed", range(3))
def test_middling_models_with_shorts_cost_the_same_without_a_bound(
    seed: int, bound: Bound
) -> None:
    model = with_shorts(stage_chain(seed, 20, 24, set_ups=1.0, splits=0.02), seed)
    assert cost(model, ALL - {bound}) == pytest.approx(cost(model), rel=1e-9)


def ways(made: Plan, name: str, shorted: bool, model: Model) -> Iterator[tuple[str, bool]]:
    """Every test on every way through the plan, and whether a short was found before it."""
    node = made.nodes[name]
    if not isinstance(node, Ask):
        return
    yield node.test, shorted
    for outcome, child in node.branches.items():
        found = shorted or model.test(node.test).outcome(outcome).short
        yield from ways(made, child, found, model)


def feeds_a_short(model: Model, made: Plan) -> list[str]:
    energy = {t.id: model.arrangement(t.supply).energy for t in model.tests}
    return [
        test
        for test, shorted in ways(made, made.root, False, model)
        if shorted and energy[test] in ("mains", "hvdc")
    ]


@SLOW
@given(models(most_faults=14, most_tests=14), st.sampled_from([None, 0.0]))
def test_no_plan_feeds_a_short(model: Model, seconds: float | None) -> None:
    assert feeds_a_short(model, plan(model, seconds=seconds)) == []


@SLOW
@given(models())
def test_a_rule_more_never_lowers_the_cost(model: Model) -> None:
    assert cost(with_shorts(model, 0, 0.0)) <= cost(model) + 1e-9


@SLOW
@given(models())
def test_chart_of_a_plan_with_shorts_recomputes_to_its_cost(model: Model) -> None:
    breaches = audit(
        json.loads(json.dumps(model_document(model))), document(draw_up(model, plan(model)))
    )
    assert [b for b in breaches if b.code.startswith("AU2")] == []


@FEW
@given(models(most_faults=6, most_tests=5))
def test_runner_up_costs_what_its_answers_leave_open(model: Model) -> None:
    for runner in runners_up(model, many=3):
        assert runner.expected_cost == pytest.approx(forced(model, runner.test), rel=1e-9)


def forced(model: Model, first: str) -> float:
    """Least cost when `first` is done first: each outcome is planned on its own, from the law."""
    from engine.model.setup import closure, minutes

    test, before = model.test(first), start(model)
    after = State(before.opened | closure(model, test.opened), test.supply, test.rig)
    total = test.minutes + minutes(model, before, after)
    for outcome in test.outcomes:
        weights = {
            f.id: f.prior * model.row(first, f.id).get(outcome.id, 0.0) for f in model.faults
        }
        mass = sum(weights.values())
        if mass > 0:
            made = plan(
                model,
                belief=weights,
                state=after,
                tests_done=frozenset({first}),
                withdrawn=bars(model, first, outcome.id),
            )
            total += mass * made.proof.expected_cost
    return total


# ---- single cases ----

PRIORS = {"a": 0.4, "b": 0.3, "c": 0.3}
COLD = simple_test("cold", 1.0)
LIVE = simple_test("live", 1.0, supply="limited")
ROWS = {
    "cold": {"a": "good", "b": "bad", "c": "bad"},
    "live": {"a": "good", "b": "good", "c": "bad"},
}


def marked(cold_short: bool) -> Model:
    bad = dataclasses.replace(COLD.outcomes[1], short=cold_short)
    cold = dataclasses.replace(COLD, outcomes=(COLD.outcomes[0], bad))
    return tiny_model(PRIORS, [cold, LIVE], ROWS)


def test_a_short_bars_all_live_tests_and_no_others() -> None:
    assert bars(marked(True), "cold", "bad") == {"live"}
    assert bars(marked(True), "cold", "good") == frozenset()
    assert bars(marked(False), "cold", "bad") == frozenset()
    assert barred_tests(marked(True), [("cold", "good"), ("cold", "bad")]) == {"live"}
    assert barred_tests(marked(True), []) == frozenset()


def test_the_live_test_comes_first_where_the_cold_one_would_bar_it() -> None:
    """Cold first would end b and c unparted; both tests are wanted, so live goes first."""
    first = plan(marked(True))
    root = first.nodes[first.root]
    assert isinstance(root, Ask)
    assert root.test == "live"
    assert feeds_a_short(marked(True), first) == []
    free = plan(marked(False))
    assert free.proof.expected_cost < first.proof.expected_cost


def test_tests_alike_but_for_the_short_they_show_are_both_kept() -> None:
    """The quicker one shows a short and bars the live test; the other one does not."""
    bad = dataclasses.replace(COLD.outcomes[1], short=True)
    quick = dataclasses.replace(COLD, id="quick", minutes=0.9, outcomes=(COLD.outcomes[0], bad))
    rows = ROWS | {"quick": ROWS["cold"]}
    model = tiny_model(PRIORS, [quick, COLD, LIVE], rows)
    assert cost(model) == pytest.approx(best_cost(model), rel=1e-9)
    reduction = reduce(model, belief_of(model, None), start(model), frozenset(), ALL)
    assert {t.id for t in reduction.tests} == {"quick", "cold", "live"}


def test_a_document_without_the_key_shows_no_short() -> None:
    plain = model_document(marked(True))
    plain["proofs"] = [
        {"id": name, "says": name, "supply": supply, "limit": "", "source": "", "closed": True}
        for name, supply in (("insulation", "dead"), ("in-use", "socket"))
    ]
    for remedy in plain["remedies"]:
        remedy["proofs"] = ["insulation", "in-use"]
    assert [o["short"] for o in plain["tests"][0]["outcomes"]] == [False, True]
    for test in plain["tests"]:
        for outcome in test["outcomes"]:
            del outcome["short"]
    read = read_model(json.dumps(plain), "elsewhere.json")
    assert not any(o.short for test in read.tests for o in test.outcomes)


def test_as_many_openings_as_a_mask_has_room_for_beside_the_short() -> None:
    def opened(many: int) -> Model:
        openings = [Opening(f"o{i}", 1.0) for i in range(many)]
        bad = dataclasses.replace(COLD.outcomes[1], short=True)
        cold = dataclasses.replace(
            COLD, opened=(f"o{many - 1}",), outcomes=(COLD.outcomes[0], bad)
        )
        return tiny_model(PRIORS, [cold, LIVE], ROWS, openings=openings)

    assert cost(opened(63)) == pytest.approx(best_cost(opened(63)), rel=1e-9)
    with pytest.raises(TroubleError, match="64 openings"):
        plan(opened(64))
