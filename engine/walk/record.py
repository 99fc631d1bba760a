"""The walk document `nextprobe-walk/1`: what was done, found and concluded, and how to go on.

`document` writes it, `reopen` reads the part that matters for going on: options, entry answers,
events and the hash of the model they were given on. Steps, beliefs and verdict are for readers;
they are worked out again from the events when the walk is resumed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from engine.model.records import Model, Store, sha256
from engine.walk import events as happenings
from engine.walk.ending import Ending, conclude
from engine.walk.entry import Admission, remedy_for
from engine.walk.events import Event
from engine.walk.job import Halt, Step, Walk, pending
from kb.trouble import Place, Trouble, TroubleError

if TYPE_CHECKING:
    from engine.evidence import Witness

FORMAT = "nextprobe-walk/1"


@dataclass(frozen=True, slots=True)
class Saved:
    """What a walk document holds for going on with it."""

    topology: str
    options: Mapping[str, str]
    entry: Mapping[str, str]
    events: tuple[Event, ...]
    model_sha256: str
    knowledge: str


def document(walk: Walk) -> dict[str, Any]:
    """The walk as a JSON-ready dictionary; `verdict` is null while it is under way."""
    return {
        **_head(walk.model, dict(walk.outset.options), dict(walk.outset.entry)),
        "model_sha256": walk.outset.model_sha256,
        "circuit": _circuit(walk.outset.witness),
        "minutes": walk.minutes,
        "steps": [_step(walk.model, step) for step in walk.steps],
        "verdict": _verdict(conclude(walk)) if walk.ended and pending(walk) is None else None,
        "halt": _halt(walk),
        "events": [happenings.plain(event) for event in walk.events],
    }


def _halt(walk: Walk) -> dict[str, Any] | None:
    """The stores that stop the walk for good, where it has come to that."""
    ahead = pending(walk)
    if not isinstance(ahead, Halt):
        return None
    return {"label": "charged", "stores": [_store(store) for store in ahead.stores]}


def _circuit(witness: Witness | None) -> dict[str, Any] | None:
    """What readings were weighed by: the readings' key, and what was known of this very unit."""
    if witness is None or witness.dictionary is None:
        return None
    return {
        "key": dict(witness.dictionary.key),
        "markings": dict(witness.make.markings),
        "good": dict(witness.make.expected),
    }


def turned_away(model: Model, admission: Admission, options: Mapping[str, str]) -> dict[str, Any]:
    """The document of a unit that the entry check ended: no step, nothing energised."""
    remedy = remedy_for(model, admission)
    question = admission.decided_by
    return {
        **_head(model, options, dict(admission.answers)),
        "model_sha256": sha256(model),
        "minutes": 0.0,
        "steps": [],
        "verdict": {
            "remedy": remedy.id if remedy else None,
            "kind": admission.decision,
            "confidence": 1.0,
            "faults": [],
            "proofs": [],
            "because": question.id if question else None,
        },
        "events": [],
    }


def reopen(raw: Any, source: str) -> Saved:
    """What is needed to go on with a saved walk; another document raises a `TroubleError`."""
    if not isinstance(raw, Mapping) or raw.get("format") != FORMAT:
        raise _trouble(source, f'this is no walk document (its "format" is not "{FORMAT}")')
    if not isinstance(raw.get("events"), list):
        raise _trouble(source, "the walk document is damaged (its events are no list)")
    try:
        return Saved(
            topology=str(raw["topology"]),
            options={str(k): str(v) for k, v in raw["options"].items()},
            entry={str(k): str(v) for k, v in raw["entry"].items()},
            events=tuple(happenings.read(event, source) for event in raw["events"]),
            model_sha256=str(raw["model_sha256"]),
            knowledge=str(raw.get("knowledge", "")),
        )
    except (KeyError, TypeError, AttributeError) as wrong:
        raise _trouble(
            source, f"the walk document is damaged (missing or misshapen: {wrong})"
        ) from wrong


def _head(model: Model, options: Mapping[str, str], entry: Mapping[str, str]) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "topology": model.topology,
        "mains": {"volts": model.mains.volts, "hertz": model.mains.hertz},
        "depth": model.depth,
        "complaint": model.complaint,
        "knowledge": model.knowledge,
        "options": dict(options),
        "entry": dict(entry),
    }


def _step(model: Model, step: Step) -> dict[str, Any]:
    plain: dict[str, Any] = {"kind": step.kind}
    match step.kind:
        case "setup":
            plain["open"] = list(step.opened)
            plain["make_safe"] = [_store(store) for store in step.make_safe]
            plain["measured"] = [happenings.plain_measure(found) for found in step.measured]
        case "away":
            pass
        case "lacking":
            plain["thing"] = step.thing
        case "traced":
            plain["stage"] = step.thing
        case "cannot":
            plain["test"] = step.test
        case "repair":
            plain["remedy"] = step.thing
            plain["factors"] = dict(step.factors)
        case _:
            plain |= {"test": step.test, "answer": step.answer, "reading": step.reading}
            plain["surprise"] = step.surprise
            if step.shares:
                plain["shares"] = dict(step.shares)
            if step.factors:
                plain["factors"] = dict(step.factors)
    opened = [o.id for o in model.openings if o.id in step.bench.opened]
    return {
        **plain,
        "minutes": step.minutes,
        "opened": opened,
        "supply": step.bench.supply,
        "rig": step.bench.rig,
        "replanned": step.replanned,
        "belief": {fault: p for fault, p in step.belief.items() if p > 0},
    }


def _verdict(ending: Ending) -> dict[str, Any]:
    finer, again = ending.finer, ending.again
    return {
        "remedy": ending.remedy.id,
        "kind": ending.remedy.kind,
        "confidence": ending.confidence,
        "faults": [{"id": fault, "p": p} for fault, p in ending.faults],
        "proofs": [proof.id for proof in ending.proofs],
        "companions": list(ending.companions),
        "make_safe": [_store(store) for store in ending.make_safe],
        "opening_up": [
            {**_store(store), "opening": opening} for store, opening in ending.opening_up
        ],
        "unmeasured": list(ending.unmeasured),
        "finer": finer and {"test": finer.test, "minutes": finer.minutes, "saves": finer.saves},
        "again": again and {"test": again.test, "minutes": again.minutes, "saves": again.saves},
        "doubts": [
            {"step": d.step, "test": d.test, "answer": d.answer, "p": d.odds} for d in ending.doubts
        ],
    }


def _store(store: Store) -> dict[str, Any]:
    return {"part": store.part, "point": store.point, "below": store.below, "unit": "V"}


def _trouble(source: str, what: str) -> TroubleError:
    return TroubleError(
        Trouble(
            code="WK102",
            place=Place(source),
            what=what,
            mend="Give a file that nextprobe walk saved, or start the walk anew",
        )
    )
