"""Cases from shop to shop: the document `nextprobe-case/1`, and a table for a spreadsheet."""

from __future__ import annotations

import base64
import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from engine.cases import photographs
from engine.cases.mishaps import trouble
from engine.cases.records import (
    Case,
    Closing,
    Happening,
    Intake,
    Note,
    Photograph,
    ProofReading,
    Row,
    Standing,
)
from engine.documents import case as documents
from engine.documents.case import FORMAT, CaseRecord
from engine.documents.reading import MisfitError
from engine.documents.record import MainsRecord
from engine.documents.walk import WalkVerdict, read_event, read_verdict

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""First characters by which a spreadsheet takes a cell for a formula (OWASP, CSV injection)."""
_COLUMNS = (
    "number", "state", "unit", "topology", "complaint", "words", "opened_at", "changed_at",
    "changed_by", "minutes", "remedy", "confidence", "faults", "outcome",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Parcel:
    """A case that comes from elsewhere, with the bytes of its photographs in their order."""

    case: Case
    contents: tuple[bytes, ...]


def document(case: Case, contents: tuple[bytes, ...] | None) -> dict[str, Any]:
    """The case as a JSON-ready dictionary; without the photographs' bytes where `contents` is None.

    TroubleError CS102 where an event or verdict in the database is of no known shape.
    """
    intake, standing = case.intake, case.standing
    volts, hertz = intake.mains
    try:
        return CaseRecord(
            format=FORMAT, uid=case.uid, number=case.number, version=case.version,
            state=case.state,  # type: ignore[arg-type]
            opened_at=case.opened_at, opened_by=case.opened_by, changed_at=case.changed_at,
            changed_by=case.changed_by, unit=intake.unit, label=dict(intake.label),
            words=intake.words, topology=intake.topology,
            mains=MainsRecord(volts=volts, hertz=hertz),
            depth=intake.depth,  # type: ignore[arg-type]
            complaint=standing.complaint, options=dict(standing.options),
            entry=dict(standing.entry), knowledge=standing.knowledge,
            model_sha256=standing.model_sha256, minutes=standing.minutes,
            events=tuple(_event(happening) for happening in case.happenings),
            notes=tuple(documents.CaseNote(at=n.at, who=n.who, says=n.says) for n in case.notes),
            photographs=tuple(
                _photograph(photograph, None if contents is None else contents[place])
                for place, photograph in enumerate(case.photographs)
            ),
            verdict=None if standing.verdict is None else read_verdict(standing.verdict),
            closing=_closing_record(case),
        ).plain()  # fmt: skip
    except MisfitError as wrong:
        raise trouble(
            "CS102", f"case {case.number}", f"the shop's database is damaged ({wrong})",
            "Put a backup of the shop in its place",
        ) from wrong  # fmt: skip


def unpack(plain: Any, source: str) -> Parcel:
    """A case document that was decoded from JSON. TroubleError CS121 where it is none, CS114 and
    CS115 where a photograph can't be pairs."""
    if not isinstance(plain, Mapping) or plain.get("format") != FORMAT:
        raise _no_case(source, f'its "format" is not "{FORMAT}"')
    try:
        doc = documents.read_case(plain)
    except MisfitError as wrong:
        raise _no_case(source, str(wrong)) from wrong
    contents = tuple(_bytes(photograph, source) for photograph in doc.photographs)
    pairs = [(p, c) for p, c in zip(doc.photographs, contents, strict=True) if c is not None]
    return Parcel(_case(doc, tuple(p for p, _ in pairs)), tuple(c for _, c in pairs))


def table(rows: Iterable[Row]) -> str:
    """Cases as CSV (RFC 4180), a line each under a head; no cell is taken for a formula."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(_COLUMNS)
    for row in rows:
        verdict = row.verdict or {}
        cells = {
            **{name: getattr(row, name, "") for name in _COLUMNS},
            "minutes": round(row.minutes, 1), "remedy": verdict.get("remedy") or "",
            "confidence": round(verdict.get("confidence", 0.0), 3) if verdict else "",
            "faults": " ".join(row.faults),
        }  # fmt: skip
        writer.writerow([_cell(cells[name]) for name in _COLUMNS])
    return text.getvalue()


def _cell(value: Any) -> Any:
    if isinstance(value, str) and value.startswith(_FORMULA):
        return "'" + value
    return "" if value is None else value


def _event(happening: Happening) -> documents.CaseEvent:
    event = documents.CaseEvent(
        at=happening.at, who=happening.who, event=read_event(happening.body)
    )
    if happening.withdrawn_at is None:
        return event
    return documents.CaseEvent(
        at=happening.at, who=happening.who, event=read_event(happening.body),
        withdrawn_at=happening.withdrawn_at, withdrawn_by=happening.withdrawn_by,
    )  # fmt: skip


def _photograph(photograph: Photograph, content: bytes | None) -> documents.CasePhotograph:
    text = None if content is None else base64.b64encode(content).decode("ascii")
    return documents.CasePhotograph(
        at=photograph.at, who=photograph.who, says=photograph.says, kind=photograph.kind,
        size=photograph.size, sha256=photograph.sha256, base64=text,
    )  # fmt: skip


def _closing_record(case: Case) -> documents.CaseClosing | None:
    closing = case.closing
    if closing is None:
        return None
    return documents.CaseClosing(
        at=case.closed_at, who=case.closed_by,
        outcome=closing.outcome,  # type: ignore[arg-type]
        faults=closing.faults, done=closing.done,
        proofs=tuple(
            documents.CaseProof(
                at=proof.at, who=proof.who, proof=proof.proof, says=proof.says, limit=proof.limit,
                reading=proof.reading, passed=proof.passed,
            )
            for proof in closing.proofs
        ),
        cost=closing.cost, currency=closing.currency,
    )  # fmt: skip


def _bytes(photograph: documents.CasePhotograph, source: str) -> bytes | None:
    """What a photograph's text stands for; None where its bytes were left out."""
    if photograph.base64 is None:
        return None
    try:
        content = base64.b64decode(photograph.base64, validate=True)
    except ValueError as wrong:  # binascii.Error is one, signs outside of ASCII are another
        raise _no_case(source, "a photograph is not in base64") from wrong
    photographs.check(content, source)
    if photographs.digest(content) != photograph.sha256:
        raise _no_case(source, "a photograph's bytes have another SHA-256 than is told")
    return content


def _case(doc: CaseRecord, pictures: tuple[documents.CasePhotograph, ...]) -> Case:
    happenings = tuple(
        Happening(e.at, e.who, e.event.plain(), e.withdrawn_at, e.withdrawn_by) for e in doc.events
    )
    return Case(
        number=doc.number, uid=doc.uid, version=doc.version, state=doc.state,
        intake=Intake(
            topology=doc.topology, mains=(doc.mains.volts, doc.mains.hertz), depth=doc.depth,
            complaint=doc.complaint, unit=doc.unit, words=doc.words, label=doc.label,
            options=doc.options, knowledge=doc.knowledge, model_sha256=doc.model_sha256,
        ),
        standing=Standing(
            events=tuple(h.body for h in happenings if h.withdrawn_at is None), entry=doc.entry,
            options=doc.options, complaint=doc.complaint, knowledge=doc.knowledge,
            model_sha256=doc.model_sha256, minutes=doc.minutes,
            verdict=_verdict(doc.verdict),
        ),
        happenings=happenings,
        notes=tuple(Note(n.at, n.who, n.says) for n in doc.notes),
        photographs=tuple(
            Photograph(p.at, p.who, p.says, p.kind, p.size, p.sha256) for p in pictures
        ),
        opened_at=doc.opened_at, opened_by=doc.opened_by, changed_at=doc.changed_at,
        changed_by=doc.changed_by, closed_at=doc.closing.at if doc.closing else None,
        closed_by=doc.closing.who if doc.closing else None, closing=_closing(doc.closing),
    )  # fmt: skip


def _verdict(verdict: WalkVerdict | None) -> Mapping[str, Any] | None:
    return None if verdict is None else verdict.plain()


def _closing(closing: documents.CaseClosing | None) -> Closing | None:
    if closing is None:
        return None
    proofs = tuple(
        ProofReading(p.proof, p.says, p.limit, p.reading, p.passed, p.at, p.who)
        for p in closing.proofs
    )
    return Closing(
        closing.outcome, closing.faults, closing.done, proofs, closing.cost, closing.currency
    )


def _no_case(source: str, how: str) -> Exception:
    return trouble(
        "CS121", source, f"this is no case document ({how})",
        "Give a file that nextprobe export wrote",
    )  # fmt: skip
