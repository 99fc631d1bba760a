"""The model document `nextprobe-model/1`: faults, tests, odds, minutes, supply, remedies.

Plain frozen data in the shape of the JSON document. Nothing after this step reads knowledge files
or runs rules: every cause a later step may want to tell travels inside the model.
Minutes are bench minutes, volts are volts, odds are probabilities between 0 and 1.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Protocol, TypeVar

from engine.model.absence import UNENERGISED
from engine.model.finds import Find
from engine.model.notes import EntryQuestion, Method, PartNote, PointNote, StageNote
from engine.model.shares import FamilyShare

FORMAT = "nextprobe-model/1"


@dataclass(frozen=True, slots=True)
class FaultyPart:
    """A part and the failure mode it is supposed to have."""

    part: str
    mode: str


@dataclass(frozen=True, slots=True)
class Fault:
    """One hypothesis. A joint fault names several parts; a variant adds up with its parent."""

    id: str
    stage: str
    says: str
    prior: float
    parts: tuple[FaultyPart, ...] = ()
    variant_of: str | None = None
    because: tuple[Because, ...] = ()


@dataclass(frozen=True, slots=True)
class Manner:
    """One of the ways in which units with a fault are, each always in its own: `odds` of it, and
    what it `shows`, rows of odds by test; elsewhere the fault's own rows hold.

    A fault's rows are the mean over its manners, whose odds sum to 1.
    """

    fault: str
    id: str
    odds: float
    shows: Mapping[str, Mapping[str, float]]


@dataclass(frozen=True, slots=True)
class Requirement:
    """What an answer on the way must have shown: `by` maps a test to the outcomes that do so.

    `of` is the part it speaks of. Where no test that could show it is left to be done, it is waived
    (a person can't, or the shop lacks the instrument), unless `strict`: safety hangs on it.
    """

    of: str
    by: Mapping[str, tuple[str, ...]]
    says: str = ""
    strict: bool = False


@dataclass(frozen=True, slots=True)
class Remedy:
    """What ends a diagnosis, with the faults it cures and the proofs that must follow.

    `kind` is repair, outside, none, downgrade, salvage, scrap or refuse. It is named once each of
    `requires` was met: a part is measured before it is renewed.
    """

    id: str
    says: str
    kind: str
    minutes: float
    cures: tuple[str, ...]
    proofs: tuple[str, ...] = ()
    how: str = ""
    companions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    because: tuple[Because, ...] = ()
    requires: tuple[Requirement, ...] = ()


@dataclass(frozen=True, slots=True)
class Proof:
    """A check after the repair, with the limit it must keep and who says so."""

    id: str
    says: str
    supply: str
    limit: str
    source: str
    minutes: float = 0.0
    opened: tuple[str, ...] = ()
    hands_on: bool = False
    closed: bool = False
    how: str = ""
    cautions: tuple[str, ...] = ()
    because: tuple[Because, ...] = ()


@dataclass(frozen=True, slots=True)
class Caution:
    """Words of warning for one hazard; `signal` is DANGER, WARNING, CAUTION or NOTICE."""

    id: str
    hazard: str
    signal: str
    says: str


@dataclass(frozen=True, slots=True)
class Because:
    """The rule that concluded something, and the facts it stood on, both readable."""

    rule: str
    facts: tuple[str, ...] = ()
    says: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One answer of a test. Measured answers have a half-open band [low, high) in `unit`.

    `short` marks one that shows a short in the power path: after it nothing is done on mains or
    high-voltage DC (`engine.model.shorts`).
    """

    id: str
    says: str
    low: float | None = None
    high: float | None = None
    unit: str | None = None
    short: bool = False


@dataclass(frozen=True, slots=True)
class Cut:
    """Why the cut point between two measured outcomes stands where it does, in their unit.

    `rule` is what the rule's sum gives, `at_least` and `at_most` are limits that the rule sets, and
    `parts` is where the derived readings of both sides part best, from and to; None where nothing
    was derived. `by` tells what settled the cut: rule, readings, or what held it back from where
    readings alone would put it: limit (the rule's), sound (it would have cut off what sound units
    read), agreed (it would have crossed a reading on which rules and circuit agree).
    """

    below: str
    above: str
    rule: float
    at_least: float | None = None
    at_most: float | None = None
    parts: tuple[float, float] | None = None
    by: str = "rule"


@dataclass(frozen=True, slots=True)
class Test:
    """One check: what it needs (openings, supply arrangement, rig) and what it can show.

    `on` is the part or stage it is done to, where there is one; `cuts` tell of its cut points. It
    is done once each of `requires` was met. One that `mends` tries a remedy: its rig is the repair,
    and the unit then works or does not (repair and observe). `compare`: makers differ so much here
    that its bands are one make's, and a good unit beside it tells more.
    """

    id: str
    says: str
    minutes: float
    opened: tuple[str, ...]
    supply: str
    rig: str
    hands_on: bool
    outcomes: tuple[Outcome, ...]
    hazards: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    because: tuple[Because, ...] = ()
    misread: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    how: str = ""
    instrument: str = ""
    good: str = ""
    point: str = ""
    on: str = ""
    cuts: tuple[Cut, ...] = ()
    requires: tuple[Requirement, ...] = ()
    mends: str = ""
    compare: bool = False

    def outcome(self, outcome_id: str) -> Outcome:
        """The outcome of that id; KeyError if the test has none such."""
        for outcome in self.outcomes:
            if outcome.id == outcome_id:
                return outcome
        raise KeyError(outcome_id)


@dataclass(frozen=True, slots=True)
class Opening:
    """One level of access; needs the openings in `after`; once made it stays made.

    `inside` is false for what is done once on the closed unit, such as its cold checks. `kind` is
    access, tracing (`stage` is drawn once and known from then on) or lead (the point or part `of`
    is brought out on clipped leads, which stay).
    """

    id: str
    minutes: float
    after: tuple[str, ...] = ()
    says: str = ""
    how: str = ""
    cautions: tuple[str, ...] = ()
    inside: bool = True
    kind: str = "access"
    stage: str = ""
    of: str = ""


@dataclass(frozen=True, slots=True)
class Rig:
    """What is clipped, bridged, fed, covered or taken off for a test; `off` undoes it, in words."""

    id: str
    minutes: float
    hands_on: bool
    says: str = ""
    how: str = ""
    cautions: tuple[str, ...] = ()
    off: str = ""


SUMS = " By calc "
"""Where sums begin that were worked for a how-to: they end it."""


@dataclass(frozen=True, slots=True)
class Arrangement:
    """One supply arrangement. `energy` is none, elv, hvdc or mains; exactly one has none."""

    id: str
    energy: str
    max_volts: float
    hands_on: bool
    closed_only: bool
    says: str = ""
    how: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Supply:
    """The supply arrangements and the minutes of changing from one to another."""

    arrangements: tuple[Arrangement, ...]
    minutes: Mapping[str, Mapping[str, float]]


@dataclass(frozen=True, slots=True)
class Store:
    """A part that can stay charged: measure at `point`, go on when under `below` volts.

    Any one opening of `exposed_by` brings its terminals within reach; none are needed where it is
    empty (contacts outside), and whatever is opened first counts where it is None (nobody said).
    """

    part: str
    max_volts: float
    point: str
    below: float
    exposed_by: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True)
class Start:
    """Openings made, supply arrangement and rig as the plan begins."""

    opened: tuple[str, ...]
    supply: str
    rig: str


@dataclass(frozen=True, slots=True)
class Mains:
    """Nominal mains of the plan."""

    volts: float
    hertz: float


@dataclass(frozen=True, slots=True)
class Model:
    """Everything planning, walking, checking and drawing need; see the module docstring."""

    format: str
    topology: str
    mains: Mains
    depth: str
    complaint: str | None
    wrong_verdict_minutes: float
    faults: tuple[Fault, ...]
    remedies: tuple[Remedy, ...]
    proofs: tuple[Proof, ...]
    cautions: tuple[Caution, ...]
    tests: tuple[Test, ...]
    likelihood: Mapping[str, Mapping[str, Mapping[str, float]]]
    openings: tuple[Opening, ...]
    rigs: tuple[Rig, ...]
    supply: Supply
    stores: tuple[Store, ...]
    start: Start
    says: str = ""
    knowledge: str = ""
    entry: tuple[EntryQuestion, ...] = ()
    stages: tuple[StageNote, ...] = ()
    points: tuple[PointNote, ...] = ()
    parts: tuple[PartNote, ...] = ()
    methods: tuple[Method, ...] = ()
    kit: tuple[str, ...] = ()
    finds: tuple[Find, ...] = ()
    shares: tuple[FamilyShare, ...] = ()
    manners: tuple[Manner, ...] = ()

    def row(self, test_id: str, fault_id: str) -> Mapping[str, float]:
        """Odds of each true outcome of a test under a fault; they sum to 1."""
        return self.likelihood[test_id][fault_id]

    def test(self, test_id: str) -> Test:
        """The test of that id; KeyError if there is none."""
        return record_of(self.tests, test_id)

    def fault(self, fault_id: str) -> Fault:
        """The fault of that id; KeyError if there is none."""
        return record_of(self.faults, fault_id)

    def remedy(self, remedy_id: str) -> Remedy:
        """The remedy of that id; KeyError if there is none."""
        return record_of(self.remedies, remedy_id)

    def arrangement(self, supply_id: str) -> Arrangement:
        """The supply arrangement of that id; KeyError if there is none."""
        return record_of(self.supply.arrangements, supply_id)

    def rig(self, rig_id: str) -> Rig:
        """The rig of that id; KeyError if there is none."""
        return record_of(self.rigs, rig_id)

    def opening(self, opening_id: str) -> Opening:
        """The opening of that id; KeyError if there is none."""
        return record_of(self.openings, opening_id)

    @property
    def dead_supply(self) -> str:
        """The arrangement in which hands may touch what is measured: unplugged."""
        return next(a.id for a in self.supply.arrangements if a.energy == UNENERGISED)


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


_Record = TypeVar("_Record", bound=_HasId)


def record_of(records: tuple[_Record, ...], name: str) -> _Record:
    """The record whose id is `name`; KeyError if there is none. Linear in their number."""
    for record in records:
        if record.id == name:
            return record
    raise KeyError(name)


def document(model: Model) -> dict[str, Any]:
    """The model as the JSON-ready dictionary that `nextprobe model --json` prints."""
    plain = _plain(model)
    assert isinstance(plain, dict)
    return plain


_HASHES: deque[tuple[Model, str]] = deque(maxlen=4)
"""By identity, for a model is frozen but has mappings, so that it can't be looked up by itself."""


def sha256(model: Model) -> str:
    """Hash of the canonical JSON text (sorted keys, no white space) of the model document.

    Those of the last few models are kept: hashing takes longer than a plan in mid-walk may.
    """
    for owner, digest in tuple(_HASHES):
        if owner is model:
            return digest
    digest = document_sha256(document(model))
    _HASHES.append((model, digest))
    return digest


def document_sha256(plain: Mapping[str, Any]) -> str:
    """Hash of the canonical JSON text (sorted keys, no white space) of a JSON-ready mapping."""
    text = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


_SCALARS = frozenset({str, float, int, bool, type(None)})
_FIELD_NAMES: dict[type, tuple[str, ...]] = {}


def _plain(value: Any) -> Any:
    kind = type(value)
    if kind in _SCALARS:
        return value
    if kind in _FIELD_NAMES:
        return {name: _plain(getattr(value, name)) for name in _FIELD_NAMES[kind]}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        _FIELD_NAMES[kind] = tuple(field.name for field in dataclasses.fields(value))
        return _plain(value)
    if isinstance(value, (dict, MappingProxyType)):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, (tuple, list)):
        return [_plain(inner) for inner in value]
    return value
