"""What a bench sheet says: a case and its model put into rows; nothing is placed here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from engine.cases.records import Case, Happening
from engine.model.records import Model, Proof, Remedy, Test
from render.cli.casebook import event_line
from render.wording.odds import percent

NOT_PROVEN = "Faulty, not proven. Do not plug in."
PROVEN = "Mended and proven."
_SOUND = "No fault was found in the unit."
_FOR_SCRAP = "Not mended: for recycling. Do not plug in."
MOST_PICTURES = 3
"""Photographs that are printed: as many as stand in a row. Of more the first ones are."""
_LEAST = 0.02
"""Odds of another fault that an owner is told of."""


@dataclass(frozen=True, slots=True)
class Finding:
    """A check with what it showed, and what a good unit shows."""

    asks: str
    shows: str
    good: str


@dataclass(frozen=True, slots=True)
class ProofRow:
    """A proof that is owed: limit, source, reading, and `passed`, `failed` or `not done`."""

    says: str
    limit: str
    source: str
    reading: str
    result: str


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the trail: when, who, what; `withdrawn` where it was taken back."""

    at: str
    who: str
    says: str
    withdrawn: bool


@dataclass(frozen=True, slots=True)
class Picture:
    """A photograph: what it shows, its media type, its bytes."""

    says: str
    kind: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Content:
    """All of a sheet, in the order it is read; `label` is empty where none is to be put on."""

    title: str
    head: tuple[tuple[str, str], ...]
    complaint: str
    state: str
    label: str
    findings: tuple[Finding, ...]
    verdict: str
    done: str
    proofs: tuple[ProofRow, ...]
    watch: tuple[str, ...]
    cautions: tuple[str, ...]
    trail: tuple[Line, ...]
    notes: tuple[str, ...]
    pictures: tuple[Picture, ...] = ()
    more_pictures: int = 0


def content(case: Case, model: Model, contents: Sequence[bytes] = ()) -> Content:
    """The sheet of a case, of which `model` is the model that its walk was about; `contents` are
    the bytes of its photographs, in their order."""
    verdict = case.standing.verdict or {}
    remedy = next((r for r in model.remedies if r.id == verdict.get("remedy")), None)
    proofs = tuple(_proofs(case, model, remedy))
    state = _state(case, proofs)
    closing = case.closing
    volts, hertz = case.intake.mains
    label = ", ".join(f"{name} {text}" for name, text in case.intake.label.items())
    head = (
        ("Case", str(case.number)), ("Unit", case.intake.unit or _plain(model.says)),
        ("Marked", label), ("Mains", f"{volts:g} V {hertz:g} Hz"),
        ("Taken in", f"{case.opened_at[:10]} by {case.opened_by}"),
        ("Closed", f"{case.closed_at[:10]} by {case.closed_by}" if case.closed_at else ""),
        ("Cost", f"{closing.cost:.2f} {closing.currency}".strip()
         if closing and closing.cost is not None else ""),
    )  # fmt: skip
    return Content(
        title=f"Bench sheet, case {case.number}",
        head=tuple((name, text) for name, text in head if text),
        complaint=_complaint(case), state=state,
        label="" if state in (PROVEN, _SOUND) else NOT_PROVEN,
        findings=tuple(_findings(case, model)), verdict=_verdict(verdict, remedy),
        done=closing.done if closing and closing.done else "Nothing.",
        proofs=proofs, watch=tuple(_watch(verdict, model, state)),
        cautions=tuple(dict.fromkeys(c.says for c in _cautions(model, remedy))),
        trail=tuple(_line(case, happening) for happening in case.happenings),
        notes=tuple(note.says for note in case.notes),
        pictures=tuple(
            Picture(one.says, one.kind, content)
            for one, content in zip(case.photographs, contents, strict=False)
        )[:MOST_PICTURES],
        more_pictures=max(0, len(contents) - MOST_PICTURES),
    )  # fmt: skip


def _complaint(case: Case) -> str:
    name = (case.standing.complaint or "").replace("-", " ")
    words = case.intake.words
    if words and name:
        return f"“{words}” ({name})"
    return f"“{words}”" if words else name or "None was told."


def _state(case: Case, proofs: tuple[ProofRow, ...]) -> str:
    """What the owner may do with it: only a unit with every proof passed is called proven."""
    outcome = case.closing.outcome if case.closing else ""
    if outcome == "no-fault":
        return _SOUND
    if outcome == "scrapped":
        return _FOR_SCRAP
    is_proven = bool(proofs) and all(proof.result == "passed" for proof in proofs)
    return PROVEN if outcome == "mended" and is_proven else NOT_PROVEN


def _findings(case: Case, model: Model) -> Iterator[Finding]:
    """What was found at last by each check that stands."""
    tests = {test.id: test for test in model.tests}
    latest: dict[str, Any] = {}
    for body in case.standing.events:
        if body["event"] in ("answered", "known") and body["test"] in tests:
            latest.pop(body["test"], None)
            latest[body["test"]] = body
    for name, body in latest.items():
        test = tests[name]
        yield Finding(_plain(test.says), _shows(test, body), _plain(test.good))


def _shows(test: Test, body: Any) -> str:
    says = next((_plain(o.says) for o in test.outcomes if o.id == body["answer"]), body["answer"])
    return f"{body['reading']}: {says}" if body.get("reading") else says


def _verdict(verdict: Any, remedy: Remedy | None) -> str:
    if not verdict:
        return "none was reached"
    says = _plain(remedy.says) if remedy else str(verdict.get("remedy"))
    return f"{says} ({percent(verdict['confidence'])} sure)"


def _proofs(case: Case, model: Model, remedy: Remedy | None) -> Iterator[ProofRow]:
    """The proofs that the remedy owes, and those that were done besides."""
    readings = {p.proof: p for p in (case.closing.proofs if case.closing else ())}
    by_id = {proof.id: proof for proof in model.proofs}
    names = dict.fromkeys((*(remedy.proofs if remedy else ()), *readings))
    for name in names:
        reading, proof = readings.get(name), by_id.get(name)
        result = "not done" if reading is None else "passed" if reading.passed else "failed"
        yield ProofRow(
            _proof_says(proof, name), proof.limit if proof else reading.limit if reading else "",
            proof.source if proof else "", reading.reading if reading else "", result,
        )  # fmt: skip


def _proof_says(proof: Proof | None, name: str) -> str:
    return _plain(proof.says) if proof else name


def _watch(verdict: Any, model: Model, state: str) -> Iterator[str]:
    """What the owner should look out for."""
    if state != PROVEN:
        return
    yield "Watch it for the first hours: unplug it if it smells, hums, flickers or gets hot."
    remedies = {r.id: r for r in model.remedies}
    cures = remedies[verdict["remedy"]].cures if verdict.get("remedy") in remedies else ()
    says = {fault.id: fault.says for fault in model.faults}
    others = [f for f in verdict.get("faults", ()) if f["id"] not in cures and f["p"] >= _LEAST]
    for other in others[:2]:
        what = _plain(says.get(other["id"], other["id"]))
        yield f"Should it fail again, it may be this: {what} ({percent(other['p'])})."


def _cautions(model: Model, remedy: Remedy | None) -> Iterator[Any]:
    ids = set(remedy.cautions if remedy else ())
    return (caution for caution in model.cautions if caution.id in ids)


def _line(case: Case, happening: Happening) -> Line:
    body = happening.body
    head = f"{body['event']} " if body["event"] in ("answered", "known") else ""
    when = happening.at[:16].replace("T", " ")
    return Line(when, happening.who, head + event_line(body), case.is_taken_back(happening))


def _plain(text: str) -> str:
    return " ".join(text.split()).rstrip(".")
