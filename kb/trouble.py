"""What is told to a person when something given to the program can't be used.

A trouble has five parts: a stable code, the place, what is wrong, why that matters, and how to
mend it. It is worded here and nowhere else, so that every message has the same shape.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from kb.signs import visible

_MOST_OF_A_WORD = 400
"""Letters of a word that a message quotes whole: longer ones, and no file's path is one, would bury
the sentence."""
_ENDLESS = re.compile(rf"\S{{{_MOST_OF_A_WORD},}}")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a trouble sits: a file (or other source) with 1-based line and column, 0 if unknown."""

    source: str
    line: int = 0
    column: int = 0

    def __post_init__(self) -> None:
        """A file's name may hold signs that a terminal obeys."""
        object.__setattr__(self, "source", _on_one_line(self.source))

    def __str__(self) -> str:
        if self.line and self.column:
            return f"{self.source}:{self.line}:{self.column}"
        return f"{self.source}:{self.line}" if self.line else self.source


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing wrong, in words for the person who can mend it."""

    code: str
    place: Place
    what: str
    mend: str
    why: str = ""
    grave: bool = True

    def __post_init__(self) -> None:
        """Words quoted from elsewhere may hold signs that a terminal obeys."""
        for name in ("what", "mend", "why"):
            object.__setattr__(self, name, _on_one_line(getattr(self, name)))

    def __str__(self) -> str:
        sentence = self.what.rstrip(". ") + "."
        if self.why:
            sentence += " " + self.why.rstrip(". ") + "."
        if self.mend:
            sentence += " " + self.mend.rstrip(". ") + "."
        return f"{self.place} {self.code} {sentence}"


def _on_one_line(text: str) -> str:
    if len(text) > _MOST_OF_A_WORD:
        text = _ENDLESS.sub(lambda word: f"{word[0][:60]}…", text)
    return visible(text if "\n" not in text else " ".join(text.splitlines()))


class TroubleError(Exception):
    """Raised with one or more troubles; the command line prints them and exits with 2."""

    def __init__(self, troubles: Trouble | Iterable[Trouble]) -> None:
        self.troubles: tuple[Trouble, ...] = (
            (troubles,) if isinstance(troubles, Trouble) else tuple(troubles)
        )
        super().__init__("\n".join(str(trouble) for trouble in self.troubles))
