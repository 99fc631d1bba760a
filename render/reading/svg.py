"""The picture of a reading as SVG: one hill for each fault, the reading a line through all.

Own look: paper white, ink, one tint for the healthy band; every row says in words what it is, so
that nothing hangs on colour. Sizes in CSS pixels; contrast of text at least 4.5 (WCAG 2.2, 1.4.3).
"""

from __future__ import annotations

from html import escape

from render.reading.figure import Figure, Row
from render.wording.odds import percent

WIDE, LEFT, RIGHT, TOP, ROW = 680, 176, 56, 46, 46
INK, QUIET, HILL, TINT, MARK = "#1d2733", "#4d5966", "#9aa9b8", "#dcebdd", "#a33a12"


def svg(drawn: Figure, title: str, describes: str) -> str:
    """The whole picture; `title` and `describes` are for who cannot see it, too."""
    rows = len(drawn.rows)
    foot = TOP + rows * ROW
    tall = foot + 52
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {tall}" width="{WIDE}" '
        f'height="{tall}" role="img" aria-labelledby="t d" '
        "font-family=\"'Atkinson Hyperlegible', 'DejaVu Sans', sans-serif\">",
        f'<title id="t">{escape(title)}</title><desc id="d">{escape(describes)}</desc>',
        f'<rect width="{WIDE}" height="{tall}" fill="#ffffff"/>',
    ]
    if drawn.healthy is not None:
        start, end = (_x(place) for place in drawn.healthy)
        parts.append(
            f'<rect x="{start:.1f}" y="{TOP - 6}" width="{max(2.0, end - start):.1f}" '
            f'height="{rows * ROW + 6}" fill="{TINT}"/>'
            f'<text x="{(start + end) / 2:.1f}" y="{foot + 36}" font-size="12" fill="{QUIET}" '
            'text-anchor="middle">due</text>'
        )
    for number, row in enumerate(drawn.rows):
        parts += _hill(row, TOP + (number + 1) * ROW, drawn.ranges)
    parts += _axis(drawn, foot)
    parts += _mark(drawn, foot)
    return "\n".join([*parts, "</svg>"]) + "\n"


def _x(place: float) -> float:
    return LEFT + min(max(place, 0.0), 1.0) * (WIDE - LEFT - RIGHT)


def _hill(row: Row, base: float, ranges: bool) -> list[str]:
    count = len(row.heights)
    top = [(_x((n + 0.5) / count), base - h * (ROW - 10)) for n, h in enumerate(row.heights)]
    path = f"M{_x(0.0):.1f} {base}" + "".join(f"L{x:.1f} {y:.1f}" for x, y in top)
    path += f"L{_x(1.0):.1f} {base}Z"
    name = f"{row.label} and {row.more} alike" if row.more else row.label
    odds = escape(percent(row.odds))
    found = [
        f'<path d="{path}" fill="{HILL}" stroke="{INK}" stroke-width="1.2"/>',
        f'<text x="8" y="{base - 16}" font-size="13" fill="{INK}">{escape(name)}</text>',
        f'<text x="8" y="{base - 2}" font-size="12" fill="{QUIET}">odds {odds}</text>',
    ]
    if ranges and row.over > 0.02:
        found.append(
            f'<rect x="{WIDE - RIGHT + 16}" y="{base - row.over * (ROW - 10):.1f}" width="14" '
            f'height="{row.over * (ROW - 10):.1f}" fill="{HILL}" stroke="{INK}"/>'
        )
    return found


def _axis(drawn: Figure, foot: float) -> list[str]:
    found = [f'<line x1="{LEFT}" x2="{WIDE - RIGHT}" y1="{foot}" y2="{foot}" stroke="{INK}"/>']
    for place, text in drawn.ticks:
        x = _x(place)
        found.append(
            f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{foot}" y2="{foot + 5}" stroke="{INK}"/>'
            f'<text x="{x:.1f}" y="{foot + 20}" font-size="12" fill="{INK}" '
            f'text-anchor="middle">{escape(text)}</text>'
        )
    if drawn.ranges:
        found.append(
            f'<text x="{WIDE - RIGHT + 23}" y="{foot + 20}" font-size="12" fill="{INK}" '
            'text-anchor="middle">OL</text>'
        )
    return found


def _mark(drawn: Figure, foot: float) -> list[str]:
    x = WIDE - RIGHT + 23.0 if drawn.reading >= 1.0 else _x(drawn.reading)
    return [
        f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{TOP - 14}" y2="{foot}" stroke="{MARK}" '
        'stroke-width="2" stroke-dasharray="6 3"/>',
        f'<text x="{x:.1f}" y="{TOP - 20}" font-size="15" font-weight="700" fill="{MARK}" '
        f'text-anchor="middle">{escape(drawn.reads)}</text>',
    ]
