"""Where a part or a test point is on a board that nobody has a drawing of, in words.

Paper, page and walk say it from here, so that all say the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from render.wording.phrasing import capital

Note = Mapping[str, Any]
TITLE = "Where is it?"
NOT_THE_BOARDS = (
    "Designators are this chart’s, not the board’s: the board may number its parts otherwise. "
    "Go by looks, marking and pins."
)
BY_STAGE = "Stage by stage"
COLUMNS = ("Name", "What it looks like", "Marking", "Which chip pin")
NOTHING_SAID = "–"
_OUTSIDE = "outside"
_MARKED = "marked "


@dataclass(frozen=True, slots=True)
class Location:
    """A line of the table: designator, what it is and looks like, marking, chip pin."""

    designator: str
    looks: str
    marking: str
    pin: str

    @property
    def cells(self) -> tuple[str, str, str, str]:
        """The line as it stands in the table; where nobody says anything, a dash."""
        marking = self.marking.replace(_MARKED, "")
        return (
            self.designator, self.looks, marking or NOTHING_SAID, self.pin or NOTHING_SAID,
        )  # fmt: skip

    @property
    def sentence(self) -> str:
        """The line as a sentence."""
        words = (self.looks, self.pin, self.marking)
        return f"{self.designator}: {'; '.join(text for text in words if text)}."


@dataclass(frozen=True, slots=True)
class StageTable:
    """A stage in words, and where its parts and then its test points are."""

    stage: str
    says: str
    lines: tuple[Location, ...]


def tables(
    stages: Sequence[Note], parts: Sequence[Note], points: Sequence[Note]
) -> tuple[StageTable, ...]:
    """A table for each stage inside the unit that has any part or point of which more is known, by
    the notes of a model document."""
    listing = []
    for stage in stages:
        own = [_of_part(part) for part in parts if part["stage"] == stage["id"]]
        own += [_of_point(point) for point in points if point["stage"] == stage["id"]]
        if own and stage.get("family") != _OUTSIDE:
            says = capital(str(stage.get("says") or stage["id"]))
            listing.append(StageTable(str(stage["id"]), says, tuple(own)))
    return tuple(listing)


def _of_part(part: Note) -> Location:
    says, looks = str(part["says"]), str(part.get("looks") or "")
    return Location(
        str(part["id"]), f"{says}; {looks}" if looks else says, str(part.get("marking") or ""),
        str(part.get("pin") or ""),
    )  # fmt: skip


def _of_point(point: Note) -> Location:
    return Location(str(point["id"]), str(point["says"]), "", str(point.get("where") or ""))
