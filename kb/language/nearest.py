"""The word that somebody probably meant: how a message proposes one."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

_ALIKE = 0.65
"""How like two words must be, from 0 to 1, to be taken for one misspelt: `opne` and `open` are
0.75 alike, `12O` and `120` 0.67."""
_SLIPS = 2
"""How many letters may be lacking, too many or wrong in a word to be sure that it is a slip: a
`transistor` is no misspelt `resistor`, and `isolates-signal` none of `isolates`. Our choice."""
_FEW = 12
"""Of how many words a message lists all."""


def alike(word: str, words: Iterable[str], most: int = 3) -> list[str]:
    """The words like this one, the most alike first."""
    return difflib.get_close_matches(str(word), list(words), most, _ALIKE)


def near(word: str, words: Iterable[str]) -> str:
    """The word most like this one; empty where none is like it."""
    return next(iter(alike(word, words, 1)), "")


def slip_of(word: str, words: Iterable[str]) -> str:
    """The word that this one is a slip of the keys for; empty where it is likely one of its own."""
    return next((other for other in alike(word, words) if _slips(word, other) <= _SLIPS), "")


def _slips(word: str, other: str) -> int:
    """Letters to put in, leave out or change to make one word of the other. O(letters squared)."""
    before = list(range(len(other) + 1))
    for row, letter in enumerate(word, 1):
        now = [row]
        for column, wanted in enumerate(other, 1):
            changed = before[column - 1] + (letter != wanted)
            now.append(min(before[column] + 1, now[-1] + 1, changed))
        before = now
    return before[-1]


def mend(word: str, words: Iterable[str], otherwise: str = "") -> str:
    """How to mend a word that is none of these: the nearest first, then the others if few.

    `otherwise` is what else can be done, such as `add it under places`.
    """
    choices = list(words)
    nearest = near(word, choices)
    if nearest:
        says = f"Write '{nearest}'"
        others = [choice for choice in choices if choice != nearest]
        if others and len(choices) <= _FEW:
            says += f", or one of: {', '.join(others)}"
    else:
        says = f"Write one of: {', '.join(choices)}" if choices else ""
    parts = [part for part in (says, otherwise) if part]
    return ", or ".join(parts) if says else otherwise.capitalize()
