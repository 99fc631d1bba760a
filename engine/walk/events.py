"""What can happen during a walk, as frozen facts; a walk is its outset plus a tuple of these.

Nothing here depends on a plan: an event says what was found or done at the bench, so it stays true
when the plan, the knowledge or the program changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from engine.documents import walk as documents
from engine.documents.reading import MisfitError
from kb.trouble import Place, Trouble, TroubleError


@dataclass(frozen=True, slots=True)
class Measured:
    """What was found at one store of charge: volts, or None where it can't be reached.

    `supposed` marks a store of a job that is told in writing: nobody says what it read.
    """

    part: str
    volts: float | None = None
    supposed: bool = False

    @property
    def out_of_reach(self) -> bool:
        """Whether nobody could measure it."""
        return self.volts is None and not self.supposed


@dataclass(frozen=True, slots=True)
class Arrived:
    """One setup step was carried out: the bench now stands as named here.

    `measured` are the stores of charge that were due in it.
    """

    opened: tuple[str, ...]
    supply: str
    rig: str
    measured: tuple[Measured, ...] = ()


@dataclass(frozen=True, slots=True)
class Away:
    """The bench was left: what was done to the unit since, and what it holds, nobody knows."""


@dataclass(frozen=True, slots=True)
class _Finding:
    """What a test showed: an outcome, and the reading as typed where there was one.

    `shares` splits the evidence where a reading leaves open which outcome it is; empty otherwise.
    """

    test: str
    outcome: str
    reading: str | None = None
    shares: tuple[tuple[str, float], ...] = ()

    @property
    def evidence(self) -> tuple[tuple[str, float], ...]:
        """The outcomes spoken for, with their shares; these sum to 1."""
        return self.shares or ((self.outcome, 1.0),)


class Answered(_Finding):
    """The test was done on this bench."""

    __slots__ = ()


class Known(_Finding):
    """The outcome was known already: it costs no minutes and moves nothing."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class CannotDo:
    """The test can't be done here; it is not offered again."""

    test: str


@dataclass(frozen=True, slots=True)
class Lacking:
    """An opening, a supply arrangement or a rig can't be had: no test that needs it is offered.

    `kind` is opening, supply or rig.
    """

    kind: str
    thing: str


@dataclass(frozen=True, slots=True)
class Traced:
    """There is a drawing of the stage: tracing it costs nothing from here on."""

    stage: str


@dataclass(frozen=True, slots=True)
class NotFitted:
    """This unit has no such part: neither its faults nor its tests are to be thought of."""

    part: str


@dataclass(frozen=True, slots=True)
class Fitted:
    """This unit has the part: it is of a design that does."""

    part: str


@dataclass(frozen=True, slots=True)
class OfKind:
    """The part is of this kind, as the knowledge names kinds of parts: so is its design."""

    part: str
    kind: str


@dataclass(frozen=True, slots=True)
class Unmended:
    """The remedy was carried out and the unit is as it was before."""

    remedy: str


Event = (
    Arrived | Away | Answered | Known | CannotDo | Lacking | NotFitted | Fitted | OfKind | Traced
    | Unmended
)


def plain(event: Event) -> dict[str, Any]:
    """The event as a JSON-ready dictionary with its kind under `event`."""
    return event_record(event).plain()


def event_record(event: Event) -> documents.WalkEvent:
    """The event as it stands in the walk document."""
    match event:
        case Arrived():
            return documents.ArrivedEvent(
                event="arrived", opened=event.opened, supply=event.supply, rig=event.rig,
                measured=tuple(store_record(store) for store in event.measured),
            )  # fmt: skip
        case Away():
            return documents.AwayEvent(event="away")
        case Answered() | Known():
            return _finding_event(event)
        case CannotDo():
            return documents.CannotDoEvent(event="cannot-do", test=event.test)
        case Lacking():
            return documents.LackingEvent(event="lacking", kind=event.kind, thing=event.thing)
        case NotFitted():
            return documents.NotFittedEvent(event="not-fitted", part=event.part)
        case Fitted():
            return documents.FittedEvent(event="fitted", part=event.part)
        case OfKind():
            return documents.OfKindEvent(event="of-kind", part=event.part, part_kind=event.kind)
        case Traced():
            return documents.TracedEvent(event="traced", stage=event.stage)
        case Unmended():
            return documents.UnmendedEvent(event="unmended", remedy=event.remedy)


def _finding_event(finding: Answered | Known) -> documents.FindingEvent:
    kind: Literal["answered", "known"] = "known" if isinstance(finding, Known) else "answered"
    test, answer, reading = finding.test, finding.outcome, finding.reading
    if not finding.shares:
        return documents.FindingEvent(event=kind, test=test, answer=answer, reading=reading)
    return documents.FindingEvent(
        event=kind, test=test, answer=answer, reading=reading, shares=dict(finding.shares)
    )


def store_record(store: Measured) -> documents.MeasuredStore:
    """What was found at a store, as it stands in the walk document."""
    if store.supposed:
        return documents.MeasuredStore(part=store.part, supposed=True)
    if store.volts is None:
        return documents.MeasuredStore(part=store.part, out_of_reach=True)
    return documents.MeasuredStore(part=store.part, volts=store.volts)


def read(raw: Any, source: str) -> Event:
    """The event of a JSON dictionary; a shape that is none raises a `TroubleError`."""
    try:
        return _event(documents.read_event(raw))
    except MisfitError as error:
        raise TroubleError(
            Trouble(
                code="WK101",
                place=Place(source),
                what=f"one of its events is not of a known shape: {raw!r:.120}",
                mend="Use the file as nextprobe saved it, or start the walk anew",
            )
        ) from error


def _event(event: documents.WalkEvent) -> Event:
    match event:
        case documents.ArrivedEvent():
            stores = tuple(Measured(s.part, s.volts, s.supposed) for s in event.measured)
            return Arrived(event.opened, event.supply, event.rig, stores)
        case documents.AwayEvent():
            return Away()
        case documents.FindingEvent():
            kind = Known if event.event == "known" else Answered
            return kind(event.test, event.answer, event.reading, tuple(event.shares.items()))
        case documents.CannotDoEvent():
            return CannotDo(event.test)
        case documents.LackingEvent():
            return Lacking(event.kind, event.thing)
        case documents.NotFittedEvent():
            return NotFitted(event.part)
        case documents.FittedEvent():
            return Fitted(event.part)
        case documents.OfKindEvent():
            return OfKind(event.part, event.part_kind)
        case documents.TracedEvent():
            return Traced(event.stage)
        case documents.UnmendedEvent():
            return Unmended(event.remedy)
