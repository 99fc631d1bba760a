"""What the records of chart and walk have in common, and the records that stand in both.

A key that is not given is not written: whoever builds a record gives each key that is to stand in
the document, those with a default included. Keys with a default may be missing where a document is
read, and keys that are not listed are let pass, so that `/1` stays `/1` while keys are added.
Nothing is taken for something else: text is no number, a number no truth.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

from engine.model.records import Mains, Store

Depth = Literal["stage", "part"]
Names = tuple[str, ...]
ByName = Mapping[str, float]
"""Numbers by the names of faults or outcomes."""


class Record(BaseModel):
    """A JSON object of a document; its fields are the keys, in the order they are written."""

    model_config = ConfigDict(
        frozen=True, strict=True, extra="ignore", allow_inf_nan=False
    )

    def plain(self) -> dict[str, Any]:
        """The keys that were given, as a JSON-ready dictionary in the order of the fields."""
        return self.model_dump(mode="json", exclude_unset=True)


class MainsRecord(Record):
    """Nominal mains."""

    volts: float
    hertz: float

    @classmethod
    def of(cls, mains: Mains) -> MainsRecord:
        """The record of a model's mains."""
        return cls(volts=mains.volts, hertz=mains.hertz)


class SafePoint(Record):
    """A store to measure before hands go in: at `point`, go on when under `below` volts."""

    part: str = ""
    point: str
    below: float
    unit: Literal["V"]

    @classmethod
    def of(cls, store: Store) -> SafePoint:
        """The record of a model's store."""
        return SafePoint(part=store.part, point=store.point, below=store.below, unit="V")


class ComingPoint(SafePoint):
    """A store that a repair comes upon, with the opening that shows it."""

    opening: str

    @classmethod
    def behind(cls, store: Store, opening: str) -> ComingPoint:
        """The record of a model's store that this opening shows."""
        return cls(part=store.part, point=store.point, below=store.below, unit="V", opening=opening)


class FaultOdds(Record):
    """A fault and its odds."""

    id: str
    p: float
