"""Taking back the last thing that was said, whatever it was, and saying what it was."""

from __future__ import annotations

from dataclasses import dataclass, field

from engine.model.records import Model
from engine.walk import job, undo
from engine.walk.events import (
    Answered,
    Arrived,
    Away,
    CannotDo,
    Event,
    Fitted,
    Known,
    Lacking,
    NotFitted,
    OfKind,
    Traced,
    Unmended,
)
from engine.walk.job import Walk
from render.terminal import words


@dataclass(frozen=True, slots=True)
class Remark:
    """Something said that is no event, as a marking: the walk was told anew for it."""

    says: str
    before: Walk
    after: Walk


@dataclass(slots=True)
class Remarks:
    """What was said besides events, in order."""

    stack: list[Remark] = field(default_factory=list)

    def note(self, says: str, before: Walk, after: Walk) -> Walk:
        """Remember it; the walk after it."""
        self.stack.append(Remark(says, before, after))
        return after

    def take_back(self, walk: Walk) -> tuple[Walk, str]:
        """The walk without the last thing said, and what that was; the same walk and nothing where
        there is nothing left. What was done to the bench stays done."""
        if self.stack and _words(self.stack[-1].after) == _words(walk):
            last = self.stack.pop()
            back = last.before
            for event in walk.events[len(last.after.events) :]:
                back = job.take(back, event)
            return job.carried_over(walk, back), last.says
        if not undo.can_undo(walk):
            return walk, ""
        event = next(e for e in reversed(walk.events) if not isinstance(e, Arrived | Away))
        return undo.undo(walk), _says(walk.model, event)


def _words(walk: Walk) -> tuple[object, ...]:
    """What was said of this unit, without what hands did."""
    events = tuple(e for e in walk.events if not isinstance(e, Arrived | Away))
    return (walk.outset.model_sha256, walk.outset.options, events)


def _says(model: Model, event: Event) -> str:
    match event:
        case Answered() | Known():
            test = model.test(event.test)
            read = f" ({event.reading})" if event.reading else ""
            return words.finding(test.says, test.outcome(event.outcome).says) + read
        case CannotDo():
            return f"can't do: {words.within(model.test(event.test).says)}"
        case Lacking():
            return f"there is no {words.stage_name(event.thing)}"
        case NotFitted():
            return f"there is no {event.part}"
        case Fitted():
            return f"there is {event.part}"
        case OfKind():
            return f"{event.part} is {words.stage_name(event.kind)}"
        case Traced():
            return f"there is a drawing of {words.stage_name(event.stage)}"
        case Unmended():
            return f"did not help: {words.within(model.remedy(event.remedy).says)}"
        case _:
            return "the last thing said"
