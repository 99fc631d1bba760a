"""The document `nextprobe-counts/1` as records: what shops tell each other of their closed cases,
numbers only."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field, TypeAdapter

from engine.documents.reading import read
from engine.documents.record import Record

FORMAT: Literal["nextprobe-counts/1"] = "nextprobe-counts/1"


class CountRecord(Record):
    """How many closed cases of a topology under a complaint ("" for none) were this fault."""

    topology: str
    complaint: str
    fault: str
    cases: float = Field(gt=0, le=1e6)


class CountsRecord(Record):
    """The whole document."""

    format: Literal["nextprobe-counts/1"]
    counts: tuple[CountRecord, ...]


_COUNTS = TypeAdapter(CountsRecord)


def read_counts(plain: Any) -> CountsRecord:
    """The records of counts that were decoded from JSON; MisfitError where they are none."""
    return read(_COUNTS, plain)
