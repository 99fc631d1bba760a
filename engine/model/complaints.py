"""Several complaints of one unit, as one word: `dim+hum-buzz` is what is told by two sentences."""

from __future__ import annotations

from collections.abc import Iterable

_AND = "+"


def complaints_of(complaint: str | None) -> tuple[str, ...]:
    """The complaints that a word tells, each once, in its order; none of None."""
    words = (complaint or "").split(_AND)
    return tuple(dict.fromkeys(word.strip() for word in words if word.strip()))


def as_one(complaints: Iterable[str]) -> str | None:
    """The word of these complaints; None where there are none."""
    return _AND.join(dict.fromkeys(complaints)) or None


def in_words(complaint: str | None) -> str:
    """The complaints as people read them: `dim and hum buzz`; empty where there are none."""
    return " and ".join(word.replace("-", " ") for word in complaints_of(complaint))
