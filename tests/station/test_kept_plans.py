"""Is a plan that was made kept for whoever comes to the same point, and for nobody else?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from engine.model.plan import Plan
from engine.model.records import Model
from engine.planner import plan
from render.cli.foresight import KeptPlans
from tests.walk.test_walk_ends import lantern

_FIRST: Mapping[str, Any] = {
    "belief": None, "state": None, "withdrawn": frozenset(), "tests_done": frozenset(),
    "answers": (),
}  # fmt: skip


class Counting:
    """A planner that counts its plans."""

    def __init__(self) -> None:
        self.plans = 0

    def __call__(self, model: Model, **asked: Any) -> Plan:
        self.plans += 1
        return plan(model, **asked)


def plans_made(*models: Model, most: int = 64) -> int:
    """How many plans are made where these are begun one after the other."""
    counting, keeper = Counting(), KeptPlans(most)
    planner = keeper.kept(counting)
    made = [planner(model, **_FIRST) for model in models]
    assert all(plan(model, **_FIRST) == one for model, one in zip(models, made, strict=True))
    return counting.plans


def test_the_same_point_is_planned_once() -> None:
    """Whether it is the same model or one that says the same."""
    assert plans_made(lantern(), lantern()) == 1


def test_another_model_of_the_same_name_is_planned_anew() -> None:
    """A shop's own minutes make another plan, whatever the odds."""
    model = lantern()
    slower = replace(model, tests=tuple(replace(t, minutes=t.minutes * 3) for t in model.tests))
    assert plans_made(model, slower, model) == 3


def test_no_more_are_kept_than_there_is_room_for() -> None:
    """The one used last longest ago goes."""
    model = lantern()
    other = replace(model, topology="other")
    assert plans_made(model, other, model, most=1) == 3
    assert plans_made(model, other, model, most=2) == 2
