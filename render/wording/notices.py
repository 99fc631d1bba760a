"""A caution of the model document in words: signal word, hazard, full text and registered sign."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from render.drawing import signs
from render.drawing.typeset import fine
from render.wording.script import Document
from render.wording.signals import gravity


@dataclass(frozen=True, slots=True)
class Notice:
    """A caution where it applies; `hazard` as it goes on inside a line."""

    id: str
    signal: str
    hazard: str
    says: str
    sign: str


def notice(caution: Document) -> Notice:
    """A caution in words."""
    where = f"caution {caution['id']}"
    hazard, signal = str(caution["hazard"]), str(caution["signal"]).upper()
    return Notice(
        id=str(caution["id"]),
        signal=signal,
        hazard=fine(signs.in_words(hazard), where),
        says=fine(str(caution["says"]), where),
        sign=signs.for_hazard(hazard, signal),
    )


def gravest_first(notices: Iterable[Notice]) -> tuple[Notice, ...]:
    """By signal word; within one as they come."""
    return tuple(sorted(notices, key=lambda one: gravity(one.signal)))
