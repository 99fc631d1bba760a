"""When somebody has a drawing of a stage after all: from here on tracing it takes no minutes."""

from __future__ import annotations

from dataclasses import replace

from engine.model import tracing
from engine.walk.events import Traced
from engine.walk.state import Step, Walk
from kb.trouble import Place, Trouble, TroubleError


def trace(walk: Walk, event: Traced) -> Walk:
    """The walk with its stage traced, before the rest is planned anew. TroubleError WK130 for a
    stage of which nothing needs a drawing."""
    stages = tracing.stages(walk.outset.model)
    if event.stage not in stages:
        raise TroubleError(
            Trouble(
                code="WK130",
                place=Place(walk.model.topology),
                what=f'nothing in "{event.stage}" needs a drawing to be found',
                mend=f"Name one of {', '.join(stages)}" if stages else "Go on without it",
            )
        )
    step = Step("traced", 0.0, walk.bench, walk.belief, thing=event.stage)
    model = tracing.with_drawings(walk.model, (event.stage,))
    return replace(walk, drawn=model, steps=(*walk.steps, step))
