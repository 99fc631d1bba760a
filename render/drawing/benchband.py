"""The bench's mark on a symbol: a band down its left edge, told apart by its pattern alone.

Zigzag where it is live, dots on a low-voltage source, a plain open band where it is dead and
opened, no band while it is shut. Black on white, so that any printer will do.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from render.drawing.bench_marks import BenchMark, Pattern
from render.drawing.ink import Box, Stroke
from render.drawing.outlines import Shape, Type
from render.drawing.typeset import NARROW, Run

# Almost white: a line's pieces are told apart by their ink, and DANGER stands in white.
MARK_INK = "#FEFEFE"
_WIDTH_EMS = 0.42
_LINE_MM = 0.2
_ZIGZAG_EMS, _ZIGZAG_PITCH = 0.12, 0.36
_DOT_EMS = 0.17


def unbroken(mark: BenchMark) -> str:
    """The mark's word, kept on one line."""
    return mark.word.replace(" ", "\u00a0")


def mark_runs(mark: BenchMark) -> tuple[Run, ...]:
    """The mark's word as it stands in a symbol, on a ground of its own.

    A hair of room behind it keeps the ground off the words.
    """
    return Run(unbroken(mark), bold=True, ink=MARK_INK), Run(NARROW + " ")


def band_width(mark: BenchMark | None, type_: Type) -> float:
    """How much room the band takes at the left of a symbol's words, mm."""
    bare = mark is None or mark.pattern is Pattern.BARE
    return 0.0 if bare else _WIDTH_EMS * type_.body


def band(mark: BenchMark | None, shape: Shape, box: Box, type_: Type) -> Iterator[Stroke]:
    """The band of a symbol of that shape in `box`, following its left edge."""
    wide = band_width(mark, type_)
    if mark is None or not wide:
        return
    top, foot, levels = _levels(shape, box, type_, wide)
    edge = [shape.edge(box, type_, y) for y in levels]
    # Round ends would crowd the words; there the band ends in a straight line.
    straight = shape.name == "terminator"
    inner = [box.x + wide if straight else x + wide for x in edge]
    yield _line(list(zip(inner, levels, strict=True)), _LINE_MM)
    if mark.pattern is Pattern.ZIGZAG:
        keep = _ZIGZAG_EMS * type_.body
        pairs = zip(edge, inner, strict=True)
        swing = [a + keep if n % 2 else b - keep for n, (a, b) in enumerate(pairs)]
        points = list(zip(swing, levels, strict=True))
        yield _line(_within(points, top, foot), keep)
    elif mark.pattern is Pattern.DOTTED:
        dot = _DOT_EMS * type_.body
        middle = [((a + b) / 2, y) for a, b, y in zip(edge, inner, levels, strict=True)]
        yield _line(_within(middle, top, foot), dot, (dot, dot))


def _levels(
    shape: Shape, box: Box, type_: Type, wide: float
) -> tuple[float, float, Sequence[float]]:
    """Where the band begins and ends, and the heights at which it is drawn.

    An even number of steps puts one at half height, where a hexagon has its corner.
    """
    top, foot = box.y, box.bottom
    if shape.name == "terminator":
        r = shape.edge(box, type_, box.y) - box.x
        short = r - math.sqrt(max(0.0, r * r - max(0.0, r - wide) ** 2))
        top, foot = top + short, foot - short
    steps = 2 * max(2, round((foot - top) / (2 * _ZIGZAG_PITCH * type_.body)))
    return top, foot, [top + (foot - top) * n / steps for n in range(steps + 1)]


def _within(
    points: list[tuple[float, float]], top: float, foot: float
) -> list[tuple[float, float]]:
    """The points, their ends drawn in a little so that thick lines stay inside the outline."""
    short = min(0.25 * (foot - top), 0.5)
    (first, _), *_, (last, _) = points
    return [(first, top + short), *points[1:-1], (last, foot - short)]


def _line(points: list[tuple[float, float]], weight: float, dash: tuple[float, ...] = ()) -> Stroke:
    (x, y), *rest = points
    return Stroke((("M", x, y), *(("L", *point) for point in rest)), weight, dash=dash)
