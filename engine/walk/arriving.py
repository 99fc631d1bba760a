"""A setup step carried out: is it one that could be, and what is known of the stores after it?"""

from __future__ import annotations

import math
from dataclasses import replace

from engine.model import makesafe, setup
from engine.model.plan import State
from engine.model.records import Model, Store
from engine.walk.ahead import pending
from engine.walk.events import Arrived, Measured
from engine.walk.state import Halt, Setting, Step, Walk
from kb.trouble import Place, Trouble, TroubleError


def arrive(walk: Walk, event: Arrived) -> Walk:
    """The walk on the bench of the event; a TroubleError where no hand may have done it so."""
    model, after = walk.model, State(frozenset(event.opened), event.supply, event.rig)
    minutes = _one_step(walk, after)
    stores = makesafe.stores_due(model, _low_before(walk), after)
    low, unreachable = _stores_after(walk, event, after, stores)
    step = Step(
        "setup", minutes, after, walk.belief,
        opened=setup.in_order(model, after.opened - walk.bench.opened),
        make_safe=stores, measured=event.measured,
    )  # fmt: skip
    return replace(
        walk, bench=after, minutes=walk.minutes + minutes, steps=(*walk.steps, step), low=low,
        unreachable=unreachable, unsettled=False,
    )  # fmt: skip


def _low_before(walk: Walk) -> frozenset[str]:
    return frozenset() if makesafe.charges(walk.model, walk.bench.supply) else walk.low_stores


def _one_step(walk: Walk, after: State) -> float:
    """Minutes of the single setup step from the bench to `after`; TroubleError if it is none."""
    model, before = walk.model, walk.bench
    if walk.unsettled and after != walk.dead_bench:
        raise _trouble(
            model, "WK128", "the bench was left, and what the unit holds by now is unknown",
            "Unplug it first and measure every store of charge within reach",
        )  # fmt: skip
    if walk.unreachable:
        _towards(walk, after)
    if after == walk.dead_bench:
        return setup.minutes(model, before, after)
    of_the_model = (
        after.opened <= {o.id for o in model.openings}
        and after.supply in {a.id for a in model.supply.arrangements}
        and after.rig in {r.id for r in model.rigs}
    )
    if of_the_model and before.opened <= after.opened == setup.closure(model, after.opened):
        is_open = makesafe.is_opened(model, after.opened)
        is_barred = model.arrangement(after.supply).closed_only and is_open
        # What could not be measured is no reason to stop short of the opening that shows it.
        changes = setup.steps(model, before, after, _low_before(walk) | walk.unreachable)
        if len(changes) == 1 and not is_barred:
            return changes[0].minutes
    raise _trouble(
        model, "WK122", "the bench can't be changed that way in one step",
        "Go through unplugged and made safe, one step at a time, measuring what each opening shows",
    )  # fmt: skip


def _towards(walk: Walk, after: State) -> None:
    """While a store is out of reach, the bench stays as it is or the next opening is made."""
    ahead = pending(walk)
    way_on = isinstance(ahead, Setting) and ahead.bench == after
    if after != walk.dead_bench and not way_on:
        what = "it halts there" if isinstance(ahead, Halt) else "only the next opening leads on"
        raise _trouble(
            walk.model, "WK129",
            f"{', '.join(sorted(walk.unreachable))} can't be measured and may be charged: {what}",
            "Make the opening that shows its terminals, or leave the unit alone, labelled charged",
        )  # fmt: skip


def _stores_after(
    walk: Walk, event: Arrived, after: State, stores: tuple[Store, ...]
) -> tuple[frozenset[str], frozenset[str]]:
    """The stores known to be low and those out of reach after the step, every due one told of."""
    model = walk.model
    in_reach = {store.part: store for store in makesafe.exposed_stores(model, after.opened)}
    parts = {reading.part for reading in event.measured}
    lacking = [store for store in stores if store.part not in parts]
    if lacking:
        raise _trouble(
            model, "WK132",
            f"{lacking[0].part} is not said to be measured below {lacking[0].below:g} V in a step "
            "that brings it within reach",
            "Say what was read at each store that the step names, or that it is out of reach",
        )  # fmt: skip
    if parts - in_reach.keys() or (event.measured and after.supply != model.dead_supply):
        raise _trouble(
            model, "WK133", f"{', '.join(sorted(parts))}: not all can be measured in this step",
            "Measure stores on the unplugged unit, those that its openings show",
        )  # fmt: skip
    for reading in event.measured:
        _check_volts(model, reading, in_reach[reading.part])
    unreachable = {reading.part for reading in event.measured if reading.out_of_reach}
    if unreachable and after.rig != walk.bench.rig:
        raise _trouble(
            model, "WK134", "a rig was changed though a store beside it could not be measured",
            "Touch nothing there until it is measured",
        )  # fmt: skip
    if makesafe.charges(model, after.supply):
        return frozenset(), frozenset()
    low = (_low_before(walk) | parts) - unreachable
    return frozenset(low), (walk.unreachable - parts) | unreachable


def _check_volts(model: Model, reading: Measured, store: Store) -> None:
    if reading.volts is None:
        return
    if not math.isfinite(reading.volts) or not abs(reading.volts) < store.below:
        raise _trouble(
            model, "WK135", f"{reading.part} at {reading.volts:g} V is not below {store.below:g} V",
            "Bleed it through a resistor and measure again; where it won't fall, stop",
        )  # fmt: skip


def _trouble(model: Model, code: str, what: str, mend: str) -> TroubleError:
    return TroubleError(Trouble(code=code, place=Place(model.topology), what=what, mend=mend))
