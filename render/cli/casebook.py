"""A shop's cases in the words of whoever leafs through them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from engine.cases import photographs
from engine.cases.records import Case, Happening, Row
from engine.model.absence import NO_RIG
from render.cli import files
from render.cli.columns import count_words, hanging, width
from render.terminal.screen import minutes
from render.wording.odds import percent

_UNDER = 12


def index(rows: Sequence[Row], shop: str, is_search: bool) -> Iterator[str]:
    """A line for each case: number, state, when it was changed, the unit, what it came to."""
    if not rows:
        yield "No case is like that." if is_search else f"No cases yet in {shop}."
        return
    for row in rows:
        head = f"{row.number:>5}  {row.state:<7}  {_day(row.changed_at)}  "
        text = "; ".join(part for part in _gist(row) if part)
        room = width() - len(head)
        yield head + (text if len(text) <= room else text[: room - 1].rstrip() + "…")
    yield f"{count_words(len(rows), 'case')}; nextprobe cases --show NUMBER tells all of one."


def page(case: Case) -> Iterator[str]:
    """All of one case, in lines for a terminal."""
    yield f"Case {case.number}, {case.state}"
    for label, text in entries(case):
        yield from _line(label, text)


def put_out(case: Case, contents: Sequence[bytes], folder: Path) -> list[Path]:
    """Photographs of a case as files of a folder, all or none; their paths. TroubleError CL201."""
    paths = [
        folder / f"case-{case.number}-{place}{photographs.ENDINGS.get(picture.kind, '.bin')}"
        for place, picture in enumerate(case.photographs, start=1)
    ]
    files.make_folder(folder)
    with files.together(paths):
        for path, content in zip(paths, contents, strict=True):
            with files.whole(path) as temporary:
                temporary.write_bytes(content)
    return paths


def entries(case: Case) -> Iterator[tuple[str, str]]:
    """All of one case, as labels with their texts; those without a text are left out."""
    return ((label, text) for label, text in _entries(case) if text)


def _entries(case: Case) -> Iterator[tuple[str, str]]:
    intake, standing = case.intake, case.standing
    volts, hertz = intake.mains
    yield "unit", intake.unit
    yield "topology", f"{intake.topology}, {volts:g} V {hertz:g} Hz"
    yield "label", ", ".join(f"{name} {text}" for name, text in intake.label.items())
    yield "said", f"“{intake.words}”" if intake.words else ""
    yield "complaint", standing.complaint or "not told"
    yield "taken in", f"{_moment(case.opened_at)} by {case.opened_by}"
    yield "knowledge", standing.knowledge
    for name, answer in standing.entry.items():
        yield "entry", f"{name}: {answer}"
    for happening in case.happenings:
        yield _moment(happening.at)[-5:], _event(case, happening)
    for note in case.notes:
        yield "note", f"{note.says} ({note.who}, {_moment(note.at)})"
    for number, picture in enumerate(case.photographs, start=1):
        kind = f"{picture.kind}, {picture.size / 1e3:.0f} kB"
        yield f"picture {number}", f"{picture.says or 'no words'} ({kind})"
    yield "minutes", f"{minutes(standing.minutes)} at the bench"
    yield "verdict", _verdict(standing.verdict)
    yield from _closing(case)


def _closing(case: Case) -> Iterator[tuple[str, str]]:
    closing = case.closing
    if closing is None:
        return
    yield "found", ", ".join(closing.faults) or "nobody found out"
    yield "done", closing.done
    for proof in closing.proofs:
        passed = "passed" if proof.passed else "FAILED"
        limit = f"; limit: {proof.limit}" if proof.limit else ""
        yield "proof", f"{proof.proof}: {proof.reading}, {passed}{limit}"
    if closing.cost is not None:
        yield "cost", f"{closing.cost:.2f} {closing.currency}".rstrip()
    at = f" ({case.closed_by}, {_moment(case.closed_at or '')})"
    yield "outcome", closing.outcome + at


def _gist(row: Row) -> Iterator[str]:
    yield row.unit or row.topology
    yield f"“{row.words}”" if row.words else row.complaint or ""
    yield row.outcome or _verdict(row.verdict)
    yield ", ".join(row.faults)


def _verdict(verdict: Any) -> str:
    if not verdict:
        return ""
    return f"{verdict['remedy']} ({percent(verdict['confidence'])} sure)"


def _event(case: Case, happening: Happening) -> str:
    """What was told, in a line; who told it, and whether it was taken back or told anew."""
    back = ""
    if happening.withdrawn_at:
        how = "taken back" if case.is_taken_back(happening) else "told anew"
        back = f", {how} {_moment(happening.withdrawn_at)}"
    return f"{event_line(happening.body)} ({happening.who}{back})"


def event_line(body: Mapping[str, Any]) -> str:
    """An event in a line."""
    match body["event"]:
        case "answered" | "known":
            read = f", read {body['reading']}" if body.get("reading") else ""
            text = f"{body['test']}: {body['answer']}{read}"
        case "arrived":
            stores = [_store(store) for store in body["measured"]]
            openings = f"; open: {', '.join(body['opened'])}" if body["opened"] else ""
            rig = "" if body["rig"] == NO_RIG else f", {body['rig']}"
            text = ", ".join((f"bench {body['supply']}{rig}{openings}", *stores))
        case "away":
            text = "the bench was left"
        case kind:
            rest = [str(value) for key, value in body.items() if key != "event"]
            text = f"{kind}: {' '.join(rest)}"
    return text


def _store(store: Any) -> str:
    if store.get("volts") is None:
        return f"{store['part']} not measured"
    return f"{store['part']} {store['volts']:g} V"


def _line(label: str, text: str) -> Iterator[str]:
    head, *rest = hanging(" " * _UNDER + text, 0, _UNDER)
    yield label + head[len(label) :] if head[: len(label)].isspace() else f"{label}  {text}"
    yield from rest


def _day(at: str) -> str:
    return at[:10]


def _moment(at: str) -> str:
    return at[:16].replace("T", " ")
