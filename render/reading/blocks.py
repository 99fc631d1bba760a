"""The picture of a reading in the terminal: block elements (Unicode 1.0, U+2581 to U+2588)."""

from __future__ import annotations

from collections.abc import Sequence

from render.reading.figure import Figure, Row

_BARS = " ▁▂▃▄▅▆▇█"
_PLAIN = " .:-=+*#@"
_LEAST_SHOWN = 0.02
LABEL = 18


def lines(picture: Figure, unicode: bool = True) -> list[str]:
    """The picture's lines: the reading's mark, a row for each fault, the healthy band, the axis."""
    bars = _BARS if unicode else _PLAIN
    width = len(picture.edges) - 1
    mark = min(width - 1, int(picture.reading * width)) if picture.reading < 1.0 else width + 1
    out = [" " * (LABEL + max(0, mark - len(picture.reads) // 2)) + picture.reads]
    out.append(" " * (LABEL + mark) + ("▼" if unicode else "v"))
    for row in picture.rows:
        out.append(f"{_name(row):<{LABEL}.{LABEL}}" + _bar(row, bars, mark, picture, unicode))
    if picture.healthy is not None:
        start, end = (round(place * width) for place in picture.healthy)
        dash = ("━" if unicode else "=") * max(1, end - start)
        out.append(f"{'due':<{LABEL}}" + " " * start + dash)
    out += _axis(picture.ticks, width, unicode)
    return out


def _name(row: Row) -> str:
    more = f" +{row.more}" if row.more else ""
    return row.label[: LABEL - 1 - len(more)] + more


def _bar(row: Row, bars: str, mark: int, picture: Figure, unicode: bool) -> str:
    cells = []
    for place, height in enumerate(row.heights):
        if height < _LEAST_SHOWN:
            cells.append(("│" if unicode else "|") if place == mark else " ")
        else:
            cells.append(bars[1 + min(len(bars) - 2, int(height * (len(bars) - 1)))])
    text = "".join(cells)
    if picture.ranges:
        over = row.over
        bar = bars[1 + min(len(bars) - 2, int(over * (len(bars) - 1)))]
        text += f" {bar if over > _LEAST_SHOWN else ' '}OL"
    return text.rstrip()


def _axis(ticks: Sequence[tuple[float, str]], width: int, unicode: bool) -> list[str]:
    rule = ["─" if unicode else "-"] * width
    words = [" "] * (width + 10)
    free = 0
    for place, text in ticks:
        at = min(width - 1, round(place * width))
        if at < free:
            continue
        rule[at] = "┴" if unicode else "+"
        words[at : at + len(text)] = list(text)
        free = at + len(text) + 1
    pad = " " * LABEL
    return [pad + "".join(rule), pad + "".join(words).rstrip()]
