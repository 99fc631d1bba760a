"""The four marks of the bench: how it stands, in one word, for paper, page and terminal alike.

A mark follows from the energy of the supply arrangement and from whether the unit is opened, and
from nothing else. It stands for the cautions that hold as long as the bench stands so: they are
told in full where the mark begins and not again. Each mark has a word and, where it is drawn, a
pattern of its own; colour is never needed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

Document = Mapping[str, Any]


class Pattern(Enum):
    """How a mark is drawn: from nothing at all to a pattern that can't be overlooked."""

    BARE = "bare"
    OPEN = "open"
    DOTTED = "dotted"
    ZIGZAG = "zigzag"


@dataclass(frozen=True, slots=True)
class BenchMark:
    """A way the bench can stand: its word, what it means for the hands, its pattern."""

    word: str
    says: str
    pattern: Pattern


SHUT = BenchMark("SHUT", "unplugged, closed, not measured: hands on its outside only", Pattern.BARE)
DEAD = BenchMark("DEAD", "unplugged, open, every store in reach measured", Pattern.OPEN)
LOW = BenchMark("LOW", "on a current-limited bench source", Pattern.DOTTED)
LIVE_CLOSED = BenchMark("LIVE, closed", "on mains: unit whole and closed", Pattern.ZIGZAG)
LIVE = BenchMark("LIVE", "energised: hands off", Pattern.ZIGZAG)

MILDEST_FIRST = (SHUT, DEAD, LOW, LIVE_CLOSED, LIVE)
_BARE_WORDS = {"elv": LOW, "none": DEAD}


def mark(energy: str, *, closed_only: bool, inside: bool) -> BenchMark:
    """The mark of a bench fed so; `inside` tells whether hands can get inside the unit."""
    if energy in _BARE_WORDS:
        return SHUT if energy == "none" and not inside else _BARE_WORDS[energy]
    return LIVE_CLOSED if closed_only else LIVE


def gravest(marks: Iterable[BenchMark]) -> BenchMark:
    """Of several marks the one to be told where it is not known which of them holds."""
    return max(marks, key=MILDEST_FIRST.index)


@dataclass(frozen=True, slots=True)
class Bench:
    """The supply arrangements and openings of a model document, as far as marks need them."""

    arrangements: Mapping[str, Document]
    inside: frozenset[str]

    @staticmethod
    def of(model: Document) -> Bench:
        """The bench of a model document; an opening counts unless it says that it opens nothing."""
        return Bench(
            {a["id"]: a for a in model["supply"]["arrangements"]},
            frozenset(o["id"] for o in model.get("openings", ()) if o.get("inside", True)),
        )

    def mark(self, supply: str, openings: Collection[str]) -> BenchMark:
        """The mark of the bench with that supply and those openings made."""
        arrangement = self.arrangements[supply]
        return mark(
            str(arrangement["energy"]),
            closed_only=bool(arrangement.get("closed_only")),
            inside=not self.inside.isdisjoint(openings),
        )

    def is_energised(self, supply: str) -> bool:
        """Whether that supply feeds the unit at all."""
        return bool(self.arrangements[supply]["energy"] != "none")
