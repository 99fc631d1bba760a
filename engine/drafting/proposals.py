"""What usually stands in a place, told by the topologies that are known already."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from kb.language.knowledge import Knowledge
from kb.language.schema import PartFact

_LETTERS = re.compile(r"[A-Za-z]+")


@dataclass(frozen=True, slots=True)
class Proposal:
    """A part as another topology has it in the same place, and how often it stands there."""

    name: str
    part: PartFact
    seen: int

    @property
    def letters(self) -> str:
        """The letters its designator begins with."""
        return _letters(self.name)

    def __str__(self) -> str:
        marks = (self.part.value, self.part.volts and f"{self.part.volts} type")
        return " ".join((self.part.kind, ", ".join(mark for mark in marks if mark))).strip()


def proposals(knowledge: Knowledge, stage_kind: str, place: str) -> tuple[Proposal, ...]:
    """Parts seen in this place of this kind of stage, the commonest kind first, one of each kind.

    Where the stage is new, the part its kind calls usual, then parts seen in that place of any
    stage. Empty if nobody has it.
    """
    parts = list(_examples(knowledge, stage_kind, place)) or list(
        _usual(knowledge, stage_kind, place)
    )
    parts = parts or list(_examples(knowledge, None, place))
    counts = Counter(part.kind for _, part in parts)
    first: dict[str, Proposal] = {}
    for name, part in parts:
        first.setdefault(part.kind, Proposal(name, part, counts[part.kind]))
    return tuple(sorted(first.values(), key=lambda proposal: -proposal.seen))


def letters(knowledge: Knowledge, part_kind: str) -> str:
    """The letters that designators of this kind mostly begin with; X where nobody has one."""
    counts = Counter(
        _letters(name)
        for topology in knowledge.topologies.values()
        for stage in topology.stages.values()
        for name, part in stage.parts.items()
        if part.kind == part_kind
    )
    return counts.most_common(1)[0][0] if counts else _symbolic(knowledge, part_kind)


def _symbolic(knowledge: Knowledge, part_kind: str) -> str:
    """The letters that netlists give this kind; X where they have none."""
    first = (s.letters[0] for s in knowledge.symbols.values() if s.kind == part_kind and s.letters)
    return next(first, "X")


def designator(beginning: str, names: Collection[str]) -> str:
    """The first designator with these letters that is not taken: R1, R2 ...; words stay bare."""
    if len(beginning) > 3 and beginning not in names:
        return beginning
    candidates = (f"{beginning}{number}" for number in itertools.count(1))
    return next(name for name in candidates if name not in names)


def _letters(name: str) -> str:
    match = _LETTERS.match(name)
    return match.group() if match else "X"


def _examples(
    knowledge: Knowledge, stage_kind: str | None, place: str
) -> Iterator[tuple[str, PartFact]]:
    for topology in knowledge.topologies.values():
        for stage in topology.stages.values():
            if stage_kind is None or stage.kind == stage_kind:
                yield from ((name, p) for name, p in stage.parts.items() if p.place == place)


def _usual(knowledge: Knowledge, stage_kind: str, place: str) -> Iterator[tuple[str, PartFact]]:
    kind = knowledge.stages[stage_kind].usual.get(place)
    if kind is not None:
        yield letters(knowledge, kind), PartFact(kind=kind, place=place)
