"""What may be missing for the test that is due: the test itself, a part, or something it needs."""

from __future__ import annotations

from collections.abc import Iterable

from engine.model.setup import in_order
from engine.walk import fitting
from engine.walk.events import CannotDo, Lacking, NotFitted
from engine.walk.job import Due, Walk
from render.wording import leads

Lack = CannotDo | Lacking | NotFitted


def of(walk: Walk, node: Due) -> Iterable[tuple[str, Lack]]:
    """Each in words, with the event that says so."""
    model, need = walk.model, node.state
    yield f"this test: {model.test(node.test).says}", CannotDo(node.test)
    part = model.test(node.test).on
    if part in fitting.parts(walk):
        yield f"part: this unit has no {part}", NotFitted(part)
    for name in in_order(model, need.opened - walk.bench.opened):
        label = leads.LABELS.get(model.opening(name).kind, "open")
        yield f"{label}: {model.opening(name).says or name}", Lacking("opening", name)
    if need.supply not in (walk.bench.supply, model.dead_supply):
        says = model.arrangement(need.supply).says or need.supply
        yield f"supply: {says}", Lacking("supply", need.supply)
    if need.rig not in (walk.bench.rig, model.start.rig):
        yield f"rig: {model.rig(need.rig).says or need.rig}", Lacking("rig", need.rig)
