"""Which cautions a person at the bench has been told since the present bench state began.

As on a chart (`engine.chart.cautioning`): a caution is told in full where the state changes or its
hazard begins; after that the mark of the state stands for it. Whoever comes back is told anew.
"""

from __future__ import annotations

from engine.chart.cautioning import ending, region
from engine.model.plan import State
from engine.model.records import Model
from engine.model.setup import start
from engine.walk.state import Setting, Walk


def of_setup(model: Model, before: State, after: State) -> tuple[str, ...]:
    """The cautions of what a set-up step energises, opens and fits."""
    cautions: list[str] = []
    if after.opened != before.opened or after.supply != before.supply:
        cautions += model.arrangement(after.supply).cautions
    for opening in model.openings:
        if opening.id in after.opened - before.opened:
            cautions += opening.cautions
    if after.rig != before.rig:
        cautions += model.rig(before.rig).cautions  # taking off can burn as fitting can
        cautions += model.rig(after.rig).cautions
    return tuple(dict.fromkeys(cautions))


def standing(walk: Walk) -> frozenset[str]:
    """The cautions told since this bench state began."""
    model, before, cautions = walk.model, start(walk.model), frozenset[str]()
    for step in walk.steps:
        if step.kind in ("away", "repair"):
            cautions = frozenset()
        elif step.kind == "setup":
            if region(model, before) != region(model, step.bench):
                cautions = frozenset()
            cautions -= ending(model, before, step.bench)
            cautions |= set(of_setup(model, before, step.bench))
            before = step.bench
        elif step.kind == "test":
            cautions |= set(model.test(step.test or "").cautions)
    return frozenset() if walk.unsettled else cautions


def at_setup(walk: Walk, setting: Setting) -> tuple[str, ...]:
    """The cautions to tell in full at a set-up step."""
    demands = of_setup(walk.model, walk.bench, setting.bench)
    if setting.make_safe or setting.returns:
        here = walk.model.arrangement(setting.bench.supply).cautions
        demands = tuple(dict.fromkeys((*demands, *here)))
    anew = region(walk.model, walk.bench) != region(walk.model, setting.bench)
    earlier = frozenset[str]() if anew or setting.returns else standing(walk)
    earlier -= ending(walk.model, walk.bench, setting.bench)
    return tuple(caution for caution in demands if caution not in earlier)


def at_test(walk: Walk, test: str) -> tuple[str, ...]:
    """The cautions to tell in full at a test whose bench is ready."""
    earlier = standing(walk)
    return tuple(caution for caution in walk.model.test(test).cautions if caution not in earlier)
