"""Do bits priced by groups of faults, and tolls on the way, ever claim more than a plan must pay?

The bound has many free numbers (prices, bids, shares) and must hold whatever they come to; the
optimum it is held against is found without it.
"""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.model.records import Model
from engine.model.setup import start
from engine.planner import ALL, Bound, plan
from engine.planner._kernel import price, search
from engine.planner.reduction import belief_of, reduce
from engine.planner.tolls import tolls
from tests.enumeration import best_cost
from tests.models import dense_random, stage_chain

SLOW = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
MEMORY = 64.0 * 2**20


@st.composite
def models(draw: st.DrawFn, most_faults: int, most_tests: int) -> Model:
    family = draw(st.sampled_from([stage_chain, dense_random]))
    return family(
        draw(st.integers(0, 10**6)),
        draw(st.integers(2, most_faults)),
        draw(st.integers(1, most_tests)),
        set_ups=draw(st.sampled_from([0.0, 0.5, 1.0])),
        splits=draw(st.sampled_from([0.0, 0.0, 0.1, 0.8])),
        wrong_verdict_minutes=draw(st.sampled_from([5.0, 60.0, 500.0])),
    )


def bound_by_groups(model: Model) -> float:
    """The root's bound by groups alone, what is certain included."""
    reduction = reduce(model, belief_of(model, None), start(model), frozenset(), ALL)
    return reduction.certain_cost + price(reduction.problem, 0, 0, 0, 1e12, 0.0, MEMORY, None, 0)


@SLOW
@given(models(most_faults=7, most_tests=6))
def test_no_plan_is_cheaper_than_the_bound_by_groups(model: Model) -> None:
    assert bound_by_groups(model) <= best_cost(model) + 1e-9


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("splits", [0.0, 0.05])
def test_the_bound_by_groups_stays_under_the_optimum_of_middling_models(
    seed: int, splits: float
) -> None:
    model = stage_chain(seed, 20, 24, splits=splits)
    best = plan(model, bounds=ALL - {Bound.GROUPS}).proof.expected_cost
    assert bound_by_groups(model) <= best + 1e-9


@SLOW
@given(models(most_faults=7, most_tests=6), st.sampled_from([ALL, Bound.GROUPS]))
def test_a_search_that_prices_groups_at_once_finds_the_optimum(model: Model, bounds: Bound) -> None:
    reduction = reduce(model, belief_of(model, None), start(model), frozenset(), bounds)
    found = search(reduction.problem, 0, 0, 0, 1e12, 0.0, MEMORY, None, 1)
    assert found[3] == 1
    assert reduction.certain_cost + found[2] == pytest.approx(best_cost(model), rel=1e-9, abs=1e-9)


def test_a_larger_search_is_closed_by_prices_by_groups() -> None:
    model = dense_random(1, 80, 100)
    proof = plan(model).proof
    assert proof.proved_optimal
    assert "priced within each group" in proof.closed_by


def test_prices_by_groups_beat_one_price_for_all() -> None:
    model = stage_chain(0, 100, 120)
    one_price = plan(model, seconds=0.0, effort=0.0, bounds=ALL - {Bound.GROUPS}).proof.lower_bound
    assert bound_by_groups(model) > one_price + 1.0


def random_places(rng: random.Random) -> tuple[list[tuple[str, str]], np.ndarray]:
    kinds = list(itertools.product("dbs", ["none", "fed", "bridged"]))
    places = rng.sample(kinds, rng.randint(2, 7))
    change = np.array([[rng.choice([0.0, 0.5, 1.0, 3.0]) for _ in places] for _ in places])
    np.fill_diagonal(change, 0.0)
    return places, change


@given(st.integers(0, 10**6))
def test_no_change_of_place_pays_more_toll_than_its_minutes(seed: int) -> None:
    places, change = random_places(random.Random(seed))
    minutes, behind = tolls(places, change)
    for i, j in itertools.permutations(range(len(places)), 2):
        paid = sum(m for m, at in zip(minutes, behind, strict=False) if at[j] and not at[i])
        assert paid <= change[i, j] + 1e-9


@given(st.integers(0, 10**6))
def test_the_start_is_behind_no_toll(seed: int) -> None:
    _, behind = tolls(*random_places(random.Random(seed)))
    assert not behind[:, 0].any()
