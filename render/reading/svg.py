"""The picture of a reading as SVG: one hill for each fault, the reading a line through all.

Own look: paper white, ink, one tint for the healthy band; every row says in words what it is, so
that nothing hangs on colour. Sizes in CSS pixels; contrast of text at least 4.5 (WCAG 2.2, 1.4.3).
"""

from __future__ import annotations

from collections.abc import Mapping

from render.drawing import markup
from render.drawing.markup import Attributes, element
from render.reading.figure import Figure, Row
from render.wording.odds import percent

WIDE, LEFT, RIGHT, TOP, ROW = 680, 176, 56, 46, 46
INK, QUIET, HILL, TINT, MARK = "#1d2733", "#4d5966", "#9aa9b8", "#dcebdd", "#a33a12"


def svg(picture: Figure, title: str, describes: str) -> str:
    """The whole picture; `title` and `describes` are for who cannot see it, too."""
    rows = len(picture.rows)
    foot = TOP + rows * ROW
    tall = foot + 52
    parts = [f"\n{_with_name('title', 't', title)}{_with_name('desc', 'd', describes)}"]
    parts.append(element("rect", {"width": WIDE, "height": tall, "fill": "#ffffff"}))
    if picture.healthy is not None:
        start, end = (_x(place) for place in picture.healthy)
        parts.append(
            _box(start, TOP - 6, max(2.0, end - start), rows * ROW + 6, {"fill": TINT})
            + _type((start + end) / 2, foot + 36, "due", 12, QUIET, middle=True)
        )
    for number, row in enumerate(picture.rows):
        parts += _hill(row, TOP + (number + 1) * ROW, picture.ranges)
    parts += _axis(picture, foot)
    parts += _mark(picture, foot)
    attributes: Attributes = {
        "xmlns": markup.SPACE,
        "viewBox": f"0 0 {WIDE} {tall}",
        "width": WIDE,
        "height": tall,
        "role": "img",
        "aria-labelledby": "t d",
        "font-family": "'Atkinson Hyperlegible', 'DejaVu Sans', sans-serif",
    }
    return element("svg", attributes, "\n".join(parts), "\n") + "\n"


def _with_name(tag: str, name: str, text: str) -> str:
    return element(tag, {"id": name}, markup.words(text))


def _x(place: float) -> float:
    return LEFT + min(max(place, 0.0), 1.0) * (WIDE - LEFT - RIGHT)


def _type(
    x: float, y: int, text: str, size: int, ink: str, *, middle: bool = False, bold: bool = False
) -> str:
    """Type from x on, or with its middle there."""
    return element(
        "text",
        {
            "x": _tenth(x),
            "y": y,
            "font-size": size,
            "font-weight": "700" if bold else "",
            "fill": ink,
            "text-anchor": "middle" if middle else "",
        },
        markup.words(text),
    )


def _box(x: float, y: float, w: float, h: float, ink: Mapping[str, str]) -> str:
    place = {"x": _tenth(x), "y": _tenth(y), "width": _tenth(w), "height": _tenth(h)}
    return element("rect", {**place, **ink})


def _line(x1: float, x2: float, y1: int, y2: int, ink: Mapping[str, str]) -> str:
    place: Attributes = {"x1": _tenth(x1), "x2": _tenth(x2), "y1": y1, "y2": y2}
    return element("line", {**place, **ink})


def _tenth(length: float) -> str:
    """A length to the tenth; a whole number as it is."""
    return str(length) if isinstance(length, int) else f"{length:.1f}"


def _hill(row: Row, base: int, ranges: bool) -> list[str]:
    count = len(row.heights)
    top = [(_x((n + 0.5) / count), base - h * (ROW - 10)) for n, h in enumerate(row.heights)]
    path = f"M{_x(0.0):.1f} {base}" + "".join(f"L{x:.1f} {y:.1f}" for x, y in top)
    path += f"L{_x(1.0):.1f} {base}Z"
    name = f"{row.label} and {row.more} alike" if row.more else row.label
    hill = {"d": path, "fill": HILL, "stroke": INK, "stroke-width": "1.2"}
    parts = [
        element("path", hill),
        _type(8, base - 16, name, 13, INK),
        _type(8, base - 2, f"odds {percent(row.odds)}", 12, QUIET),
    ]
    if ranges and row.over > 0.02:
        height = row.over * (ROW - 10)
        ink = {"fill": HILL, "stroke": INK}
        parts.append(_box(WIDE - RIGHT + 16, base - height, 14, height, ink))
    return parts


def _axis(picture: Figure, foot: int) -> list[str]:
    ink = {"stroke": INK}
    parts = [_line(LEFT, WIDE - RIGHT, foot, foot, ink)]
    for place, text in picture.ticks:
        x = _x(place)
        parts.append(
            _line(x, x, foot, foot + 5, ink) + _type(x, foot + 20, text, 12, INK, middle=True)
        )
    if picture.ranges:
        parts.append(_type(WIDE - RIGHT + 23, foot + 20, "OL", 12, INK, middle=True))
    return parts


def _mark(picture: Figure, foot: int) -> list[str]:
    x = WIDE - RIGHT + 23.0 if picture.reading >= 1.0 else _x(picture.reading)
    ink = {"stroke": MARK, "stroke-width": "2", "stroke-dasharray": "6 3"}
    return [
        _line(x, x, TOP - 14, foot, ink),
        _type(x, TOP - 20, picture.reads, 15, MARK, middle=True, bold=True),
    ]
