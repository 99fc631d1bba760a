"""Outlines of the flowchart symbols of ISO 5807, and the paths that drawings are made of."""

from __future__ import annotations

import math
from dataclasses import dataclass

from render.drawing.face import Family
from render.drawing.ink import Box, Stroke

PAD_X, PAD_Y = 0.28, 0.13
OUTLINE = 0.35
_SLANT_EMS, _NOTCH_EMS = 0.6, 0.62


@dataclass(frozen=True, slots=True)
class Type:
    """Type sizes in mm (em, not capital): of everything, and of what the hands do."""

    family: Family
    body: float
    hands: float

    @property
    def offset(self) -> float:
        """Where flow lines enter and leave a stack, mm from its left edge."""
        return 1.62 * self.body

    @property
    def diamond(self) -> tuple[float, float]:
        """Half width and half height of the decision diamond, mm."""
        return 1.42 * self.body, 1.06 * self.body

    @property
    def circle(self) -> float:
        """Radius of a connector circle, mm."""
        return 1.25 * self.body


@dataclass(frozen=True, slots=True)
class Shape:
    """An ISO 5807 symbol: its name, how far words keep off its sides, its outline. A rectangle."""

    name: str

    def inset(self, type_: Type, height: float) -> float:
        """How far words stay off the sides for the outline's sake, mm."""
        return 0.0

    def edge(self, box: Box, type_: Type, y: float) -> float:
        """x of the outline's left side at height y."""
        return box.x

    def outline(self, box: Box, type_: Type) -> Stroke:
        """The symbol's outline in `box`."""
        return Stroke(rectangle_path(box), OUTLINE)


class _Manual(Shape):
    def inset(self, type_: Type, height: float) -> float:
        return 0.32 * type_.body

    def edge(self, box: Box, type_: Type, y: float) -> float:
        return box.x + _SLANT_EMS * type_.body * (y - box.y) / box.h

    def outline(self, box: Box, type_: Type) -> Stroke:
        slant = _SLANT_EMS * type_.body
        path = (
            ("M", box.x, box.y),
            ("L", box.right, box.y),
            ("L", box.right - slant, box.bottom),
            ("L", box.x + slant, box.bottom),
            ("Z",),
        )
        return Stroke(path, OUTLINE)


class _Preparation(Shape):
    def inset(self, type_: Type, height: float) -> float:
        return 0.36 * type_.body

    def edge(self, box: Box, type_: Type, y: float) -> float:
        half = box.h / 2
        return box.x + _NOTCH_EMS * type_.body * abs(y - box.y - half) / half

    def outline(self, box: Box, type_: Type) -> Stroke:
        notch = _NOTCH_EMS * type_.body
        middle = box.y + box.h / 2
        path = (
            ("M", box.x + notch, box.y),
            ("L", box.right - notch, box.y),
            ("L", box.right, middle),
            ("L", box.right - notch, box.bottom),
            ("L", box.x + notch, box.bottom),
            ("L", box.x, middle),
            ("Z",),
        )
        return Stroke(path, OUTLINE)


class _Terminator(Shape):
    def radius(self, type_: Type, height: float) -> float:
        """Ends are half circles around two lines of type; higher ones keep that radius."""
        return min(height / 2, 1.3 * type_.body)

    def inset(self, type_: Type, height: float) -> float:
        r = self.radius(type_, height)
        reach = max(0.0, r - (PAD_Y + 0.12) * type_.body)
        return max(0.0, r - math.sqrt(max(0.0, r * r - reach * reach)) - 0.25 * PAD_X * type_.body)

    def edge(self, box: Box, type_: Type, y: float) -> float:
        r = self.radius(type_, box.h)
        over = max(0.0, r - min(y - box.y, box.bottom - y))
        return box.x + r - math.sqrt(max(0.0, r * r - over * over))

    def outline(self, box: Box, type_: Type) -> Stroke:
        return Stroke(round_path(box, self.radius(type_, box.h)), OUTLINE * 1.6)


SHAPES: dict[str, Shape] = {
    "test": Shape("process"),
    "again": Shape("process"),
    "setup": _Preparation("preparation"),
    "make-safe": _Manual("manual operation"),
    "verdict": _Terminator("terminator"),
    "seldom": _Terminator("terminator"),
    "start": _Terminator("terminator"),
}


def outline_of(kind: str, box: Box, type_: Type) -> Stroke:
    """The outline that parts of that kind have, in `box`."""
    return SHAPES[kind].outline(box, type_)


def diamond_path(box: Box) -> tuple[tuple[str | float, ...], ...]:
    """A diamond as path segments."""
    cx, cy = box.x + box.w / 2, box.y + box.h / 2
    return (("M", cx, box.y), ("L", box.right, cy), ("L", cx, box.bottom), ("L", box.x, cy), ("Z",))


def rectangle_path(box: Box) -> tuple[tuple[str | float, ...], ...]:
    """A rectangle as path segments."""
    return (
        ("M", box.x, box.y),
        ("L", box.right, box.y),
        ("L", box.right, box.bottom),
        ("L", box.x, box.bottom),
        ("Z",),
    )


def round_path(box: Box, r: float) -> tuple[tuple[str | float, ...], ...]:
    """A rectangle with corners of radius `r`; a stadium if `r` is half its height."""
    return (
        ("M", box.x + r, box.y),
        ("L", box.right - r, box.y),
        ("A", r, r, 0, 0, 1, box.right, box.y + r),
        ("L", box.right, box.bottom - r),
        ("A", r, r, 0, 0, 1, box.right - r, box.bottom),
        ("L", box.x + r, box.bottom),
        ("A", r, r, 0, 0, 1, box.x, box.bottom - r),
        ("L", box.x, box.y + r),
        ("A", r, r, 0, 0, 1, box.x + r, box.y),
        ("Z",),
    )


def circle_path(cx: float, cy: float, r: float) -> Stroke:
    """A circle as a stroke."""
    return Stroke(
        (
            ("M", cx - r, cy),
            ("A", r, r, 0, 1, 1, cx + r, cy),
            ("A", r, r, 0, 1, 1, cx - r, cy),
            ("Z",),
        ),
        OUTLINE,
    )
