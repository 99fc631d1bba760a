"""What a shop keeps of a case, as frozen records. Times are text, ISO 8601 in UTC."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Intake:
    """What a case begins with: the unit, the owner's words, what the walk is asked for.

    `label` is what is printed on the unit, by name; `options` are those of the command line or
    page, which say the bench, too; `mains` are volts and hertz.
    """

    topology: str
    mains: tuple[float, float]
    depth: str = "part"
    complaint: str | None = None
    unit: str = ""
    words: str = ""
    label: Mapping[str, str] = field(default_factory=dict)
    options: Mapping[str, str] = field(default_factory=dict)
    knowledge: str = ""
    model_sha256: str = ""


@dataclass(frozen=True, slots=True)
class Standing:
    """How a walk stands, as it is kept: JSON-ready events and verdict, bench minutes.

    Options, entry answers and model are kept with it, for a walk may come to know more of its unit
    and be told anew on another model."""

    events: tuple[Mapping[str, Any], ...]
    entry: Mapping[str, str]
    options: Mapping[str, str]
    complaint: str | None
    knowledge: str
    model_sha256: str
    minutes: float
    verdict: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the list of cases."""

    number: int
    state: str
    unit: str
    topology: str
    complaint: str | None
    words: str
    opened_at: str
    changed_at: str
    changed_by: str
    minutes: float
    verdict: Mapping[str, Any] | None
    faults: tuple[str, ...]
    outcome: str | None


@dataclass(frozen=True, slots=True)
class Happening:
    """An event with its clock time and who told it; `withdrawn_at` where it was taken back."""

    at: str
    who: str
    body: Mapping[str, Any]
    withdrawn_at: str | None = None
    withdrawn_by: str | None = None


@dataclass(frozen=True, slots=True)
class Note:
    """Words that somebody left with a case."""

    at: str
    who: str
    says: str


@dataclass(frozen=True, slots=True)
class Photograph:
    """A picture with its media type, size in bytes and hash; `content` where it was asked for."""

    at: str
    who: str
    says: str
    kind: str
    size: int
    sha256: str
    content: bytes | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True)
class ProofReading:
    """A proof after the repair: its limit, what was read, whether it passed."""

    proof: str
    says: str
    limit: str
    reading: str
    passed: bool
    at: str = ""
    who: str = ""


@dataclass(frozen=True, slots=True)
class Closing:
    """How a case ended: the faults that were really there, what was done, proofs, cost, outcome.

    `faults` is empty where nobody found out, so that nothing is learnt from a guess."""

    outcome: str
    faults: tuple[str, ...] = ()
    done: str = ""
    proofs: tuple[ProofReading, ...] = ()
    cost: float | None = None
    currency: str = ""


@dataclass(frozen=True, slots=True)
class Case:
    """All that is kept of a case; `happenings` in the order they were told, those taken back
    included, photographs without their content."""

    number: int
    uid: str
    version: int
    state: str
    intake: Intake
    standing: Standing
    happenings: tuple[Happening, ...]
    notes: tuple[Note, ...]
    photographs: tuple[Photograph, ...]
    opened_at: str
    opened_by: str
    changed_at: str
    changed_by: str
    closed_at: str | None
    closed_by: str | None
    closing: Closing | None

    def is_taken_back(self, happening: Happening) -> bool:
        """Whether an event was taken back; one that was told anew in the same moment, as when a
        unit turned out to be of a topology, was not."""
        moment = happening.withdrawn_at
        return moment is not None and all(other.at != moment for other in self.happenings)
