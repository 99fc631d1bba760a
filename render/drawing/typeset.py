"""Words into lines: units, dashes and fractions set properly, lines broken without orphans.

A paragraph is a tuple of runs (text, weight). Lines are broken by dynamic programming over the
words (Knuth and Plass 1981, with squared slack as the only badness): fewest lines first, then
least raggedness, and no last line of one short word. O(words^2) for one width.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import pyphen  # type: ignore[import-untyped]

from render.drawing.face import Face, Family, printable

LEADING = 0.96
NARROW = "\u202f"
_GLUE = "\u00a0"
_UNITS = r"(?:[kMmµnp]?(?:V|A|W|F|H|Hz|Ω|J)|min|mm|ms|s|h|°C|K|%)(?:\s?(?:a\.c\.|d\.c\.|AC|DC))?"
_ORPHAN_LETTERS = 4
_REPLACEMENTS: tuple[tuple[str, str], ...] = (
    (r"\bohms?\b", "Ω"),
    (r"\b([kM])[ -]?Ω", r"\1Ω"),
    (r"(?<=\d)\s?u(?=[FHAV]\b)", f"{NARROW}µ"),
    (r"<=", "≤"),
    (r">=", "≥"),
    (r"->", "→"),
    (r"\.\.\.", "…"),
    (r"\b1/2\b", "½"),
    (r"\b1/4\b", "¼"),
    (r"\b3/4\b", "¾"),
    (r"(?<=\w)'(?=\w)", "’"),
    (r"(?<=s)'(?=\s)", "’"),
    (r"(?<=\s)-(?=\s)", "–"),
    (rf"(?<=\d)[ \u00a0](?={_UNITS}(?![A-Za-z]))", NARROW),
    (r"(?<=[≤≥±<>])\s(?=\d)", NARROW),
)


@dataclass(frozen=True, slots=True)
class Run:
    """Some words in one weight. `ink` is a CSS colour."""

    text: str
    bold: bool = False
    ink: str = "#000000"


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a set line in one weight, `x` mm from the line's left end."""

    x: float
    text: str
    bold: bool
    ink: str


@dataclass(frozen=True, slots=True)
class SetLine:
    """One line of type: its pieces and its width in mm."""

    pieces: tuple[Piece, ...]
    width: float

    @property
    def text(self) -> str:
        """The line's words as read."""
        return "".join(piece.text for piece in self.pieces)


@dataclass(frozen=True, slots=True)
class _Word:
    parts: tuple[tuple[str, bool, str], ...]
    width: float


def fine(text: str, where: str) -> str:
    """`text` with unit spaces, real fractions, dashes and signs; only letters the font has."""
    tidy = re.sub(r"\s+", " ", text).strip()
    for pattern, replacement in _REPLACEMENTS:
        tidy = re.sub(pattern, replacement, tidy)
    return printable(tidy, where)


def width(runs: tuple[Run, ...], family: Family, size: float) -> float:
    """Width in mm of the runs on one line of `size` mm type."""
    return sum(family.face(run.bold).width(run.text, size) for run in runs)


def widest_word(runs: tuple[Run, ...], family: Family, size: float) -> float:
    """Width in mm of the widest word that is not broken."""
    return size * max((word.width for word in _words_in_ems(runs, family)), default=0.0)


def break_lines(
    runs: tuple[Run, ...], family: Family, size: float, room: float
) -> tuple[SetLine, ...]:
    """The runs set in lines no wider than `room` mm; a word is cut only where it is wider."""
    return tuple(
        SetLine(
            tuple(Piece(one.x * size, one.text, one.bold, one.ink) for one in line.pieces),
            line.width * size,
        )
        for line in _lines_in_ems(runs, family, round(room / size, 6))
    )


# A layout asks for the same paragraph at the same width, and in other type, several times over.
@lru_cache(maxsize=40_000)
def _lines_in_ems(runs: tuple[Run, ...], family: Family, room: float) -> tuple[SetLine, ...]:
    """The runs in lines no wider than `room` em; places and widths in em."""
    words: Sequence[_Word] = _words_in_ems(runs, family)
    if any(word.width > room for word in words):
        words = [part for word in words for part in _fit(word, family, 1.0, room)]
    if not words:
        return ()
    space = max(face.width(" ", 1.0) for face in (family.regular, family.strong))
    return tuple(
        _line(words[start:stop], family, 1.0) for start, stop in _best_breaks(words, space, room)
    )


@lru_cache(maxsize=10_000)
def _words_in_ems(runs: tuple[Run, ...], family: Family) -> tuple[_Word, ...]:
    return tuple(_words(runs, family, 1.0))


def _words(runs: tuple[Run, ...], family: Family, size: float) -> list[_Word]:
    words: list[_Word] = []
    open_parts: list[tuple[str, bool, str]] = []

    def close() -> None:
        if open_parts:
            words.append(_word(tuple(open_parts), family, size))
            open_parts.clear()

    for run in runs:
        for index, stretch in enumerate(run.text.split(" ")):
            if index:
                close()
            if stretch:
                open_parts.append((stretch, run.bold, run.ink))
    close()
    return words


def _word(parts: tuple[tuple[str, bool, str], ...], family: Family, size: float) -> _Word:
    return _Word(parts, sum(family.face(bold).width(text, size) for text, bold, _ in parts))


def _fit(word: _Word, family: Family, size: float, room: float) -> Iterator[_Word]:
    text = "".join(part for part, _, _ in word.parts)
    if word.width <= room or text.startswith(_GLUE):
        yield word
        return
    _, bold, ink = word.parts[0]
    face = family.face(bold)
    for piece in _cut(text, face, size, room):
        yield _Word(((piece, bold, ink),), face.width(piece, size))


def _cut(text: str, face: Face, size: float, room: float) -> Iterator[str]:
    rest = text
    while rest and face.width(rest, size) > room:
        stop, mark = _cut_place(rest, face, size, room)
        yield rest[:stop] + mark
        rest = rest[stop:]
    if rest:
        yield rest


def _cut_place(text: str, face: Face, size: float, room: float) -> tuple[int, str]:
    for place in reversed([m.end() for m in re.finditer(r"[-–/_.:]", text[:-1])]):
        if face.width(text[:place], size) <= room:
            return place, ""
    for place in reversed(_hyphenator().positions(text)):
        if face.width(text[:place] + "-", size) <= room:
            return place, "-"
    fits = [n for n in range(1, len(text)) if face.width(text[:n], size) <= room]
    return (max(fits) if fits else 1), ""


@lru_cache(maxsize=1)
def _hyphenator() -> pyphen.Pyphen:
    return pyphen.Pyphen(lang="en_GB", left=3, right=3)


def _best_breaks(words: Sequence[_Word], space: float, room: float) -> list[tuple[int, int]]:
    count = len(words)
    wide = [word.width + space for word in words]
    fewest, unevenness, begin = [0] * (count + 1), [0.0] * (count + 1), [0] * (count + 1)
    for stop in range(1, count + 1):
        lines, least, first = count + 1, math.inf, stop - 1
        length = -space
        for start in range(stop - 1, -1, -1):
            length += wide[start]
            if length > room + 1e-9 and start < stop - 1:
                break
            if fewest[start] + 1 > lines:
                continue
            slack = (room - length) ** 2 if stop < count else _last_slack(words, start, stop)
            if (fewest[start] + 1, unevenness[start] + slack) < (lines, least):
                lines, least, first = fewest[start] + 1, unevenness[start] + slack, start
        fewest[stop], unevenness[stop], begin[stop] = lines, least, first
    breaks: list[tuple[int, int]] = []
    stop = count
    while stop:
        breaks.append((begin[stop], stop))
        stop = begin[stop]
    return breaks[::-1]


def _last_slack(words: Sequence[_Word], start: int, stop: int) -> float:
    letters = sum(len(part) for part, _, _ in words[start].parts)
    alone = stop - start == 1 and start > 0 and letters <= _ORPHAN_LETTERS
    return 1e4 if alone else 0.0


def _line(words: Sequence[_Word], family: Family, size: float) -> SetLine:
    stretches: list[tuple[str, bool, str]] = []
    for index, word in enumerate(words):
        for part, (text, bold, ink) in enumerate(word.parts):
            gap = " " if index and not part else ""
            if stretches and stretches[-1][1:] == (bold, ink):
                stretches[-1] = (stretches[-1][0] + gap + text, bold, ink)
            else:
                if gap:
                    before = stretches[-1]
                    stretches[-1] = (before[0] + gap, *before[1:])
                stretches.append((text, bold, ink))
    pieces: list[Piece] = []
    across = 0.0
    for text, bold, ink in stretches:
        pieces.append(Piece(across, text.rstrip(" "), bold, ink))
        across += family.face(bold).width(text, size)
    return SetLine(tuple(pieces), across)
