"""What the format defines and a document may leave out, written out in the model.

Supply minutes that follow from others, and at each test the cautions that its hazards demand
(safety invariant 6: each hazard at the step itself).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from engine.model.records import Model, Supply, Test

LIVE_LED_BOARD = "live-led-board"
"""The hazard of an opened, mains-referenced, energised unit."""


def complete(model: Model) -> Model:
    """The model with supply minutes and test cautions complete; a complete one stays equal."""
    tests = tuple(_add_cautions(model, test) for test in model.tests)
    return replace(model, supply=_supply(model), tests=tests)


def _supply(model: Model) -> Supply:
    """Supply minutes with staying (0) and the ways through the dead arrangement."""
    dead = model.dead_supply
    ways = model.supply.minutes
    names = [arrangement.id for arrangement in model.supply.arrangements]

    def minutes(old: str, new: str) -> float:
        if old == new:
            return 0.0
        if dead in (old, new):
            return ways[old][new]
        return ways[old][dead] + ways[dead][new]

    table = {old: {new: minutes(old, new) for new in names} for old in names}
    return Supply(model.supply.arrangements, table)


def _add_cautions(model: Model, test: Test) -> Test:
    """The test with a caution for each hazard that has none among its own."""
    hazard_of = {caution.id: caution.hazard for caution in model.cautions}
    hazards = {hazard_of[caution] for caution in test.cautions}
    additions = tuple(
        caution.id
        for hazard in dict.fromkeys(_hazards(model, test))
        if hazard not in hazards
        for caution in model.cautions
        if caution.hazard == hazard
    )
    return replace(test, cautions=(*test.cautions, *additions)) if additions else test


def _hazards(model: Model, test: Test) -> Iterator[str]:
    """Those it lists, and the live board's where the unit may have been opened by then."""
    yield from test.hazards
    if on_a_live_board(model, test):
        yield LIVE_LED_BOARD


def on_a_live_board(model: Model, test: Test) -> bool:
    """Whether the test may be done on an opened unit that is connected to mains."""
    arrangement = model.arrangement(test.supply)
    opens = bool(model.openings or model.start.opened)
    return opens and arrangement.energy == "mains" and not arrangement.closed_only
