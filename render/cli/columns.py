"""Text for a terminal: lines that hang under their beginning, and figures as people write them."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterator

WIDEST = 100


def width() -> int:
    """The columns to write in: those of the terminal, `WIDEST` at most."""
    return max(40, min(WIDEST, shutil.get_terminal_size((WIDEST, 24)).columns))


def hanging(text: str, indent: int = 0, under: int = 2) -> Iterator[str]:
    """The text in lines, the first `indent` columns in, the others `under` more."""
    yield from textwrap.wrap(
        text,
        width(),
        initial_indent=" " * indent,
        subsequent_indent=" " * (indent + under),
        break_long_words=False,
        break_on_hyphens=False,
    ) or [""]


def count_words(count: int, word: str, several: str = "") -> str:
    """A number with its noun: 1 fault, 2 faults."""
    return f"{count} {word if count == 1 else several or word + 's'}"
