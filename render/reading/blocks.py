"""The picture of a reading in the terminal: block elements (Unicode 1.0, U+2581 to U+2588)."""

from __future__ import annotations

from collections.abc import Sequence

from render.reading.figure import Figure, Row

_BARS = " ▁▂▃▄▅▆▇█"
_PLAIN = " .:-=+*#@"
_SHOWN = 0.02
LABEL = 18


def lines(drawn: Figure, unicode: bool = True) -> list[str]:
    """The picture's lines: the reading's mark, a row for each fault, the healthy band, the axis."""
    bars = _BARS if unicode else _PLAIN
    width = len(drawn.edges) - 1
    mark = min(width - 1, int(drawn.reading * width)) if drawn.reading < 1.0 else width + 1
    out = [" " * (LABEL + max(0, mark - len(drawn.reads) // 2)) + drawn.reads]
    out.append(" " * (LABEL + mark) + ("▼" if unicode else "v"))
    for row in drawn.rows:
        out.append(f"{_name(row):<{LABEL}.{LABEL}}" + _bar(row, bars, mark, drawn, unicode))
    if drawn.healthy is not None:
        start, end = (round(place * width) for place in drawn.healthy)
        dash = ("━" if unicode else "=") * max(1, end - start)
        out.append(f"{'due':<{LABEL}}" + " " * start + dash)
    out += _axis(drawn.ticks, width, unicode)
    return out


def _name(row: Row) -> str:
    more = f" +{row.more}" if row.more else ""
    return row.label[: LABEL - 1 - len(more)] + more


def _bar(row: Row, bars: str, mark: int, drawn: Figure, unicode: bool) -> str:
    cells = []
    for place, height in enumerate(row.heights):
        if height < _SHOWN:
            cells.append(("│" if unicode else "|") if place == mark else " ")
        else:
            cells.append(bars[1 + min(len(bars) - 2, int(height * (len(bars) - 1)))])
    text = "".join(cells)
    if drawn.ranges:
        over = row.over
        text += " " + (bars[1 + min(len(bars) - 2, int(over * (len(bars) - 1)))] if over > _SHOWN
                       else " ") + "OL"  # fmt: skip
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
