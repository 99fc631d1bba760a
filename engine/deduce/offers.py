"""Facts of what is done at the bench, as Python reads them: a view of each kind.

Tests, rigs, remedies and proofs as rules offer them, what must come first, and what can hurt. How
the unit is built has its views in `engine.deduce.anatomy`, which says more of views.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Self

from engine.deduce.facts import FIELD, Fact, FieldError, View, as_number, attributes

_OF, _IS = {FIELD: "of"}, {FIELD: "is"}


# ---- what can be done ----


@dataclass(frozen=True, slots=True)
class Rig(View):
    """A rig is offered."""

    kind = "rig"
    name: str
    does: str
    on: str
    minutes: float
    hands_on: bool
    says: str
    how: str = ""
    off: str = ""
    scene: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer of a test: the values it is for, and where it is measured the cut point under
    which it lies, in the test's unit, with the limits of that; None where there is none."""

    outcome: str
    says: str
    values: tuple[str, ...]
    below: float | None = None
    at_least: float | None = None
    at_most: float | None = None
    short: bool = False


@dataclass(frozen=True, slots=True)
class Test(View):
    """A test is offered; `energy` is None where the arrangement's holds, `answers` are none where
    the offering rule lists none."""

    kind = "test"
    name: str
    action: str
    says: str
    minutes: float
    supply: str
    rig: str
    behind: str
    looks_at: str
    at: str
    how: str = ""
    instrument: str = ""
    good: str = ""
    unit: str = ""
    energy: str | None = None
    point: str = ""
    scene: str = ""
    on: str = ""
    level: str = ""
    lead: str = ""
    mends: str = ""
    answers: tuple[Answer, ...] = field(default=(), metadata={FIELD: ""})

    @classmethod
    def of(cls, fact: Fact) -> Self:
        """The view of a test, its answers as the rule lists them. FieldError as `View.of`."""
        listed = fact.detail.get("answers")
        answers = listed if isinstance(listed, (list, tuple)) else ()
        own = tuple(_answer(fact, answer) for answer in answers)
        return cls(fact, answers=own, **attributes(cls, fact))


@dataclass(frozen=True, slots=True)
class Lead(View):
    """A point is brought out of the unit on clipped leads."""

    kind = "lead"
    name: str
    of_what: str = field(metadata=_OF)
    minutes: float
    behind: str
    says: str


@dataclass(frozen=True, slots=True)
class Misreading(View):
    """An answer is read as another."""

    kind = "errs"
    test: str
    really: str
    reported: str = field(metadata={FIELD: "read"})
    odds: float


@dataclass(frozen=True, slots=True)
class Slip(View):
    """Any answer of a test is now and then mistyped as another; several add up."""

    kind = "slips"
    test: str
    odds: float


@dataclass(frozen=True, slots=True)
class Uncertainty(View):
    """How much of its odds something unlisted shares evenly among a test's answers."""

    kind = "open-to"
    test: str
    odds: float


@dataclass(frozen=True, slots=True)
class Blur(View):
    """A quantity's value sometimes shows as another; with a `manner`, in a unit of that manner
    always, and with all else that is so in that manner."""

    kind = "blurs"
    quantity: str = field(metadata=_OF)
    at: str
    value: str = field(metadata=_IS)
    shows: str
    odds: float
    manner: str = ""


@dataclass(frozen=True, slots=True)
class Sum(View):
    """A test or a supply arrangement wants a sum of the bench."""

    kind = "reckons"
    test: str
    sum: str
    given: str
    tells: str


@dataclass(frozen=True, slots=True)
class Handwork(View):
    """A test is done by hand on the circuit."""

    kind = "handled"
    test: str


@dataclass(frozen=True, slots=True)
class Remedy(View):
    """A remedy is offered."""

    kind = "remedy"
    name: str
    says: str
    remedy_kind: str = field(metadata={FIELD: "kind"})
    minutes: float
    level: str
    how: str = ""


@dataclass(frozen=True, slots=True)
class Cure(View):
    """A remedy cures a fault."""

    kind = "cures"
    remedy: str
    fault: str


@dataclass(frozen=True, slots=True)
class Companion(View):
    """Something to look at with a remedy."""

    kind = "companion"
    remedy: str
    says: str


@dataclass(frozen=True, slots=True)
class Proof(View):
    """A proof is offered."""

    kind = "proof"
    name: str
    says: str
    supply: str
    limit: str
    minutes: float
    closed: bool
    rank: float
    how: str = ""


@dataclass(frozen=True, slots=True)
class ProofLink(View):
    """A proof follows a remedy."""

    kind = "proves"
    remedy: str
    proof: str


# ---- what comes first, and what can hurt ----


@dataclass(frozen=True, slots=True)
class Hazard(View):
    """A hazard at a test, rig, opening, remedy or arrangement."""

    kind = "hazard"
    of_what: str = field(metadata=_OF)
    hazard: str = field(metadata=_IS)


@dataclass(frozen=True, slots=True)
class Cautioning(View):
    """A caution stands at a step."""

    kind = "cautioned"
    of_what: str = field(metadata=_OF)
    caution: str


@dataclass(frozen=True, slots=True)
class Store(View):
    """A part that can stay charged, with the most volts it can hold."""

    kind = "store"
    part: str
    max_volts: float
    point: str


@dataclass(frozen=True, slots=True)
class Limiter(View):
    """The limited mains arrangement that this bench uses."""

    kind = "limiter"
    name: str


@dataclass(frozen=True, slots=True)
class ColdFirst(View):
    """Cold checks come before anything is energised."""

    kind = "cold-first"
    why: str = field(metadata=_IS)


@dataclass(frozen=True, slots=True)
class ShortCheck(View):
    """A test looks for a short in the power path, cold and closed."""

    kind = "short-check"
    test: str


@dataclass(frozen=True, slots=True)
class ShortCheckFirst(View):
    """A short check comes before a test or a remedy."""

    kind = "short-check-first"
    of_what: str = field(metadata=_OF)
    shows: str


@dataclass(frozen=True, slots=True)
class WholeFirst(View):
    """A fusible part must have been read whole before a test or a remedy."""

    kind = "whole-first"
    of_what: str = field(metadata=_OF)
    part: str


@dataclass(frozen=True, slots=True)
class OwnCheck(View):
    """A test is a part's own check; `outcome` is the one answer that is, empty for all."""

    kind = "speaks-for"
    test: str
    part: str
    outcome: str = ""


@dataclass(frozen=True, slots=True)
class MeasureFirst(View):
    """A part is measured before a remedy is named or a repair tried."""

    kind = "asks-for"
    of_what: str = field(metadata=_OF)
    part: str


@dataclass(frozen=True, slots=True)
class ShortsFirst(View):
    """A part must be free of a short before a remedy is named or a repair tried."""

    kind = "shorts-first"
    of_what: str = field(metadata=_OF)
    part: str


@dataclass(frozen=True, slots=True)
class Keeping(View):
    """A remedy stands once a repair that was tried has helped."""

    kind = "keeps"
    remedy: str
    test: str
    outcome: str


def _answer(fact: Fact, words: Mapping[str, Any]) -> Answer:
    """An answer as a rule lists it; its cut points may have been worked out."""
    for name in ("outcome", "says", "for"):
        if name not in words:
            raise FieldError(fact, name, f"with an answer that has no '{name}'")
    values = words["for"] if isinstance(words["for"], (list, tuple)) else [words["for"]]
    below, least, most = (
        as_number(fact, name, words[name]) if name in words else None
        for name in ("below", "at_least", "at_most")
    )
    return Answer(
        str(words["outcome"]), str(words["says"]), tuple(str(value) for value in values), below,
        least, most, words.get("short", False) is True,
    )  # fmt: skip


VIEWS: tuple[type[View], ...] = (
    Rig, Test, Lead, Misreading, Slip, Uncertainty, Blur, Sum, Handwork, Remedy, Cure, Companion,
    Proof, ProofLink, Hazard, Cautioning, Store, Limiter, ColdFirst, ShortCheck, ShortCheckFirst,
    WholeFirst, OwnCheck, MeasureFirst, ShortsFirst, Keeping,
)  # fmt: skip
"""All of them."""
