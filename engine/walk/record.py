"""The walk document `nextprobe-walk/1`: what was done, found and concluded, and how to go on.

`document` writes it from the records of `engine.documents.walk`, `reopen` holds a saved one to them
and hands back the part that matters for going on: options, entry answers, events and the hash of
the model they were given on. Steps, beliefs and verdict are for readers;
they are worked out again from the events when the walk is resumed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypedDict, cast

from engine.documents.reading import MisfitError
from engine.documents.record import ByName, ComingPoint, Depth, FaultOdds, MainsRecord, SafePoint
from engine.documents.walk import (
    FORMAT,
    AwayStep,
    CannotStep,
    Circuit,
    DoubtfulAnswer,
    HaltRecord,
    LackingStep,
    NextCheck,
    OfKindStep,
    PartStep,
    RepairStep,
    SetupStep,
    TestStep,
    TracedStep,
    WalkRecord,
    WalkStep,
    WalkVerdict,
    read_walk,
)
from engine.model.records import Model, Store, sha256
from engine.walk import events as happenings
from engine.walk.ending import Ending, Finer, conclude
from engine.walk.entry import Admission, remedy_for
from engine.walk.events import Event
from engine.walk.job import Halt, Step, Walk, pending
from engine.walk.repetition import Repetition
from kb.trouble import Place, Trouble, TroubleError

if TYPE_CHECKING:
    from engine.evidence import Witness


@dataclass(frozen=True, slots=True)
class SavedWalk:
    """What a walk document holds for going on with it."""

    topology: str
    options: Mapping[str, str]
    entry: Mapping[str, str]
    events: tuple[Event, ...]
    model_sha256: str
    knowledge: str


class _After(TypedDict):
    """What stands at every step: its minutes, and bench and belief after it."""

    minutes: float
    opened: tuple[str, ...]
    supply: str
    rig: str
    replanned: bool
    belief: ByName


class _Differs(TypedDict, total=False):
    """What stands only at the step that tells of it."""

    differs: float


class _Weights(_Differs, total=False):
    """What stands at an answer only where it has any."""

    shares: ByName
    factors: ByName


def document(walk: Walk) -> dict[str, Any]:
    """The walk as a JSON-ready dictionary; `verdict` is null while it is under way."""
    model, outset = walk.model, walk.outset
    ahead = pending(walk)
    return WalkRecord(
        format=FORMAT,
        topology=model.topology,
        mains=MainsRecord.of(model.mains),
        depth=cast(Depth, model.depth),
        complaint=model.complaint,
        knowledge=model.knowledge,
        options=dict(outset.options),
        entry=dict(outset.entry),
        model_sha256=outset.model_sha256,
        circuit=_circuit(outset.witness),
        minutes=walk.minutes,
        steps=tuple(_step(model, step) for step in walk.steps),
        verdict=_verdict(conclude(walk)) if walk.is_ended and ahead is None else None,
        halt=_halt(ahead) if isinstance(ahead, Halt) else None,
        events=tuple(happenings.event_record(event) for event in walk.events),
    ).plain()


def _halt(halt: Halt) -> HaltRecord:
    """The stores that stop the walk for good."""
    return HaltRecord(label="charged", stores=_points(halt.stores))


def _circuit(witness: Witness | None) -> Circuit | None:
    """What readings were weighed by: the readings' key, and what was known of this very unit."""
    if witness is None or witness.dictionary is None:
        return None
    return Circuit(
        key=witness.dictionary.key, markings=witness.make.markings, good=witness.make.expected
    )


def turned_away(model: Model, admission: Admission, options: Mapping[str, str]) -> dict[str, Any]:
    """The document of a unit that the entry check ended: no step, nothing energised."""
    remedy = remedy_for(model, admission)
    question = admission.decided_by
    return WalkRecord(
        format=FORMAT,
        topology=model.topology,
        mains=MainsRecord.of(model.mains),
        depth=cast(Depth, model.depth),
        complaint=model.complaint,
        knowledge=model.knowledge,
        options=options,
        entry=dict(admission.answers),
        model_sha256=sha256(model),
        minutes=0.0,
        steps=(),
        verdict=WalkVerdict(
            remedy=remedy.id if remedy else None,
            kind=admission.decision,
            confidence=1.0,
            faults=(),
            proofs=(),
            because=question.id if question else None,
        ),
        events=(),
    ).plain()


def taken_in(
    model: Model, answers: Mapping[str, str], options: Mapping[str, str]
) -> dict[str, Any]:
    """The document of a unit whose entry check is under way: its answers so far, no step yet."""
    return WalkRecord(
        format=FORMAT,
        topology=model.topology,
        mains=MainsRecord.of(model.mains),
        depth=cast(Depth, model.depth),
        complaint=model.complaint,
        knowledge=model.knowledge,
        options=options,
        entry=dict(answers),
        model_sha256=sha256(model),
        minutes=0.0,
        steps=(),
        verdict=None,
        events=(),
    ).plain()


def reopen(raw: Any, source: str, text: str = "") -> SavedWalk:
    """What is needed to go on with a saved walk; another document raises a `TroubleError`.

    `text` is the JSON text that `raw` was decoded from, where there is one: the trouble then has
    its line.
    """
    if not isinstance(raw, Mapping) or raw.get("format") != FORMAT:
        raise _trouble(Place(source), f'this is no walk document (its "format" is not "{FORMAT}")')
    if not isinstance(raw.get("events"), list):
        raise _trouble(Place(source), "the walk document is damaged (its events are no list)")
    events = tuple(happenings.read(event, source) for event in raw["events"])
    for key in ("options", "entry", "model_sha256"):
        if key not in raw:
            raise _damage(source, f'"{key}" is missing')
    try:
        walk_file = read_walk(raw)
    except MisfitError as misfit:
        raise _damage(source, str(misfit), misfit.line(text) if text else (0, 0)) from misfit
    return SavedWalk(
        topology=walk_file.topology,
        options=walk_file.options,
        entry=walk_file.entry,
        events=events,
        model_sha256=walk_file.model_sha256,
        knowledge=walk_file.knowledge,
    )


def _step(model: Model, step: Step) -> WalkStep:
    """The record of one step. It gives the keys that stand at every kind of step last."""
    after = _After(
        minutes=step.minutes,
        opened=tuple(o.id for o in model.openings if o.id in step.bench.opened),
        supply=step.bench.supply,
        rig=step.bench.rig,
        replanned=step.replanned,
        belief={fault: p for fault, p in step.belief.items() if p > 0},
    )
    match step.kind:
        case "setup":
            return SetupStep(
                kind="setup",
                open=step.opened,
                make_safe=_points(step.make_safe),
                measured=tuple(happenings.store_record(store) for store in step.measured),
                **after,
            )
        case "away":
            return AwayStep(kind="away", **after)
        case "lacking":
            return LackingStep(kind="lacking", thing=_word(step.thing), **after)
        case "not-fitted" | "fitted":
            return PartStep(
                kind="fitted" if step.kind == "fitted" else "not-fitted",
                part=_word(step.thing), factors=step.factors, **_differs(step), **after,
            )  # fmt: skip
        case "of-kind":
            return OfKindStep(
                kind="of-kind", part=_word(step.thing), part_kind=_word(step.answer),
                factors=step.factors, **_differs(step), **after,
            )  # fmt: skip
        case "traced":
            return TracedStep(kind="traced", stage=_word(step.thing), **after)
        case "cannot":
            return CannotStep(kind="cannot", test=_word(step.test), **after)
        case "repair":
            return RepairStep(
                kind="repair", remedy=_word(step.thing), factors=step.factors, **after
            )
        case _:
            return _test_step(step, after)


def _test_step(step: Step, after: _After) -> TestStep:
    """A test with what it showed; shares and factors where the answer has any."""
    weights = _Weights()
    if step.differs is not None:
        weights["differs"] = step.differs
    if step.shares:
        weights["shares"] = dict(step.shares)
    if step.factors:
        weights["factors"] = step.factors
    return TestStep(
        kind="known" if step.kind == "known" else "test",
        test=_word(step.test),
        answer=_word(step.answer),
        reading=step.reading,
        surprise=step.surprise,
        **weights,
        **after,
    )


def _differs(step: Step) -> _Differs:
    """The odds that the unit is unlike those known, where they are told."""
    return {} if step.differs is None else {"differs": step.differs}


def _word(name: str | None) -> str:
    """A name that this kind of step always has."""
    assert name is not None
    return name


def _verdict(ending: Ending) -> WalkVerdict:
    return WalkVerdict(
        remedy=ending.remedy.id,
        kind=ending.remedy.kind,
        confidence=ending.confidence,
        faults=tuple(FaultOdds(id=fault, p=p) for fault, p in ending.faults),
        proofs=tuple(proof.id for proof in ending.proofs),
        companions=ending.companions,
        make_safe=_points(ending.make_safe),
        opening_up=tuple(ComingPoint.behind(store, way_in) for store, way_in in ending.opening_up),
        unmeasured=ending.unmeasured,
        finer=_check(ending.finer),
        again=_check(ending.again),
        doubts=tuple(
            DoubtfulAnswer(step=d.step, test=d.test, answer=d.answer, p=d.odds)
            for d in ending.doubts
        ),
    )


def _check(check: Finer | Repetition | None) -> NextCheck | None:
    if check is None:
        return None
    return NextCheck(test=check.test, minutes=check.minutes, saves=check.saves)


def _points(stores: Iterable[Store]) -> tuple[SafePoint, ...]:
    return tuple(SafePoint.of(store) for store in stores)


def _damage(source: str, what: str, at: tuple[int, int] = (0, 0)) -> TroubleError:
    return _trouble(
        Place(source, *at), f"the walk document is damaged (missing or misshapen: {what})"
    )


def _trouble(place: Place, what: str) -> TroubleError:
    return TroubleError(
        Trouble(
            code="WK102",
            place=place,
            what=what,
            mend="Give a file that nextprobe walk saved, or start the walk anew",
        )
    )
