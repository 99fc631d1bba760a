"""What comes next in a walk: the test that is due, the setup step before it, what to make safe."""

from __future__ import annotations

from dataclasses import replace

from engine import setup
from engine.model import Model, Store
from engine.plan import Ask, State
from engine.walk.state import Due, Question, Setting, Walk


def due(walk: Walk) -> Due | None:
    """The test that comes next; None when the verdict is reached.

    It is the plan's, but that a test of `cold_first` goes before anything on mains or hvdc, and
    that one is done again where the verdict hangs on it.
    """
    node = walk.plan.nodes[walk.node]
    if walk.again is not None:
        again = walk.model.test(walk.again)
        wanted = Due(again.id, setup.reach(walk.model, walk.bench, again))
    elif isinstance(node, Ask):
        wanted = Due(node.test, node.state)
    else:
        return None
    if walk.model.arrangement(wanted.state.supply).energy in ("mains", "hvdc"):
        waiting = walk.outset.cold_first - walk.done - walk.withdrawn
        for test in walk.model.tests:
            if test.id in waiting:
                return Due(test.id, setup.reach(walk.model, walk.bench, test))
    return wanted


def pending(walk: Walk) -> Setting | Question | None:
    """What comes next: a setup step, a question, or None when the verdict is reached."""
    node = due(walk)
    if node is None:
        return None
    to_do = setup.steps(walk.model, walk.bench, node.state)
    if not to_do:
        return Question(node.test)
    step = to_do[0]
    bench = State(walk.bench.opened | frozenset(step.opened), step.supply, step.rig)
    safe = make_safe(walk.model, walk.bench, bench)
    return Setting(bench, step.opened, step.minutes, safe, node.test)


def unplugging(walk: Walk) -> Setting | None:
    """The step that a person takes on leaving an energised bench, to be confirmed on the return:
    a resumed walk goes on from an unplugged unit. None where there is nothing to unplug."""
    model, bench, node = walk.model, walk.bench, due(walk)
    if bench.supply == model.dead_supply or node is None:
        return None
    after = replace(bench, supply=model.dead_supply)
    minutes = setup.minutes(model, bench, after)
    return Setting(after, (), minutes, make_safe(model, bench, after), node.test)


def make_safe(model: Model, before: State, after: State) -> tuple[Store, ...]:
    """The stores to be measured before hands touch: on the way to the dead arrangement from
    energised mains or hvdc, and whenever something is opened (the unit may come straight from use).
    """
    if after.supply != model.dead_supply:
        return ()
    hot = model.arrangement(before.supply).energy in ("mains", "hvdc")
    if not hot and before.opened == after.opened:
        return ()
    return tuple(store for store in model.stores if store.max_volts > store.below)
