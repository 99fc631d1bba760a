"""Minutes and shares as ranges: benches drawn within them, exact prices, losses that add up."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.audit import audit
from engine.chart import drawing
from engine.model import setup
from engine.model.plan import Ask, Plan, State, Verdict
from engine.model.records import Model, document
from engine.planner import plan, runners_up
from engine.studies.trial.benches import RANGES, draw_benches, factor
from engine.studies.trial.ledger import Ledger
from engine.studies.trial.ranges import Field, ranges, sturdy_plan
from engine.studies.trial.regrown import beginning_with, content, regrown
from tests.models import cold_and_live, dense_random, stage_chain, with_shorts

SEEDS = st.integers(0, 10_000)
NEAR = 1e-6


def drawn(seed: int, splits: float = 0.3) -> Model:
    family = stage_chain if seed % 2 else dense_random
    model = family(seed, faults=7, tests=9, set_ups=0.6, splits=splits)
    stages = ("one", "two", "three")
    faults = tuple(replace(f, stage=stages[n % 3]) for n, f in enumerate(model.faults))
    return replace(model, faults=faults)


def new_breaches(model: Model, made: Plan, other: Plan) -> set[str]:
    """What the audit holds against a plan and not against the planner's own: random models have
    no proofs, for one."""
    own, found = (
        {
            breach.code
            for breach in audit(document(model), drawing.document(drawing.draw_up(model, p)))
        }
        for p in (made, other)
    )
    return found - own


def by_fault(model: Model, made: Plan, fault: str, name: str, state: State) -> float:
    """Expected minutes and loss of one fault from a node on, path by path."""
    node = made.nodes[name]
    if isinstance(node, Verdict):
        remedy = model.remedy(node.remedy)
        return remedy.minutes + (0.0 if fault in remedy.cures else model.wrong_verdict_minutes)
    if not isinstance(node, Ask):
        return 0.0
    spent = setup.minutes(model, state, node.state) + model.test(node.test).minutes
    for outcome, odds in model.row(node.test, fault).items():
        if odds > 0.0:
            spent += odds * by_fault(model, made, fault, node.branches[outcome], node.state)
    return spent


@settings(max_examples=25, deadline=None)
@given(SEEDS)
def test_a_price_is_the_sum_over_faults_and_paths(seed: int) -> None:
    """On the bench the plan was made for, as the planner says, and on any other."""
    model = drawn(seed)
    made = plan(model)
    ledger = Ledger.of(model, made)
    assert ledger.cost(model) == pytest.approx(made.proof.expected_cost, abs=NEAR)
    for bench in draw_benches(model, 2, seed):
        brute = sum(
            f.prior * by_fault(bench, made, f.id, made.root, setup.start(bench))
            for f in bench.faults
        )
        assert ledger.cost(bench) == pytest.approx(brute, abs=NEAR)


@settings(max_examples=15, deadline=None)
@given(SEEDS)
def test_no_plan_is_cheaper_than_the_best_of_its_bench(seed: int) -> None:
    """Where that was proved; so no loss is below nothing."""
    model = drawn(seed)
    made = plan(model)
    field = Field.draw(model, 3, seed, 20.0)
    costs = field.costs(Ledger.of(model, made))
    for cost, own in zip(costs, field.plans, strict=True):
        assert own.proof.proved_optimal
        assert cost >= own.proof.expected_cost - NEAR
    told = field.ranges(costs, field.best([costs]))
    assert 0.0 <= told.loses.median <= told.loses.in_19_of_20
    assert told.closed == told.benches
    assert told.at_most == told.loses


@settings(max_examples=40, deadline=None)
@given(SEEDS)
def test_a_bench_stays_within_the_ranges(seed: int) -> None:
    """And keeps rows, needs, names, and what can't be."""
    model = drawn(seed)
    model = replace(model, faults=(replace(model.faults[0], prior=0.0), *model.faults[1:]))
    (bench,) = draw_benches(model, 1, seed)
    pairs = [
        *((t.minutes, o.minutes, "test") for t, o in zip(bench.tests, model.tests, strict=True)),
        *((t.minutes, o.minutes, "opening")
          for t, o in zip(bench.openings, model.openings, strict=True)),
        *((t.minutes, o.minutes, "rig") for t, o in zip(bench.rigs, model.rigs, strict=True)),
        *((t.minutes, o.minutes, "remedy")
          for t, o in zip(bench.remedies, model.remedies, strict=True)),
    ]  # fmt: skip
    for minutes, middle, kind in pairs:
        least, greatest = RANGES[kind]
        assert middle * least - NEAR <= minutes <= middle * greatest + NEAR
    assert bench.faults[0].prior == 0.0
    assert math.fsum(f.prior for f in bench.faults) == pytest.approx(
        math.fsum(f.prior for f in model.faults)
    )
    assert bench.likelihood is model.likelihood
    stripped = [replace(t, minutes=0.0) for t in bench.tests]
    assert stripped == [replace(t, minutes=0.0) for t in model.tests]


@settings(max_examples=20, deadline=None)
@given(SEEDS)
def test_a_change_of_supply_goes_by_the_dead_arrangement(seed: int) -> None:
    """On every bench."""
    (bench,) = draw_benches(drawn(seed), 1, seed)
    minutes, dead = bench.supply.minutes, bench.dead_supply
    for one in minutes:
        for two in minutes:
            if one != two and dead not in (one, two):
                assert minutes[one][two] == pytest.approx(minutes[one][dead] + minutes[dead][two])


@settings(max_examples=10, deadline=None)
@given(SEEDS)
def test_the_same_seed_draws_the_same_benches(seed: int) -> None:
    """Another seed others."""
    model = drawn(seed)
    assert draw_benches(model, 2, seed) == draw_benches(model, 2, seed)
    assert draw_benches(model, 2, seed) != draw_benches(model, 2, seed + 1)
    made = plan(model)
    first, second = (ranges(model, made, many=3, seed=seed, seconds=20.0) for _ in range(2))
    assert first == second


@given(st.floats(0.001, 0.999), st.floats(0.001, 0.999))
def test_a_factor_rises_from_the_least_to_the_greatest(one: float, two: float) -> None:
    low, high = sorted((one, two))
    assert 0.5 <= factor(low, 0.5, 2.0) <= factor(high, 0.5, 2.0) <= 2.0
    assert factor(0.5, 0.5, 2.0) == pytest.approx(1.0)
    assert factor(one, 0.5, 2.0) * factor(1.0 - one, 0.5, 2.0) == pytest.approx(1.0)


def test_who_is_quick_at_one_thing_is_quick_at_most() -> None:
    """One pace for a bench; shares have none of it."""
    model = drawn(4)
    benches = draw_benches(model, 400, 1)
    logs = np.log(
        [[b.tests[0].minutes, b.tests[1].minutes, b.remedies[0].minutes] for b in benches]
    )
    together = np.corrcoef(logs.T)
    assert together[0, 1] == pytest.approx(0.5, abs=0.12)
    assert together[0, 2] == pytest.approx(0.5, abs=0.12)


def test_a_share_of_forty_per_cent_lies_between_25_and_55() -> None:
    """In 19 benches of 20, as skilled people say of the LEDs; and its mean is the model's."""
    model = drawn(4)
    priors = (0.4, 0.2, 0.1, 0.1, 0.1, 0.05, 0.05)
    faults = tuple(
        replace(f, prior=p, stage="leds" if n == 0 else f"s{n % 3}")
        for n, (f, p) in enumerate(zip(model.faults, priors, strict=True))
    )
    shares = [b.faults[0].prior for b in draw_benches(replace(model, faults=faults), 2000, 3)]
    assert np.mean(shares) == pytest.approx(0.4, abs=0.006)
    low, high = np.quantile(shares, (0.025, 0.975))
    assert (low, high) == pytest.approx((0.25, 0.55), abs=0.02)


@settings(max_examples=20, deadline=None)
@given(SEEDS)
def test_a_plan_put_back_on_its_own_bench_stays_as_it_is(seed: int) -> None:
    """Its checks, its ends, its cost, its proof and its size."""
    model = drawn(seed)
    made = plan(model)
    again = regrown(model, made, made.proof)
    assert again.proof.expected_cost == pytest.approx(made.proof.expected_cost, abs=NEAR)
    assert again.proof.proved_optimal == made.proof.proved_optimal
    assert len(again.nodes) <= len(made.nodes)


@settings(max_examples=20, deadline=None)
@given(SEEDS)
def test_a_plan_of_another_bench_passes_the_audit_on_this_one(seed: int) -> None:
    """And is never cheaper than what is proved here."""
    model = with_shorts(cold_and_live(drawn(seed, splits=0.0), seed), seed)
    made = plan(model)
    for bench in draw_benches(model, 2, seed):
        put = regrown(model, plan(bench), made.proof)
        assert put.proof.expected_cost >= made.proof.lower_bound - NEAR
        assert Ledger.of(model, put).cost(model) == pytest.approx(put.proof.expected_cost)
        assert new_breaches(model, made, put) == set()


@settings(max_examples=15, deadline=None)
@given(SEEDS)
def test_a_plan_that_begins_otherwise_costs_what_the_runner_up_says(seed: int) -> None:
    """And passes the audit."""
    model = with_shorts(cold_and_live(drawn(seed, splits=0.0), seed), seed)
    made = plan(model)
    for one in runners_up(model, many=3):
        begun = beginning_with(model, one.test, made.proof, 20.0)
        assert begun.proof.expected_cost == pytest.approx(one.expected_cost, abs=NEAR)
        assert new_breaches(model, made, begun) == set()


@settings(max_examples=8, deadline=None)
@given(SEEDS)
def test_the_sturdiest_plan_is_near_the_least_and_loses_no_more(seed: int) -> None:
    """Than the plan of least minutes, which stands where nothing is better."""
    model = drawn(seed)
    made = plan(model)
    found = sturdy_plan(model, made, many=4, seed=seed, seconds=20.0, within=0.05)
    assert found.gap_minutes <= 0.05 * made.proof.lower_bound + NEAR
    assert found.ranges.loses.in_19_of_20 <= found.first.loses.in_19_of_20
    assert found.changed == (content(found.plan) != content(made))
    assert new_breaches(model, made, found.plan) == set()
