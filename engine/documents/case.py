"""The document `nextprobe-case/1` as records: all that a shop keeps of a case, to hand on.

`engine.cases.exchange` builds and reads it. Times are text, ISO 8601 in UTC.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import Field, TypeAdapter

from engine.documents.reading import read
from engine.documents.record import Depth, MainsRecord, Names, Record
from engine.documents.walk import WalkEvent, WalkVerdict

FORMAT: Literal["nextprobe-case/1"] = "nextprobe-case/1"

Time = str


class CaseEvent(Record):
    """An event of the walk with its clock time and who told it; `withdrawn_at` where it was taken
    back."""

    at: Time
    who: str
    event: WalkEvent
    withdrawn_at: Time | None = None
    withdrawn_by: str | None = None


class CaseNote(Record):
    """Words that somebody left with the case."""

    at: Time
    who: str
    says: str


class CasePhotograph(Record):
    """A picture: its media type, bytes, SHA-256, and the bytes in base64 unless left out."""

    at: Time
    who: str
    says: str
    kind: str
    size: int = Field(gt=0)
    sha256: str
    base64: str | None = None


class CaseProof(Record):
    """A proof after the repair: its limit, what was read, whether it passed."""

    at: Time
    who: str
    proof: str
    says: str
    limit: str
    reading: str
    passed: bool


class CaseClosing(Record):
    """How the case ended: the faults that were really there (none where nobody found out), what was
    done, the proofs, what it cost."""

    at: Time | None
    who: str | None
    outcome: Literal["mended", "unmended", "scrapped", "no-fault"]
    faults: Names
    done: str
    proofs: tuple[CaseProof, ...]
    cost: float | None = None
    currency: str = ""


class CaseRecord(Record):
    """The whole document; `closing` is null while the case is open."""

    format: Literal["nextprobe-case/1"]
    uid: str = Field(pattern="^[0-9a-f]{32}$")
    number: int
    version: int = Field(gt=0)
    state: Literal["open", "verdict", "closed"]
    opened_at: Time
    opened_by: str
    changed_at: Time
    changed_by: str
    unit: str
    label: Mapping[str, str]
    words: str
    topology: str
    mains: MainsRecord
    depth: Depth
    complaint: str | None
    options: Mapping[str, str]
    entry: Mapping[str, str]
    knowledge: str
    model_sha256: str
    minutes: float
    events: tuple[CaseEvent, ...]
    notes: tuple[CaseNote, ...]
    photographs: tuple[CasePhotograph, ...]
    verdict: WalkVerdict | None
    closing: CaseClosing | None


_CASE = TypeAdapter(CaseRecord)


def read_case(plain: Any) -> CaseRecord:
    """The records of a case document that was decoded from JSON; MisfitError where it is none."""
    return read(_CASE, plain)
