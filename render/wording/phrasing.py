"""How much a symbol says: in full, or tight where a large chart must go on one sheet.

Tight phrasing moves explanations off the symbols and into panels: what a name in brackets means,
what a supply arrangement consists of, which readings are to be taken again. Nothing is lost, it
only stands once. Signal words, hazards, limits and reading bands stay at their step.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

from render.drawing.signs import in_words
from render.drawing.typeset import fine
from render.wording import bands

Document = Mapping[str, Any]
AGAIN = "↺"
_BRACKET = re.compile(r" \(([^()]+)\)")
_TERMINALS = re.compile(r"^(?:the )?(?:own )?terminals of ", re.IGNORECASE)


class Wording(Enum):
    """How much stands on the symbols."""

    FULL = "full"
    TIGHT = "tight"


@dataclass(slots=True)
class Phrasing:
    """Words things one way; `names` and `supplies` gather what tight wording left out."""

    wording: Wording
    names: dict[str, str] = field(default_factory=dict)
    supplies: dict[str, str] = field(default_factory=dict)

    @property
    def tight(self) -> bool:
        """Whether explanations are kept for the panels."""
        return self.wording is Wording.TIGHT

    def plain(self, text: str, where: str) -> str:
        """A sentence from the knowledge base as it stands on a symbol."""
        if not self.tight:
            return fine(text, where)
        for match in _BRACKET.finditer(text):
            name = _named_before(text[: match.start()])
            if name:
                self.names.setdefault(fine(name, where), fine(match[1], where))
        return fine(_BRACKET.sub("", text), where)

    def supply(self, arrangement: Document) -> str:
        """A supply arrangement; its make-up after a colon goes to the panel when tight."""
        says = words_of(arrangement, str(arrangement["id"]))
        where = f"supply {arrangement['id']}"
        head, colon, rest = says.partition(":")
        if not (self.tight and colon):
            return fine(says, where)
        self.supplies[fine(capital(head), where)] = fine(rest.strip(), where)
        return fine(head, where)

    def branch(self, outcomes: Sequence[Document], where: str) -> str:
        """The words beside a branch: the band alone suffices when tight."""
        if not self.tight:
            return fine(bands.branch(outcomes), where)
        return fine(bands.tight_branch(outcomes), where)

    def again(self, outcomes: Sequence[Document], where: str) -> str:
        """The line for outcomes that no fault in question can show."""
        if self.tight:
            return f"{AGAIN}\u00a0else"
        return fine(f"{AGAIN} {bands.branch(outcomes)}", where)

    def limits(self, points: Iterable[Document], where: str) -> str:
        """The points to measure and the limit they must keep, points of one limit together."""
        by_limit: dict[str, list[str]] = defaultdict(list)
        for point in points:
            limit = bands.limit(point)
            name = str(point["point"])
            if self.tight:
                name = _TERMINALS.sub("", name)
            by_limit[limit].append(self.plain(name, where))
        return fine(
            "; ".join(
                f"{', '.join(dict.fromkeys(n))} {self._below} {lim}" for lim, n in by_limit.items()
            ),
            where,
        )

    def opening_up(self, stores: Iterable[Document], where: str) -> str:
        """The stores that a repair brings into reach, each with the opening that does."""
        by_limit: dict[str, list[str]] = defaultdict(list)
        for store in stores:
            opening = in_words(str(store["opening"]))
            by_limit[bands.limit(store)].append(f"{store['part']} at {opening}")
        words = "; ".join(f"{', '.join(n)} {self._below} {lim}" for lim, n in by_limit.items())
        return fine(f"as you open: {words}", where)

    def each_opening(self, stores: Iterable[Document], where: str) -> Iterator[str]:
        """Each store that a repair brings into reach, with its opening and limit."""
        for store in stores:
            words = f"{in_words(str(store['opening']))}: {store['part']} below {bands.limit(store)}"
            yield fine(words, where)

    def good(self, says: str, where: str) -> str:
        """What a sound unit shows, as it stands at a test; its first clause when tight."""
        words = says.rstrip(". ")
        return fine(f"good: {lower(words.partition(';')[0] if self.tight else words)}", where)

    @property
    def _below(self) -> str:
        return "<" if self.tight else "below"


def _named_before(text: str) -> str:
    """The name that a bracket explains: a designator, or the last two words."""
    words = re.findall(r"[^\s,;:]+", text)
    if not words:
        return ""
    last = str(words[-1])
    if re.search(r"[A-Z0-9]", last) or len(words) == 1:
        return last
    return " ".join(str(word) for word in words[-2:])


def words_of(item: Document, fallback: str) -> str:
    """An item's own words, or its id where it has none."""
    return str(item.get("says") or fallback.replace("-", " ")).rstrip(". ")


def capital(text: str) -> str:
    """The text with a capital first letter."""
    return text[:1].upper() + text[1:]


def lower(text: str) -> str:
    """The text as it goes on inside a line: a name or an abbreviation keeps its capitals."""
    keeps = text[1:2].isupper() or text[1:2].isdigit()
    return text if keeps else text[:1].lower() + text[1:]


def minutes(amount: float) -> str:
    """Bench minutes as they stand at a step: `2.5 min`."""
    return f"{float(amount):g} min"


def ranges(numbers: Sequence[int], prefix: str) -> str:
    """Numbers as read on a chart: `P1–P3 P5`."""
    parts: list[str] = []
    for number in sorted(set(numbers)):
        if parts and number == _last(parts[-1], prefix) + 1:
            first = parts[-1].split("–")[0]
            parts[-1] = f"{first}–{prefix}{number}"
        else:
            parts.append(f"{prefix}{number}")
    return " ".join(parts)


def _last(part: str, prefix: str) -> int:
    return int(part.split("–")[-1].removeprefix(prefix))
