"""Are the runners-up what they cost?"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.model.plan import Ask
from engine.planner import plan
from engine.walk import job
from engine.walk.alternatives import cost_of_cannot, runners_up
from engine.walk.events import Known
from engine.walk.job import Outset, pending
from tests.models import probe_chain, stage_chain
from tests.walk.test_walk_ends import lantern

PATIENCE = 60.0


def test_probing_beside_the_middle_costs_what_the_tree_says() -> None:
    """Eight equal stages: the middle probe first gives 24/8 = 3 tests on average (half-split,
    facts as in the doctrine), the probe beside it 25/8: an eighth of a minute more, reckoned by
    hand from sub-trees of 3 and 5 stages (5 + 12 + 8 = 25)."""
    walk = job.begin(Outset(probe_chain([1.0] * 8)), plan)
    node = walk.plan.nodes[walk.node]
    assert isinstance(node, Ask)
    assert node.test == "t3"
    assert [(r.test in ("t2", "t4"), r.extra_minutes) for r in runners_up(walk, PATIENCE)] == [
        (True, pytest.approx(1 / 8)),
        (True, pytest.approx(1 / 8)),
    ]


@given(st.integers(0, 100))
@settings(max_examples=12)
def test_no_runner_up_is_cheaper_than_the_test_asked(seed: int) -> None:
    """The plan is the best there is, so putting another test first never saves."""
    walk = job.begin(Outset(stage_chain(seed, faults=8, tests=10)), plan)
    for other in runners_up(walk, PATIENCE):
        assert other.extra_minutes >= 0
        step = pending(walk)
        assert step is not None
        assert other.test != step.test


def test_tests_that_are_answered_or_tell_nothing_are_no_runners_up() -> None:
    """After the LEDs are known to light, lighting them again is none."""
    walk = job.take(job.begin(Outset(lantern()), plan), Known("probe-leds", "all-lit"))
    assert "probe-leds" not in {other.test for other in runners_up(walk, PATIENCE)}


def test_at_the_verdict_there_are_none() -> None:
    """Nothing is asked there."""
    walk = job.take(job.begin(Outset(lantern()), plan), Known("other-socket", "works"))
    assert walk.is_ended
    assert runners_up(walk, PATIENCE) == ()
    assert cost_of_cannot(walk, PATIENCE) is None


def test_a_cannot_costs_what_the_best_plan_without_the_test_takes_more() -> None:
    """Eight equal stages without the middle probe: two stages stay together, so one in eight gets
    a wrong verdict at 1000 min; the tests are an alphabetic tree over 1 1 1 2 1 1 1, depths 3 3 2
    3 3 3 3, that is 23/8 for 24/8. By hand."""
    walk = job.begin(Outset(probe_chain([1.0] * 8)), plan)
    assert cost_of_cannot(walk, PATIENCE) == pytest.approx(1000 / 8 + 23 / 8 - 24 / 8)


def test_what_the_ranking_has_no_time_for_is_weighed_by_the_walks_own_plans() -> None:
    """Without any time the same two probes are named."""
    walk = job.begin(Outset(probe_chain([1.0] * 8)), plan)
    assert {other.test for other in runners_up(walk, 0.0)} == {"t2", "t4"}
