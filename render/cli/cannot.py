"""How one goes on where a step of a chart can't be done: told at the step, and for the page the
whole plan from there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

from engine import safetygate
from engine.chart import detours, instead
from engine.chart.detours import Detour
from engine.model.records import Model
from engine.planner import plan
from render.cli.waiting import status

_PATIENCE = 0.5
"""Seconds for each plan: one that is cut short tells the minutes roughly."""
_LEAST = 0.02
"""Steps that fewer units come to say nothing: their sheet would drown in it."""
_LEAST_ON_PAGE = 0.3
"""Steps that fewer units come to keep to words on the page, too: each way on is a plan down to its
verdicts, half a megabyte, and a phone has to open them all."""
_WORDS = "looking for the way on where a step can't be done"


def with_ways_on(model: Model, chart: dict[str, Any]) -> dict[str, Any]:
    """The chart document with the way on from each step that can't be done."""
    planner = partial(plan, seconds=_PATIENCE)
    with _telling() as tell:
        return instead.with_ways_on(model, chart, planner, _LEAST, tell)


def detours_of(
    model: Model, chart: Mapping[str, Any], kb: Path | None, source: Path | None
) -> tuple[Detour, ...]:
    """The whole way on from the steps that most units come to; TroubleError AU... where the
    audit's laws of safety reject one."""
    planner = safetygate.guard(partial(plan, seconds=_PATIENCE), kb=kb, source=source)
    with _telling() as tell:
        return detours.detours(model, chart, planner, _LEAST_ON_PAGE, tell)


@contextmanager
def _telling() -> Iterator[instead.Tell]:
    with status(_WORDS) as say:

        def tell(number: int, of: int) -> None:
            if say is not None:
                say(f"{_WORDS}: {number} of {of}")

        yield tell
