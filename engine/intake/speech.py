"""What people type of a lamp, taken apart: words in their ground form, what is denied, word pairs.

Plain English in a few rules, so that whoever reads an explanation finds their own words in it.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

# A contraction counts as a plain "not", however it is spelt.
_NOT = re.compile(
    r"\b(?:wo|do|does|dos|did|is|was|are|were|ca|could|has|have|would|should)n?['’´` ]?n?t\b"
    r"|\b(?:cannot|no longer|never|no more|fail(?:s|ed)? to|refuses? to|unable to)\b"
)  # fmt: skip
_ANY_MORE = re.compile(r"\bany ?more\b")
_CLAUSE = re.compile(r"[.,;:!?()\n]|\s[-–—]\s|\b(?:but|and|then|or|so|because|although|though)\b")
_WORD = re.compile(r"[a-zà-ÿ]+")
_DENIALS = ("not", "no", "nothing", "without")
_REACH = 3
"""Words after a denial that it speaks of: "not turn on any" is denied, what comes later is not."""
_EMPTY = frozenset(
    word
    for line in (
        "a an the it this that these those there i me my we us our you he she they them who which",
        "is are was were be been being am do does did has have had will would can could should may",
        "might to of for with by from as what if while just really very quite also too any please",
        "again im ive s t d m re ll ve",
    )
    for word in line.split()
)
_PARTICLES = frozenset(("on", "off", "in", "out", "up", "down", "at", "after", "when", "over"))
"""They say something beside another word only, or denied."""
_GROUND = {
    "lit": "light", "lights": "light", "blew": "blow", "blown": "blow", "went": "go", "goes": "go",
    "gone": "go", "came": "come", "broke": "break", "broken": "break", "burnt": "burn",
    "burned": "burn", "stuck": "stick", "fell": "fall", "fallen": "fall", "kept": "keep",
    "died": "die", "dies": "die", "dying": "die", "dead": "dead", "torn": "tear", "bent": "bend",
    "held": "hold", "made": "make", "makes": "make", "making": "make", "led": "led", "leds": "led",
    "dimmed": "dim", "dims": "dim", "dimming": "dim", "stopped": "stop", "stopping": "stop",
    "bulbs": "bulb", "popped": "pop", "popping": "pop", "tripped": "trip", "tripping": "trip",
    "snapped": "snap", "charging": "charge", "charged": "charge", "charges": "charge",
    "holding": "hold", "working": "work", "pulses": "pulse", "pulsing": "pulse",
    "noisy": "noise", "itself": "itself", "its": "", "smelt": "smell", "chews": "chew",
    "flashes": "flashing", "flashing": "flashing", "less": "less", "buzzes": "buzz",
    "fuses": "fuse", "fused": "fuse",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Word:
    """A word in its ground form and as it was typed; `is_denied` after a "not"."""

    ground: str
    spelling: str
    is_denied: bool = False

    @property
    def feature(self) -> str:
        """The ground form, marked where it is denied."""
        return f"not {self.ground}" if self.is_denied else self.ground


def words(text: str) -> tuple[tuple[Word, ...], ...]:
    """The words that say something, clause by clause."""
    plain = _NOT.sub(" not ", _ANY_MORE.sub(" ", text.casefold()))
    clauses = (tuple(_clause(part)) for part in _CLAUSE.split(plain) if part)
    return tuple(clause for clause in clauses if clause)


def features(clauses: Sequence[Sequence[Word]]) -> dict[str, tuple[str, int]]:
    """Single words and pairs of neighbours, one word between them at most; each with the words as
    typed and the clause (from 0) that first has it."""
    marks: dict[str, tuple[str, int]] = {}
    for number, clause in enumerate(clauses):
        for place, word in enumerate(clause):
            if word.is_denied or word.ground not in _PARTICLES:
                marks.setdefault(word.feature, (_as_typed(word), number))
            for other in clause[place + 1 : place + 3]:
                if other.ground != word.ground:
                    pair = f"{word.feature} {other.ground}"
                    marks.setdefault(pair, (f"{_as_typed(word)} … {other.spelling}", number))
    return marks


def mend(
    clauses: Sequence[Sequence[Word]], vocabulary: Collection[str]
) -> Iterator[tuple[Word, ...]]:
    """The same words; one that is not known is taken for the known one that it is mistyped of."""
    by_letter: dict[str, list[str]] = {}
    for name in vocabulary:
        by_letter.setdefault(name[:1], []).append(name)
    for clause in clauses:
        yield tuple(_mend(word, vocabulary, by_letter) for word in clause)


def _mend(word: Word, vocabulary: Collection[str], by_letter: dict[str, list[str]]) -> Word:
    size = len(word.ground)
    if word.ground in vocabulary or size < 4:
        return word
    most = 1 if size < 8 else 2
    near = [
        (distance(word.ground, name, most), name)
        for name in by_letter.get(word.ground[:1], ())
        if abs(len(name) - size) <= most and len(name) >= 4
    ]
    best = min(near, default=(most + 1, ""))
    return Word(best[1], word.spelling, word.is_denied) if best[0] <= most else word


def distance(one: str, other: str, most: int) -> int:
    """How many letters are wrong, missing, too many or swapped with their neighbour (optimal string
    alignment); `most` + 1 where it is more than that."""
    before: list[int] = []
    above = list(range(len(other) + 1))
    for row, letter in enumerate(one, start=1):
        line = [row]
        for column, mark in enumerate(other, start=1):
            cost = min(above[column] + 1, line[-1] + 1, above[column - 1] + (letter != mark))
            if row > 1 and column > 1 and letter == other[column - 2] and one[row - 2] == mark:
                cost = min(cost, before[column - 2] + 1)
            line.append(cost)
        if min(line) > most:
            return most + 1
        before, above = above, line
    return above[-1]


def _clause(text: str) -> Iterator[Word]:
    reach = 0
    for spelling in _WORD.findall(text):
        if spelling in _DENIALS:
            reach = _REACH
            if spelling == "nothing":
                yield Word(spelling, spelling)
            continue
        if spelling in _EMPTY:
            continue
        ground = _ground(spelling)
        if ground:
            yield Word(ground, spelling, reach > 0)
            reach -= 1


def _ground(spelling: str) -> str:
    """The word without its ending: turning, turns, turned are one."""
    if spelling in _GROUND:
        return _GROUND[spelling]
    for ending in ("ing", "ed", "es", "s", "ly"):
        stem = spelling.removesuffix(ending)
        if stem != spelling and len(stem) >= 3 and not (ending == "s" and stem.endswith("s")):
            if ending == "es" and not stem.endswith(("s", "x", "sh", "ch", "z")):
                stem += "e"
            if len(stem) > 3 and stem[-1] == stem[-2] and ending in ("ing", "ed"):
                stem = stem if stem[-2:] in ("ll", "ss", "zz") else stem[:-1]
            return stem.removesuffix("e") if len(stem) > 4 else stem
    return spelling.removesuffix("e") if len(spelling) > 4 else spelling


def _as_typed(word: Word) -> str:
    return f"not … {word.spelling}" if word.is_denied else word.spelling
