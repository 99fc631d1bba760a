"""The document `nextprobe-walk/1` as records. `engine.walk.record` builds it, `engine.walk.events`
builds and reads its events."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter, model_validator

from engine.documents.reading import read
from engine.documents.record import (
    ByName,
    ComingPoint,
    Depth,
    FaultOdds,
    MainsRecord,
    Names,
    Record,
    SafePoint,
)

FORMAT: Literal["nextprobe-walk/1"] = "nextprobe-walk/1"


class MeasuredStore(Record):
    """What was found at a store: volts, or out of reach, or supposed where a job is written up."""

    part: str
    volts: float | None = None
    out_of_reach: bool = False
    supposed: bool = False

    @model_validator(mode="after")
    def _one_of_three(self) -> MeasuredStore:
        if (self.volts is not None) + self.out_of_reach + self.supposed != 1:
            raise ValueError("a store is measured, out of reach or supposed, one of the three")
        return self


# ---- steps: what was done, and the bench after it ----


class SetupStep(Record):
    """The bench was changed: openings made, then stores measured."""

    kind: Literal["setup"]
    open: Names
    make_safe: tuple[SafePoint, ...]
    measured: tuple[MeasuredStore, ...] = ()
    minutes: float
    opened: Names
    supply: str
    rig: str
    replanned: bool = False
    belief: ByName


class TestStep(Record):
    """A test was done, or its outcome was known already.

    `shares` parts the answer among outcomes, `factors` is what it says of each fault. `differs`
    stands at the one step after which the unit is likelier than not of a design that was not
    sampled: the odds of that.
    """

    kind: Literal["test", "known"]
    test: str
    answer: str
    reading: str | None
    surprise: bool = False
    shares: ByName | None = None
    factors: ByName | None = None
    differs: float | None = None
    minutes: float
    opened: Names
    supply: str
    rig: str
    replanned: bool = False
    belief: ByName


class CannotStep(Record):
    """A test can't be done."""

    kind: Literal["cannot"]
    test: str
    minutes: float
    opened: Names
    supply: str
    rig: str
    replanned: bool = False
    belief: ByName


class LackingStep(Record):
    """An opening, a supply arrangement or a rig can't be had."""

    kind: Literal["lacking"]
    thing: str
    minutes: float
    opened: Names
    supply: str
    rig: str
    replanned: bool = False
    belief: ByName


class TracedStep(Record):
    """There is a drawing of the stage."""

    kind: Literal["traced"]
    stage: str
    minutes: float
    opened: Names
    supply: str
    rig: str
    replanned: bool = False
    belief: ByName


class PartStep(Record):
    """The unit has no such part, or has it: `factors` are 0 for the faults of what is not there and
    for all others how well what was read fits designs like it, 1 where no circuit was read.
    `differs` as at a test.
    """

    kind: Literal["not-fitted", "fitted"]
    part: str
    factors: ByName
    differs: float | None = None
    minutes: float
    opened: Names
    supply: str
    rig: str
    replanned: bool = False
    belief: ByName


class OfKindStep(Record):
    """The part is of this kind: `factors` as for a part that is there."""

    kind: Literal["of-kind"]
    part: str
    part_kind: str
    factors: ByName
    differs: float | None = None
    minutes: float
    opened: Names
    supply: str
    rig: str
    replanned: bool = False
    belief: ByName


class RepairStep(Record):
    """A remedy was carried out and did not help."""

    kind: Literal["repair"]
    remedy: str
    factors: ByName
    minutes: float
    opened: Names
    supply: str
    rig: str
    replanned: bool = False
    belief: ByName


class AwayStep(Record):
    """The bench was left."""

    kind: Literal["away"]
    minutes: float
    opened: Names
    supply: str
    rig: str
    replanned: bool = False
    belief: ByName


WalkStep = (
    SetupStep
    | TestStep
    | CannotStep
    | LackingStep
    | PartStep
    | OfKindStep
    | TracedStep
    | RepairStep
    | AwayStep
)


# ---- the verdict, or what stops the walk ----


class NextCheck(Record):
    """A test that would tell more, the minutes it takes and those it is expected to save."""

    test: str
    minutes: float
    saves: float


class DoubtfulAnswer(Record):
    """An answer and the odds that it was misread; `step` counts from 1."""

    step: int
    test: str
    answer: str
    p: float


class WalkVerdict(Record):
    """What a walk came to; `because` is the question by which the entry check ended it."""

    remedy: str | None
    kind: str = ""
    confidence: float
    faults: tuple[FaultOdds, ...]
    proofs: Names
    companions: Names = ()
    make_safe: tuple[SafePoint, ...] = ()
    opening_up: tuple[ComingPoint, ...] = ()
    unmeasured: Names = ()
    finer: NextCheck | None = None
    again: NextCheck | None = None
    doubts: tuple[DoubtfulAnswer, ...] = ()
    because: str | None = None


class HaltRecord(Record):
    """A walk that stopped for good: these stores may be charged and can't be measured."""

    label: Literal["charged"]
    stores: tuple[SafePoint, ...]


# ---- events: what is needed to go on ----


class ArrivedEvent(Record):
    """A set-up was carried out: the bench stands as named here."""

    event: Literal["arrived"]
    opened: Names
    supply: str
    rig: str
    measured: tuple[MeasuredStore, ...]


class AwayEvent(Record):
    """The bench was left."""

    event: Literal["away"]


class FindingEvent(Record):
    """A test was answered at this bench, or its outcome was known already."""

    event: Literal["answered", "known"]
    test: str
    answer: str
    reading: str | None = None
    shares: Mapping[str, float] = {}


class CannotDoEvent(Record):
    """A test can't be done."""

    event: Literal["cannot-do"]
    test: str


class LackingEvent(Record):
    """An opening, a supply arrangement or a rig can't be had."""

    event: Literal["lacking"]
    kind: str
    thing: str


class TracedEvent(Record):
    """There is a drawing of the stage."""

    event: Literal["traced"]
    stage: str


class NotFittedEvent(Record):
    """The unit has no such part."""

    event: Literal["not-fitted"]
    part: str


class FittedEvent(Record):
    """The unit has this part."""

    event: Literal["fitted"]
    part: str


class OfKindEvent(Record):
    """The part is of this kind."""

    event: Literal["of-kind"]
    part: str
    part_kind: str


class UnmendedEvent(Record):
    """The remedy was carried out and the unit is as it was before."""

    event: Literal["unmended"]
    remedy: str


WalkEvent = Annotated[
    ArrivedEvent
    | AwayEvent
    | FindingEvent
    | CannotDoEvent
    | LackingEvent
    | NotFittedEvent
    | FittedEvent
    | OfKindEvent
    | TracedEvent
    | UnmendedEvent,
    Field(discriminator="event"),
]


class Circuit(Record):
    """What readings were weighed by: the readings' key, and what was known of this very unit."""

    key: Mapping[str, Any]
    markings: ByName
    good: ByName


class WalkRecord(Record):
    """The whole document; `verdict` is null while the walk is under way."""

    format: Literal["nextprobe-walk/1"]
    topology: str
    mains: MainsRecord | None = None
    depth: Depth = "part"
    complaint: str | None = None
    knowledge: str = ""
    options: Mapping[str, str] = {}
    entry: Mapping[str, str] = {}
    model_sha256: str = ""
    circuit: Circuit | None = None
    minutes: float
    steps: tuple[Annotated[WalkStep, Field(discriminator="kind")], ...]
    verdict: WalkVerdict | None
    halt: HaltRecord | None = None
    events: tuple[WalkEvent, ...] = ()


_WALK = TypeAdapter(WalkRecord)
_VERDICT = TypeAdapter(WalkVerdict)
_EVENT: TypeAdapter[WalkEvent] = TypeAdapter(WalkEvent)


def read_walk(plain: Any) -> WalkRecord:
    """The records of a walk document that was decoded from JSON; MisfitError where it is none."""
    return read(_WALK, plain)


def read_event(plain: Any) -> WalkEvent:
    """The record of one event that was decoded from JSON; MisfitError where it is none."""
    return read(_EVENT, plain)


def read_verdict(plain: Any) -> WalkVerdict:
    """The record of a verdict that was decoded from JSON; MisfitError where it is none."""
    return read(_VERDICT, plain)
