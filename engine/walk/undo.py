"""Taking words back: the last finding is dropped, what the hands did is not."""

from __future__ import annotations

from engine.walk.events import Arrived, Away, Event
from engine.walk.job import take
from engine.walk.state import Walk


def undo(walk: Walk) -> Walk:
    """Drop the last answer, known outcome, can't-do or lack; the same walk if there is none.

    Setup steps carried out since stay, with what was measured in them: undoing words does not
    unplug a unit, and the walk must never think the bench safer than it is.
    """
    since: list[Event] = []
    out_of_sight = walk.is_ended or walk.unsettled
    while walk.before is not None:
        last = walk.events[-1]
        walk = walk.before
        if not isinstance(last, Arrived | Away):
            break
        since.insert(0, last)
    for event in since:
        walk = take(walk, event)
    away = walk.unsettled and not walk.low
    return take(walk, Away()) if out_of_sight and not away else walk


def can_undo(walk: Walk) -> bool:
    """Whether there is anything but setup steps to drop."""
    return any(not isinstance(event, Arrived | Away) for event in walk.events)
