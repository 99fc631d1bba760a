"""Are the runners-up what they cost?"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.plan import Ask
from engine.planner import plan
from engine.walk import job
from engine.walk.alternatives import runners_up
from engine.walk.events import Known
from engine.walk.job import Outset, pending
from tests.models import probe_chain, stage_chain
from tests.walk.test_walk_ends import lantern


def test_probing_beside_the_middle_costs_what_the_tree_says() -> None:
    """Eight equal stages: the middle probe first gives 24/8 = 3 tests on average (half-split,
    facts as in the doctrine), the probe beside it 25/8: an eighth of a minute more, reckoned by
    hand from sub-trees of 3 and 5 stages (5 + 12 + 8 = 25)."""
    walk = job.begin(Outset(probe_chain([1.0] * 8)), plan)
    node = walk.plan.nodes[walk.node]
    assert isinstance(node, Ask)
    assert node.test == "t3"
    assert [(r.test in ("t2", "t4"), r.extra_minutes) for r in runners_up(walk)] == [
        (True, pytest.approx(1 / 8)),
        (True, pytest.approx(1 / 8)),
    ]


@given(st.integers(0, 100))
@settings(max_examples=12)
def test_no_runner_up_is_cheaper_than_the_test_asked(seed: int) -> None:
    """The plan is the best there is, so putting another test first never saves."""
    walk = job.begin(Outset(stage_chain(seed, faults=8, tests=10)), plan)
    for other in runners_up(walk):
        assert other.extra_minutes >= 0
        step = pending(walk)
        assert step is not None
        assert other.test != step.test


def test_tests_that_are_answered_or_tell_nothing_are_no_runners_up() -> None:
    """After the LEDs are known to light, lighting them again is none."""
    walk = job.take(job.begin(Outset(lantern()), plan), Known("probe-leds", "all-lit"))
    assert "probe-leds" not in {other.test for other in runners_up(walk)}


def test_at_the_verdict_there_are_none() -> None:
    """Nothing is asked there."""
    walk = job.take(job.begin(Outset(lantern()), plan), Known("other-socket", "works"))
    assert walk.ended
    assert runners_up(walk) == ()
