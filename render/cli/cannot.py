"""From a chart document to one whose steps say how to go on where they can't be done."""

from __future__ import annotations

from functools import partial
from typing import Any

from engine.chart import instead
from engine.model.records import Model
from engine.planner import plan
from render.cli.waiting import status

_PATIENCE = 0.5
"""Seconds for each plan: one that is cut short tells the minutes roughly."""
_LEAST = 0.02
"""Steps that fewer units come to say nothing: their sheet would drown in it."""


def with_ways_on(model: Model, chart: dict[str, Any]) -> dict[str, Any]:
    """The chart document with the way on from each step that can't be done."""
    words = "looking for the way on where a step can't be done"
    with status(words) as say:

        def tell(number: int, of: int) -> None:
            if say is not None:
                say(f"{words}: {number} of {of}")

        return instead.with_ways_on(model, chart, partial(plan, seconds=_PATIENCE), _LEAST, tell)
