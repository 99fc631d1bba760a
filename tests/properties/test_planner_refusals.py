"""Does the planner refuse what can't be planned, in words, and bear what only looks absurd?"""

from __future__ import annotations

import dataclasses

import pytest

from engine.model.plan import Verdict
from engine.model.records import Model
from engine.planner import plan
from kb.trouble import TroubleError
from tests.models import dense_random, simple_test, stage_chain, tiny_model

PRIORS = {"a": 0.5, "b": 0.3, "c": 0.2}


def blind() -> Model:
    """A model whose one test shows the same for every fault."""
    return tiny_model(PRIORS, [simple_test("t")], {"t": dict.fromkeys(PRIORS, "good")})


def refused(model: Model, code: str, **given: object) -> None:
    with pytest.raises(TroubleError) as caught:
        plan(model, **given)  # type: ignore[arg-type]
    assert [trouble.code for trouble in caught.value.troubles] == [code]


def test_where_no_test_tells_anything_the_plan_is_a_verdict() -> None:
    made = plan(blind())
    assert isinstance(made.nodes[made.root], Verdict)


def test_a_model_without_tests_ends_at_once() -> None:
    made = plan(dataclasses.replace(blind(), tests=(), likelihood={}))
    assert isinstance(made.nodes[made.root], Verdict)


def test_zero_priors_are_refused() -> None:
    refused(blind(), "PL103", belief=dict.fromkeys(PRIORS, 0.0))


def test_negative_odds_are_refused() -> None:
    refused(blind(), "PL102", belief={"a": -1.0})


def test_odds_that_are_no_number_are_refused() -> None:
    refused(blind(), "PL102", belief={"a": float("nan")})


def test_an_unknown_fault_is_refused() -> None:
    refused(blind(), "PL101", belief={"z": 1.0})


@pytest.mark.parametrize("minutes", [-1.0, float("nan"), float("inf"), 1e12])
def test_absurd_minutes_are_refused(minutes: float) -> None:
    model = tiny_model(PRIORS, [simple_test("t", minutes)], {"t": dict.fromkeys(PRIORS, "good")})
    refused(model, "PL106")


def test_a_model_without_remedies_is_refused() -> None:
    refused(dataclasses.replace(blind(), remedies=()), "PL105")


def test_free_tests_are_no_trouble() -> None:
    rows = {"t": {"a": "bad", "b": "good", "c": "good"}}
    model = tiny_model(PRIORS, [simple_test("t", 0.0)], rows)
    assert plan(model).proof.proved_optimal


def test_a_fault_of_prior_zero_is_left_out() -> None:
    model = stage_chain(2, 8, 10)
    first, *others = model.faults
    told = dataclasses.replace(model, faults=(dataclasses.replace(first, prior=0.0), *others))
    made = plan(told)
    listed = {
        f for node in made.nodes.values() if isinstance(node, Verdict) for f, _ in node.weights
    }
    assert first.id not in listed


def test_a_closed_only_test_is_not_planned_for_an_opened_unit() -> None:
    test = simple_test("t", supply="socket")
    model = tiny_model(PRIORS, [test], {"t": {"a": "bad", "b": "good", "c": "good"}})
    from engine.model.plan import State

    opened = State(frozenset({"cap"}), "dead", "none")
    made = plan(model, state=opened)
    assert isinstance(made.nodes[made.root], Verdict)


def test_time_is_kept_on_a_model_of_many_states() -> None:
    proof = plan(dense_random(1, 300, 150, outcomes=4, set_ups=1.0), seconds=0.5).proof
    assert 0 < proof.lower_bound <= proof.expected_cost


def test_where_outcomes_split_a_plan_cut_short_stays_small() -> None:
    """Every further test could double the branches: the greedy plan leaves small regrets alone."""
    made = plan(stage_chain(1, 30, 40, splits=0.5), seconds=0.0)
    assert len(made.nodes) < 30_000
    assert 0 < made.proof.lower_bound <= made.proof.expected_cost


def test_the_root_is_bounded_even_if_time_is_up_at_once() -> None:
    assert plan(dense_random(1, 120, 120, set_ups=0.7), seconds=0.0).proof.lower_bound > 0
