"""From what was asked to what verdicts say of going on to the part."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, Protocol

from engine.model.records import Model
from engine.planner import plan
from engine.walk import goingon
from kb.language import benchfile
from render.cli.options import Depth
from render.cli.waiting import status

if TYPE_CHECKING:
    from pathlib import Path

    from engine.walk.goingon import GoingOn, Stage
    from engine.walk.job import Walk
    from render.cli.options import Mains

_PATIENCE = 0.5
"""Seconds for the plan at one verdict: one that is cut short tells what it takes itself."""


class _Request(Protocol):
    """What a model was asked for with: `render.cli.asked.Asked` and the `Told` of a walk are so."""

    @property
    def topology(self) -> str | None: ...
    @property
    def mains(self) -> Mains: ...
    @property
    def complaint(self) -> str | None: ...
    @property
    def kb(self) -> Path | None: ...
    @property
    def without(self) -> tuple[str, ...]: ...
    @property
    def values(self) -> tuple[str, ...]: ...
    @property
    def having(self) -> tuple[str, ...]: ...
    @property
    def traced(self) -> tuple[str, ...]: ...


def stage(request: _Request, model: Model) -> Stage | None:
    """What verdicts of the model go on in; None for a stage model that came as a document."""
    part = model
    if model.depth != Depth.PART.value:
        if request.topology is None:
            return None
        from render.cli import knowledge

        part = knowledge.topology_model(
            request.topology, request.mains, Depth.PART, request.complaint, request.kb,
            request.without, request.values, request.having, request.traced,
        )  # fmt: skip
    file = benchfile.of(request.kb)
    worth = goingon.worth(part, file)
    if worth is None:
        return None
    advises = goingon.shops_worth(part, file) is not None
    return goingon.Stage(part, partial(plan, seconds=_PATIENCE), worth, advises)


def with_going_on(request: _Request, model: Model, chart: dict[str, Any]) -> dict[str, Any]:
    """The chart document, its verdicts saying what going on would take."""
    here = stage(request, model)
    if here is None:
        return chart
    with status("reckoning what going on takes"):
        return goingon.with_going_on(model, chart, here)


@dataclass(slots=True)
class Onward:
    """What the verdict of a walk says of going on; the part model is made when one is reached."""

    wanted: _Request

    def __call__(self, walk: Walk) -> GoingOn | None:
        """What going on from the walk's verdict would take, where it is no end."""
        here = stage(self.wanted, walk.model)
        return None if here is None else goingon.of_walk(here, walk)
