"""Set-up minutes: opening the unit, changing the supply arrangement, changing the rig.

The rule, from state (O, s, r) to (O', s', r'), with d the one dead arrangement:

- something is opened, or the rig changes and the old or the new one is hands-on: the hands must
  get in, so it costs `minutes[s][d]`, the openings, the new rig if it changes, `minutes[d][s']`;
- otherwise `minutes[s][s']` and the new rig if it changes. Between two different energised
  arrangements there is no way but through d: `minutes[s][d] + minutes[d][s']`.

`minutes` prices a change, `steps` lists what the person does for it; their minutes agree.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from engine.model import makesafe
from engine.model.plan import State
from engine.model.records import Model, Opening, Store, Test


@dataclass(frozen=True, slots=True)
class Step:
    """One set-up step: stand at `supply`, make these openings, measure these stores, fit `rig`."""

    opened: tuple[str, ...]
    supply: str
    rig: str
    minutes: float
    measure: tuple[Store, ...] = ()


def start(model: Model) -> State:
    """The state in which the model's plan begins."""
    return State(frozenset(model.start.opened), model.start.supply, model.start.rig)


def reach(
    model: Model, before: State, test: Test, more: Collection[str] = frozenset()
) -> State:
    """The state `test` is done in when one comes from `before`; openings made stay made.

    `more` are openings made for it beyond its own, such as leads for the readings after it.
    """
    openings = before.opened | closure(model, (*test.opened, *more))
    return State(openings, test.supply, test.rig)


def closure(model: Model, openings: Collection[str]) -> frozenset[str]:
    """Those openings and all that must be made before them."""
    members: set[str] = set()
    waiting = list(openings)
    while waiting:
        opening = waiting.pop()
        if opening not in members:
            members.add(opening)
            waiting.extend(model.opening(opening).after)
    return frozenset(members)


def allows(model: Model, before: State, test: Test) -> bool:
    """Whether `test` can still be done: a closed-only arrangement admits no opening made."""
    if not model.arrangement(test.supply).closed_only:
        return True
    return not before.opened and not test.opened


def change(model: Model, supply: str, target: str) -> float:
    """Minutes from one supply arrangement to another, the rig and the openings untouched."""
    dead = model.dead_supply
    if supply == target:
        return 0.0
    if dead in (supply, target):
        return model.supply.minutes[supply][target]
    return model.supply.minutes[supply][dead] + model.supply.minutes[dead][target]


def hands_in(model: Model, before: State, after: State) -> bool:
    """Whether the change needs hands on the circuit, and so the dead arrangement."""
    if after.opened - before.opened:
        return True
    if before.rig == after.rig:
        return False
    return model.rig(before.rig).hands_on or model.rig(after.rig).hands_on


def minutes(model: Model, before: State, after: State) -> float:
    """Bench minutes of the change from one state to another, by the rule of the module."""
    rig = model.rig(after.rig).minutes if after.rig != before.rig else 0.0
    if not hands_in(model, before, after):
        return change(model, before.supply, after.supply) + rig
    dead = model.dead_supply
    opening = sum(model.opening(name).minutes for name in after.opened - before.opened)
    return change(model, before.supply, dead) + opening + rig + change(model, dead, after.supply)


def steps(
    model: Model, before: State, after: State, low_before: frozenset[str] = frozenset()
) -> tuple[Step, ...]:
    """The set-up steps of the change in the order of the hands; none where nothing is to be done.

    `low_before` are the stores of charge known to be low before it. Whatever is due is measured at
    the end of a step: what is exposed already before the next opening, what an opening exposes
    before the one after it, and all of it before a rig is touched (`engine.model.makesafe`).
    """
    if makesafe.charges(model, before.supply):
        low_before = frozenset()
    due = makesafe.stores_due(model, low_before, before)
    if due:  # a unit that came in: what lies open on it is measured before it is handled
        first = Step((), before.supply, before.rig, 0.0, due)
        low = low_before | {store.part for store in due}
        return (first, *steps(model, before, after, low))
    if before == after:
        return ()
    dead = model.dead_supply
    live_to_live = before.supply != after.supply and dead not in (before.supply, after.supply)
    if not live_to_live and not hands_in(model, before, after):
        due = makesafe.stores_due(model, low_before, after)
        return (Step((), after.supply, after.rig, minutes(model, before, after), due),)
    cold = _cold_steps(model, before, after, low_before)
    if after.supply == dead:
        return cold
    return (*cold, Step((), after.supply, after.rig, change(model, dead, after.supply)))


def _cold_steps(
    model: Model, before: State, after: State, low: frozenset[str]
) -> tuple[Step, ...]:
    """The steps at the dead arrangement: one more wherever a store is due before hands go on."""
    dead = model.dead_supply
    way: list[Step] = []
    openings, fresh, minutes_so_far = before.opened, list[str](), change(model, before.supply, dead)
    for opening in (*in_order(model, after.opened - before.opened), None):
        due = makesafe.stores_due(model, low, State(openings, dead, before.rig))
        if opening is None:
            rig = model.rig(after.rig).minutes if after.rig != before.rig else 0.0
            way.append(Step(tuple(fresh), dead, after.rig, minutes_so_far + rig, due))
            break
        if due:
            way.append(Step(tuple(fresh), dead, before.rig, minutes_so_far, due))
            low |= {store.part for store in due}
            fresh, minutes_so_far = [], 0.0
        fresh.append(opening)
        openings |= {opening}
        minutes_so_far += model.opening(opening).minutes
    return tuple(way)


def in_order(model: Model, openings: Collection[str]) -> tuple[str, ...]:
    """Openings in an order that can be worked: each behind those it needs."""
    order: list[str] = []
    waiting = [opening for opening in model.openings if opening.id in openings]
    while waiting:
        ready = _first_ready(waiting)
        order.append(ready.id)
        waiting.remove(ready)
    return tuple(order)


def _first_ready(waiting: list[Opening]) -> Opening:
    left = {opening.id for opening in waiting}
    for opening in waiting:
        if not left.intersection(opening.after):
            return opening
    return waiting[0]
