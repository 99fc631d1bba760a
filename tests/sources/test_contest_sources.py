"""Simulated diagnoses against published figures and against what is exact.

Wilson's interval: R. G. Newcombe, Statistics in Medicine 17 (1998), 857, table I, method 3, from
memory. p/c order: p .45 .25 .20 .10, c 12 4 2 5, best CBAD (Kadane and Simon; brute force).
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from engine.chart.outlook import outlook
from engine.model.records import Model
from engine.planner import plan
from engine.readings.belief import prepare
from engine.readings.confusion import Readings
from engine.studies.contest import Contest, contest, wilson
from engine.studies.contest.orders import by_odds_and_cost
from tests.models import simple_test, stage_chain, tiny_model


@pytest.mark.parametrize(
    ("hits", "tries", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611),
     (1, 29, 0.0061, 0.1718)],
)  # fmt: skip
def test_the_interval_of_a_share(hits: int, tries: int, low: float, high: float) -> None:
    """To the four places printed."""
    assert wilson(hits, tries) == pytest.approx((low, high), abs=5e-5)


def decisive() -> Model:
    """Four faults, a check for each that finds it and nothing else."""
    priors = {"a": 0.45, "b": 0.25, "c": 0.20, "d": 0.10}
    minutes = {"a": 12.0, "b": 4.0, "c": 2.0, "d": 5.0}
    tests = [simple_test(f"check-{f}", m) for f, m in minutes.items()]
    rows = {f"check-{f}": {g: "bad" if f == g else "good" for g in priors} for f in priors}
    return tiny_model(priors, tests, rows)


def test_decisive_checks_are_ranked_by_odds_over_minutes() -> None:
    """C, B, A, D."""
    model = decisive()
    assert by_odds_and_cost(model, prepare(model)) == ("check-c", "check-b", "check-a", "check-d")


@pytest.fixture(scope="module")
def tried() -> Contest:
    """All ways of working on that unit, nothing misread."""
    model = decisive()
    return contest(model, plan(model), units=1500, seed=3)


def test_p_over_c_takes_its_minutes(tried: Contest) -> None:
    """12.30, less the last check's .5: three that find nothing leave the fourth fault alone."""
    bout = next(b for b in tried.bouts if b.name == "p/c")
    assert bout.mean_minutes == pytest.approx(11.8, abs=4 * bout.minutes_error)


def test_decisive_checks_end_right_in_any_order(tried: Contest) -> None:
    """No way of working errs, and none is quicker than the plan."""
    chart, *others = tried.bouts
    for bout in tried.bouts:
        assert (bout.right, bout.confusions) == (1.0, ())
    assert all(b.mean_minutes >= chart.mean_minutes - 3 * b.minutes_error for b in others)


def misreadable() -> Model:
    """A chain of stages whose every test is misread now and then."""
    model = stage_chain(5, faults=12, tests=14, set_ups=0.5)
    tests = tuple(
        replace(
            t, misread={o.id: {x.id: 0.04 for x in t.outcomes if x is not o} for o in t.outcomes}
        )
        for t in model.tests
    )
    return replace(model, tests=tests)


def test_the_chart_fares_as_the_exact_outlook_says() -> None:
    """Odds of the right remedy, minutes and cost, within four standard errors."""
    model = misreadable()
    made = plan(model)
    exact, prior = outlook(model, made), Readings.of(model).prior
    bout = contest(model, made, units=1000, seed=11).bouts[0]
    right = exact.accuracy(prior)
    assert bout.right == pytest.approx(right, abs=4 * math.sqrt(right * (1 - right) / 1000))
    assert bout.mean_minutes == pytest.approx(
        exact.expected_minutes(prior), abs=4 * bout.minutes_error
    )
    assert bout.cost == pytest.approx(exact.expected_cost(prior), abs=4 * bout.cost_error)


def test_the_more_is_misread_the_more_ends_wrong() -> None:
    """By the printed chart."""
    model = misreadable()
    made = plan(model)
    none, some, much = (
        contest(model, made, units=300, seed=2, misreads=by).bouts[0] for by in (0.0, 1.0, 4.0)
    )
    assert none.right > some.right > much.right


def test_tests_that_can_not_be_done_cost_the_chart_more_than_the_walk() -> None:
    """The walk plans without them, on paper the person guesses."""
    model = misreadable()
    found = contest(model, plan(model), units=250, seed=4, skips=0.3)
    chart, walk = found.bouts[:2]
    assert walk.right > chart.right


def test_the_same_seed_gives_the_same_tally() -> None:
    """To the last unit."""
    model = misreadable()
    made = plan(model)
    first, second = (contest(model, made, units=100, seed=9, skips=0.1) for _ in range(2))
    assert first == second


def test_what_goes_wrong_adds_up() -> None:
    """Each unit that did not end right is in one confusion."""
    model = misreadable()
    for bout in contest(model, plan(model), units=300, seed=6).bouts:
        assert sum(one.units for one in bout.confusions) == round(300 * (1 - bout.right))
