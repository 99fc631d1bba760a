"""Scales, round numbers to mark on them, and words and lines set in millimetres."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from render.drawing.face import load_family, printable
from render.drawing.ink import Stroke, Words

GREY = "#666666"


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale: `low` lies at `start` mm, `high` at `end` mm."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Where a value lies, mm; what is off the scale lies at its end."""
        share = (value - self.low) / (self.high - self.low)
        return self.start + min(1.0, max(0.0, share)) * (self.end - self.start)

    def marks(self, most: int = 7) -> Iterator[float]:
        """Round numbers on the scale: steps of 1, 2 or 5 times a power of ten."""
        raw = (self.high - self.low) / most
        power = 10.0 ** math.floor(math.log10(raw))
        step = next(power * by for by in (1.0, 2.0, 5.0, 10.0) if power * by >= raw)
        number = math.ceil(self.low / step - 1e-9)
        while number * step <= self.high + 1e-9:
            yield number * step
            number += 1


def words(
    text: str, x: float, y: float, size: float, *, bold: bool = False, ink: str = "#000000"
) -> Words:
    """Type whose left end is at x, its baseline at y; mm."""
    plain = printable(text, "the graph")
    return Words(x, y, size, plain, load_family().face(bold).width(plain, size), bold, ink)


def centre(text: str, x: float, y: float, size: float) -> Words:
    """Type with its middle at x."""
    set_words = words(text, 0.0, y, size)
    return set_words.move(x - set_words.width / 2.0, 0.0)


def ending(text: str, x: float, y: float, size: float) -> Words:
    """Type that ends at x."""
    set_words = words(text, 0.0, y, size)
    return set_words.move(x - set_words.width, 0.0)


def line(
    points: Sequence[tuple[float, float]],
    *,
    weight: float = 0.25,
    dash: tuple[float, ...] = (),
    ink: str = "#000000",
) -> Stroke:
    """A line through points, mm."""
    path: list[tuple[str | float, ...]] = [
        ("M" if n == 0 else "L", x, y) for n, (x, y) in enumerate(points)
    ]
    return Stroke(tuple(path), weight, ink, dash=dash)


def box(x: float, y: float, w: float, h: float, *, fill: str = "none") -> Stroke:
    """A rectangle."""
    corners: Iterable[tuple[float, float]] = ((x + w, y), (x + w, y + h), (x, y + h))
    path: list[tuple[str | float, ...]] = [("M", x, y), *(("L", a, b) for a, b in corners), ("Z",)]
    return Stroke(tuple(path), 0.3, fill=fill)
