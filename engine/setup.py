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

from engine.model import Model, Opening, Test
from engine.plan import State


@dataclass(frozen=True, slots=True)
class Step:
    """One set-up step: make these openings, then stand at `supply` with `rig` fitted."""

    opened: tuple[str, ...]
    supply: str
    rig: str
    minutes: float


def start(model: Model) -> State:
    """The state in which the model's plan begins."""
    return State(frozenset(model.start.opened), model.start.supply, model.start.rig)


def reach(model: Model, before: State, test: Test) -> State:
    """The state `test` is done in when one comes from `before`; openings made stay made."""
    wanted = before.opened | closure(model, test.opened)
    return State(wanted, test.supply, test.rig)


def closure(model: Model, opened: Collection[str]) -> frozenset[str]:
    """Those openings and all that must be made before them."""
    done: set[str] = set()
    waiting = list(opened)
    while waiting:
        opening = waiting.pop()
        if opening not in done:
            done.add(opening)
            waiting.extend(model.opening(opening).after)
    return frozenset(done)


def allows(model: Model, before: State, test: Test) -> bool:
    """Whether `test` can still be done: a closed-only arrangement admits no opening made."""
    if not model.arrangement(test.supply).closed_only:
        return True
    return not before.opened and not test.opened


def change(model: Model, supply: str, wanted: str) -> float:
    """Minutes from one supply arrangement to another, the rig and the openings untouched."""
    dead = model.dead_supply
    if supply == wanted:
        return 0.0
    if dead in (supply, wanted):
        return model.supply.minutes[supply][wanted]
    return model.supply.minutes[supply][dead] + model.supply.minutes[dead][wanted]


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


def steps(model: Model, before: State, after: State) -> tuple[Step, ...]:
    """The set-up steps of the change in order: none, one, or two with the first at d."""
    if before == after:
        return ()
    total = minutes(model, before, after)
    dead = model.dead_supply
    live_to_live = before.supply != after.supply and dead not in (before.supply, after.supply)
    through_dead = live_to_live or hands_in(model, before, after)
    opened = in_order(model, after.opened - before.opened)
    if not through_dead or after.supply == dead:
        return (Step(opened, after.supply, after.rig, total),)
    last = change(model, dead, after.supply)
    return (
        Step(opened, dead, after.rig, total - last),
        Step((), after.supply, after.rig, last),
    )


def taking_off(model: Model, before: str, after: str) -> str:
    """What the hands do to take the rig `before` off, in words; empty where nothing comes off."""
    if before in (after, model.start.rig):
        return ""
    rig = model.rig(before)
    return rig.off or f"take off: {rig.says.rstrip('.') or rig.id.replace('-', ' ')}"


def in_order(model: Model, opened: Collection[str]) -> tuple[str, ...]:
    """Openings in an order that can be worked: each behind those it needs."""
    ordered: list[str] = []
    waiting = [opening for opening in model.openings if opening.id in opened]
    while waiting:
        ready = _first_ready(waiting)
        ordered.append(ready.id)
        waiting.remove(ready)
    return tuple(ordered)


def _first_ready(waiting: list[Opening]) -> Opening:
    left = {opening.id for opening in waiting}
    for opening in waiting:
        if not left.intersection(opening.after):
            return opening
    return waiting[0]
