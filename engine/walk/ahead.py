"""What comes next in a walk: make safe, set up, ask, or stop."""

from __future__ import annotations

from engine.model import makesafe, setup
from engine.model.plan import Ask, State
from engine.model.records import Model, Store
from engine.walk.state import Due, Halt, Question, Setting, Walk


def due(walk: Walk) -> Due | None:
    """The test that comes next; None when the verdict is reached.

    It is the plan's, but that a test of `cold_first` goes before anything on mains or hvdc, and
    that one is done again where the verdict hangs on it.
    """
    node = walk.plan.nodes[walk.node]
    if walk.again is not None:
        repeat = walk.model.test(walk.again)
        target = Due(repeat.id, setup.reach(walk.model, walk.dead_bench, repeat))
    elif isinstance(node, Ask):
        target = Due(node.test, node.state)
    else:
        return None
    if makesafe.charges(walk.model, target.state.supply):
        waiting = walk.outset.cold_first - walk.done - walk.unavailable
        for test in walk.model.tests:
            if test.id in waiting:
                return Due(test.id, setup.reach(walk.model, walk.dead_bench, test))
    return target


def possible(walk: Walk) -> bool:
    """Whether the test that is due can be done from here: it is offered, what is opened stays
    opened, and an opened unit meets no arrangement for closed ones."""
    node = due(walk)
    if node is None:
        return True
    closed_only = walk.model.arrangement(node.state.supply).closed_only
    return (
        node.test not in walk.unavailable
        and walk.bench.opened <= node.state.opened
        and not (closed_only and makesafe.is_opened(walk.model, node.state.opened))
    )


def pending(walk: Walk) -> Setting | Question | Halt | None:
    """What comes next: a setup step, a question, a halt, or None when the verdict is reached.

    Before anything else, a verdict included, a store that could not be measured is brought within
    reach; where no opening does that, the walk halts. Before any step a bench that was left is
    unplugged and measured.
    """
    if walk.unsettled and (walk.unreachable or not walk.is_ended):
        return _return(walk)
    if walk.unreachable:
        return _towards(walk)
    node = due(walk)
    if node is None:
        return None
    to_do = setup.steps(walk.model, walk.bench, node.state, walk.low_stores)
    return _setting(walk, to_do[0], node.test) if to_do else Question(node.test)


def stores_due(walk: Walk) -> tuple[Store, ...]:
    """The stores to measure before a hand goes into the unit as it stands, once unplugged."""
    return makesafe.stores_due(walk.model, walk.low_stores, walk.dead_bench)


def _return(walk: Walk) -> Setting:
    """Unplug, and measure what is exposed: a walk goes on from an unplugged unit."""
    after, node = walk.dead_bench, due(walk)
    return Setting(
        after, (), setup.minutes(walk.model, walk.bench, after), stores_due(walk),
        node.test if node else "", walk.bench.rig, returns=True,
    )  # fmt: skip


def _towards(walk: Walk) -> Setting | Halt:
    """The next opening on the way to all that is out of reach: one that shows less would be made
    beside a store that may be charged."""
    model, present = walk.model, walk.bench.opened
    stores = tuple(s for s in makesafe.stores_that_count(model) if s.part in walk.unreachable)
    ways = [makesafe.showing(model, store, present) for store in stores]
    for opening in ways[0]:
        openings = present | setup.closure(model, (opening,))
        if all(opening in others for others in ways) and not openings & walk.shut:
            after = State(openings, model.dead_supply, walk.bench.rig)
            # What can't be measured is not asked for again before more is opened.
            low = walk.low_stores | walk.unreachable
            return _setting(walk, setup.steps(model, walk.bench, after, low)[0], "")
    return Halt(stores)


def _setting(walk: Walk, step: setup.Step, test: str) -> Setting:
    bench = State(walk.bench.opened | frozenset(step.opened), step.supply, step.rig)
    stores = step.measure
    if step.opened and walk.unreachable:
        stores = makesafe.stores_due(walk.model, walk.low_stores, bench)
    return Setting(bench, step.opened, step.minutes, stores, test, walk.bench.rig)


def is_ready(walk: Walk, model: Model, test_id: str) -> bool:
    """Whether the bench stands as the test needs it, with nothing left to be made safe."""
    test = model.test(test_id)
    return (
        not walk.unsettled
        and not walk.unreachable
        and not stores_left(walk)
        and set(test.opened) <= walk.bench.opened
        and (test.supply, test.rig) == (walk.bench.supply, walk.bench.rig)
    )


def stores_left(walk: Walk) -> bool:
    """Whether hands may touch this bench though something exposed on it is not known to be low."""
    return not makesafe.charges(walk.model, walk.bench.supply) and bool(stores_due(walk))
