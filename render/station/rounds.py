"""A round of several units: what is due at each, in one list, closed checks first.

Units that wait for the same step stand together, so that hands do it at one after the other: ten
lamps in the known-good socket, then the next thing. What asks for an open unit comes last.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum

from engine.cases.shop import Shop
from engine.model import makesafe
from engine.walk import job
from engine.walk.ending import conclude
from engine.walk.job import Halt, Question, Setting
from kb.trouble import TroubleError
from render.station.seats import Archive, Check, Place, Seat, Seats
from render.terminal import words
from render.terminal.replies import sentences

MOST = 24
"""Units of one round: each takes a plan of its own to tell what is due."""


class Due(IntEnum):
    """How far a step goes, in the order of the list."""

    ASK = 0
    SHUT = 1
    READY = 2
    OPEN = 3
    STOP = 4


SAYS = {
    Due.ASK: "Before anything is opened or plugged in",
    Due.SHUT: "On the closed unit",
    Due.READY: "Verdict stands, or what it is: to be seen to",
    Due.OPEN: "With the unit open, one at a time",
    Due.STOP: "Stopped",
}
"""What each part of the list is headed with."""


@dataclass(frozen=True, slots=True)
class Stop:
    """A unit of the round: its case, what it is called, and what is due at it."""

    number: int
    unit: str
    due: Due
    says: str


@dataclass(frozen=True, slots=True)
class Group:
    """Units that wait for the same step."""

    due: Due
    says: str
    stops: tuple[Stop, ...]


def open_cases(shop: Shop) -> tuple[int, ...]:
    """The numbers of the cases that are not closed, the oldest first, `MOST` of them."""
    numbers = [row.number for row in shop.rows((), ("open", "verdict"))][:MOST]
    return tuple(sorted(numbers))


def groups(seats: Seats, numbers: Iterable[int], who: str) -> list[Group]:
    """What is due, in the order of the list; cases that are closed or not there are left out."""
    stops = [stop for number in tuple(numbers)[:MOST] for stop in _stop(seats, number, who)]
    keys = dict.fromkeys((stop.due, stop.says) for stop in stops)
    rows = [Group(due, says, _of(stops, due, says)) for due, says in keys]
    return sorted(rows, key=lambda group: (group.due, -len(group.stops)))


def lines(rows: Sequence[Group]) -> Iterator[tuple[str, int]]:
    """The list for a terminal, each line with its indent: what is due, the units it is due at."""
    before = None
    for group in rows:
        if group.due is not before:
            yield SAYS[group.due], 0
        before = group.due
        yield group.says, 2
        yield from ((f"{stop.number:>5}  {stop.unit}", 4) for stop in group.stops)


def _of(stops: Iterable[Stop], due: Due, says: str) -> tuple[Stop, ...]:
    return tuple(stop for stop in stops if (stop.due, stop.says) == (due, says))


def _stop(seats: Seats, number: int, who: str) -> Iterator[Stop]:
    try:
        with seats.at(number, who) as place:
            if isinstance(place, Archive):
                return
            due, says = _due(place)
            intake = place.case.intake
            yield Stop(number, intake.unit or words.stage_name(intake.topology), due, says)
    except TroubleError as wrong:  # one unit that can't be gone on with ends no round
        if wrong.troubles[0].code != "CS111":
            yield Stop(number, f"case {number}", Due.STOP, sentences(wrong))


def _due(place: Place) -> tuple[Due, str]:
    if isinstance(place, Check):
        if place.question is None:
            return Due.READY, "turned away at the entry check"
        return Due.ASK, place.question.asks
    assert isinstance(place, Seat)
    walk = place.walk
    if (topology := place.turning_out(walk)) is not None:
        return Due.READY, f"it is a {words.stage_name(topology)}: go on in that"
    match job.pending(walk):
        case Question() as question:
            is_open = makesafe.is_opened(walk.model, walk.bench.opened)
            return (Due.OPEN if is_open else Due.SHUT), walk.model.test(question.test).says
        case Setting() as setting:
            is_open = makesafe.is_opened(walk.model, setting.bench.opened)
            says = walk.model.test(setting.test).says if setting.test else "bring stores in reach"
            return (Due.OPEN if is_open else Due.SHUT), says
        case Halt():
            return Due.STOP, "left alone: it may be charged"
        case None:
            return Due.READY, conclude(walk).remedy.says
