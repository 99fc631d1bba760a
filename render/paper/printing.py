"""Words on a sheet gathered into few paragraphs for print: a box for each costs the printer time.

Lines of one size and of one distance from each other make a paragraph; each piece keeps its place
to a hundredth of a millimetre, by a skip where words do not follow on of themselves.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from render.drawing.face import Family, load_family
from render.drawing.ink import Words
from render.drawing.markup import number

_SAME = 1e-4
_LEAST_SKIP = 0.004
# Nothing is broken anew: room to spare at the right for rounding.
_SPARE = 2.0


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a line as text, after `skip` mm, empty where it follows on; ink as in CSS."""

    text: str
    skip: str
    bold: bool
    ink: str


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Lines of one size: place, width, size and distance of lines in mm, as text."""

    left: str
    top: str
    width: str
    size: str
    leading: str
    pieces: tuple[Piece, ...]


def paragraphs(words: Iterable[Words]) -> tuple[Paragraph, ...]:
    """The words as paragraphs, in the order given."""
    lines = _lines(words)
    groups: list[list[list[Words]]] = []
    for line in lines:
        if groups and _goes_on(groups[-1], line):
            groups[-1].append(line)
        else:
            groups.append([line])
    family = load_family()
    return tuple(_paragraph(group, group is groups[-1], family) for group in groups)


def _lines(words: Iterable[Words]) -> list[list[Words]]:
    lines: list[list[Words]] = []
    for word in words:
        last = lines[-1][-1] if lines else None
        on = last is not None and abs(last.y - word.y) < _SAME and last.size == word.size
        if last is not None and on and word.x >= last.x + last.width - _SAME:
            lines[-1].append(word)
        else:
            lines.append([word])
    return lines


def _goes_on(group: Sequence[Sequence[Words]], line: Sequence[Words]) -> bool:
    """Whether a line stands below a paragraph as its lines stand below each other."""
    last = group[-1][0]
    pitch = line[0].y - last.y
    if line[0].size != last.size or not 0.5 * last.size < pitch < 1.5 * last.size:
        return False
    return len(group) == 1 or abs(pitch - (last.y - group[-2][0].y)) < _SAME


def _paragraph(group: Sequence[Sequence[Words]], last: bool, family: Family) -> Paragraph:
    first = group[0][0]
    face = family.regular
    content = (face.ascent + face.descent) * first.size
    leading = group[1][0].y - first.y if len(group) > 1 else content
    left = min(line[0].x for line in group)
    right = max(line[-1].x + line[-1].width for line in group)
    # The baseline stands where half of what the leading exceeds the letters is above them.
    top = first.y - face.ascent * first.size - (leading - content) / 2
    pieces = [piece for n, line in enumerate(group) for piece in _pieces(line, left, n, family)]
    if not last:
        pieces[-1] = Piece(pieces[-1].text + " ", *_rest(pieces[-1]))
    return Paragraph(
        number(left), number(top), number(right - left + _SPARE), number(first.size),
        number(leading), tuple(pieces),
    )  # fmt: skip


def _rest(piece: Piece) -> tuple[str, bool, str]:
    return piece.skip, piece.bold, piece.ink


def _pieces(line: Sequence[Words], left: float, place: int, family: Family) -> Iterator[Piece]:
    """The pieces of a line; each but the first of a paragraph begins with a break or a space."""
    reach = left
    if place:
        yield Piece("\n", "", False, "")
    for n, word in enumerate(line):
        space = " " if n else ""
        face = family.face(word.bold)
        skip = word.x - reach - (face.width(" ", word.size) if space else 0.0)
        ink = "" if word.ink == "#000000" else word.ink
        yield Piece(
            space + word.text, number(skip) if abs(skip) > _LEAST_SKIP else "", word.bold, ink
        )
        reach = word.x + word.width
