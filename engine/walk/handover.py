"""From a unit that nobody had opened to the topology that it turned out to be: nothing is asked
twice, nothing is opened twice.

What was answered stands as known in the topology's own walk, which weighs it by its own rows, fault
by fault. What was opened is open there, and what was measured as it was opened counts for each
store of that topology: every capacitor in sight was. Minutes of looks and questions count on
(`minutes_before`); those of openings are the topology's own, for its plan would make them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from engine.assembly import hiding
from engine.assembly.mixture import CONNECTOR
from engine.model import setup
from engine.model.absence import NO_RIG
from engine.model.plan import State
from engine.model.records import Model
from engine.readings.belief import Surprise
from engine.walk.acquaintance import reread
from engine.walk.ending import conclude
from engine.walk.events import (
    Answered,
    Arrived,
    Away,
    CannotDo,
    Event,
    Known,
    Lacking,
    Measured,
)
from engine.walk.job import take
from engine.walk.state import Walk
from kb.trouble import TroubleError


def odds_of_topologies(walk: Walk) -> dict[str, float]:
    """The belief in each topology that an unopened unit may turn out to be; none for any other."""
    return {
        walk.model.fault(remedy.cures[0]).stage: sum(walk.belief[f] for f in remedy.cures)
        for remedy in walk.model.remedies
        if remedy.kind == CONNECTOR and remedy.cures
    }


def topology_of(walk: Walk, settled: float) -> str | None:
    """The topology to go on in: the one whose odds reach `settled`, or whose connector the plan
    has come to; None before that, and for a unit that has none."""
    odds = odds_of_topologies(walk)
    if not odds or walk.unreachable:
        return None
    likeliest = max(odds, key=lambda topology: odds[topology])
    if odds[likeliest] >= settled:
        return likeliest
    if walk.is_ended:
        remedy = conclude(walk).remedy
        if remedy.kind == CONNECTOR:
            return walk.model.fault(remedy.cures[0]).stage
    return None


def carry(walk: Walk, anew: Walk) -> Walk:
    """The topology's walk, begun anew, with all that was opened, measured, answered or lacking."""
    for event in (*_arrivals(walk, anew.model), *_findings(walk, anew.model)):
        try:
            anew = take(anew, event)
        except (TroubleError, Surprise):  # what it can't hold there is asked there
            continue
    left = walk.unsettled and not walk.is_ended
    return take(anew, Away()) if left else anew


def minutes_before(walk: Walk) -> float:
    """What was spent on the unit before anybody knew what it is, its openings left out."""
    minutes = walk.outset.minutes_before
    return minutes + sum(step.minutes for step in walk.steps if not step.opened)


def _findings(walk: Walk, model: Model) -> Iterator[Event]:
    """What was answered, each test's last answer, and what can't be done or had."""
    tests = {test.id for test in model.tests}
    things = {
        *(opening.id for opening in model.openings), *(rig.id for rig in model.rigs),
        *(arrangement.id for arrangement in model.supply.arrangements),
    }  # fmt: skip
    answers: dict[str, Event] = {}
    for event in walk.events:
        match event:
            case Answered() | Known() if event.test in tests:
                known = Known(event.test, event.outcome, event.reading, event.shares)
                answers[event.test] = reread(model, known)
            case CannotDo() if event.test in tests:
                yield event
            case Lacking() if event.thing in things:
                yield event
    yield from answers.values()


def _arrivals(walk: Walk, model: Model) -> Iterator[Arrived]:
    """The openings that were made, as steps of the topology's own bench."""
    names = {opening.id for opening in model.openings}
    opened = setup.closure(model, walk.bench.opened & names) & walk.bench.opened
    volts = _volts(walk)
    standing = setup.start(model)
    target = State(standing.opened | opened, model.dead_supply, NO_RIG)
    for step in setup.steps(model, standing, target):
        standing = State(standing.opened | set(step.opened), step.supply, step.rig)
        stores = tuple(
            _reading(store.part, store.exposed_by, step.opened, volts) for store in step.measure
        )
        yield Arrived(tuple(sorted(standing.opened)), step.supply, step.rig, stores)


def _volts(walk: Walk) -> Mapping[str, Measured]:
    """What was measured last, by what is measured for all stores that an opening shows."""
    return {
        store.part: store
        for event in walk.events if isinstance(event, Arrived)
        for store in event.measured
    }  # fmt: skip


def _reading(
    part: str,
    exposed_by: tuple[str, ...] | None,
    opened: Collection[str],
    volts: Mapping[str, Measured],
) -> Measured:
    """What a store of the topology reads: the highest that was read of those in sight with it."""
    ways = opened if exposed_by is None else exposed_by or ("",)
    near = [volts[name] for way in ways if (name := hiding.store_behind(way)) in volts]
    if not near:
        return Measured(part)
    if any(store.supposed for store in near):
        return Measured(part, supposed=True)
    reads = [store.volts for store in near]
    known = [abs(read) for read in reads if read is not None]
    return Measured(part, max(known) if len(known) == len(reads) else None)
