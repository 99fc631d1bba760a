"""What the shipped knowledge says of hazards, supplies and the entry check, for holding a document
from elsewhere against it: words of safety are not a document's to change.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, replace

from engine.model.absence import UNENERGISED
from engine.model.file.limits import BOARDS_TAKEN_FOR_LIVE
from engine.model.notes import EntryQuestion
from engine.model.records import Caution
from kb.language import loader
from kb.language.schema import ArrangementEntry, EntryCheck

STAND_IN = {UNENERGISED: "unplugged", "elv": "bench-low", "hvdc": "string-source"}
"""The shipped arrangement of each energy but mains, where two differ in what is open."""

CLOSED_MAINS, LIMITED_MAINS, BEHIND_RCD = "normal-mains", "isolated-limited", "rcd-limited"


@dataclass(frozen=True, slots=True)
class StandardWords:
    """Cautions by hazard, arrangements by name, and the questions of the entry check."""

    cautions: Mapping[str, Caution]
    only_for: frozenset[str]
    arrangements: Mapping[str, ArrangementEntry]
    entry: tuple[EntryCheck, ...]

    def stands_for(self, name: str, energy: str, closed_only: bool) -> ArrangementEntry:
        """The shipped arrangement a document's is held against: its namesake, or that of its
        energy; mains for opened units is the isolated one, for nobody can say that it is less."""
        namesake = self.arrangements.get(name)
        if namesake is not None and (namesake.energy, namesake.closed_only) == (
            energy, closed_only,
        ):  # fmt: skip
            return namesake
        mains = CLOSED_MAINS if closed_only else LIMITED_MAINS
        return self.arrangements[STAND_IN.get(energy, mains)]

    def questions(self) -> tuple[EntryQuestion, ...]:
        """The whole entry check; whether a conditional question is due shows as it is put."""
        return tuple(
            EntryQuestion(
                e.question, e.asks, dict(e.answers), e.why, dict(e.complains), e.complaints,
                dict(e.after),
            )
            for e in self.entry
        )  # fmt: skip


@functools.cache
def as_shipped() -> StandardWords:
    """Read from the two folders that hold it: all knowledge would take seconds, these a third."""
    warnings = loader.read(base=loader.SHIPPED / "cautions")
    words = loader.read(base=loader.SHIPPED / "words")
    cautions = {
        c.hazard: Caution(c.id, c.hazard, c.signal, c.says) for c in warnings.cautions.values()
    }
    only_for = frozenset(c.hazard for c in warnings.cautions.values() if c.only_for)
    return StandardWords(cautions, only_for, words.arrangements, tuple(warnings.entry.values()))


def mandatory(hazard: str) -> Caution | None:
    """The caution that stands wherever the hazard is, in words true of any unit; None where the
    hazard is none of the shipped ones."""
    base = as_shipped()
    caution = base.cautions.get(hazard)
    if caution is not None and hazard in base.only_for:
        return replace(caution, says=BOARDS_TAKEN_FOR_LIVE)
    return caution


def tells(caution: Caution) -> bool:
    """Whether a caution has the mandatory words of its hazard: the shipped ones, or those for a
    unit of which less is known."""
    models = [mandatory(caution.hazard), as_shipped().cautions.get(caution.hazard)]
    return any(one is None or one.says in caution.says for one in models)
