"""Rows of a panel that stand in columns: how wide each column is, and where its words go.

A column is never narrower than its longest word. Where the room is short, each column gets that,
and what is left goes to the columns in proportion to what they lack of their longest cell.
"""

from __future__ import annotations

from collections.abc import Sequence

from render.drawing.ink import Words
from render.drawing.outlines import Type
from render.drawing.typeset import LEADING, Run, SetLine, break_lines, widest_word, width
from render.layout.boxes import set_words

Cells = tuple[tuple[Run, ...], ...]
_GAP = 0.7
_HEAD, _FOOT = 0.1, 0.14


def least_room(rows: Sequence[Cells], type_: Type) -> float:
    """The narrowest width in mm at which no word of any cell is cut; 0 without rows."""
    least = [_least(column, type_) for column in _columns(rows)]
    return sum(least) + _gaps(len(least), type_)


def column_widths(rows: Sequence[Cells], type_: Type, room: float) -> tuple[float, ...]:
    """The width in mm of each column of a table `room` mm wide; empty without rows.

    The columns of a table that is narrower than `least_room` stay as wide as their longest words.
    """
    columns = _columns(rows)
    least = [_least(column, type_) for column in columns]
    whole = [
        max((width(cell, type_.family, type_.body) for cell in column), default=0.0)
        for column in columns
    ]
    spare = max(0.0, room - _gaps(len(columns), type_) - sum(least))
    lacking = [most - word for most, word in zip(whole, least, strict=True)]
    if sum(lacking) <= spare:
        return tuple(whole)
    return tuple(
        word + spare * lack / sum(lacking) for word, lack in zip(least, lacking, strict=True)
    )


def row_height(cells: Cells, widths: Sequence[float], type_: Type) -> float:
    """What a row takes, mm."""
    pairs = zip(cells, widths, strict=True)
    lines = max(len(_lines(cell, across, type_)) for cell, across in pairs)
    return (_HEAD + lines * LEADING + _FOOT) * type_.body


def set_cells(
    cells: Cells, widths: Sequence[float], type_: Type, x: float, y: float
) -> list[list[Words]]:
    """The words of each cell of a row whose top left corner is at (x, y) mm."""
    row: list[list[Words]] = []
    for cell, across in zip(cells, widths, strict=True):
        words: list[Words] = []
        for number, line in enumerate(_lines(cell, across, type_)):
            top = y + (_HEAD + number * LEADING) * type_.body
            words.extend(set_words(line, x, top, type_.body, type_.family))
        x += across + _GAP * type_.body
        row.append(words)
    return row


def _lines(cell: tuple[Run, ...], across: float, type_: Type) -> tuple[SetLine, ...]:
    return break_lines(cell, type_.family, type_.body, across + 1e-3)


def _columns(rows: Sequence[Cells]) -> list[tuple[tuple[Run, ...], ...]]:
    return list(zip(*rows, strict=True))


def _least(column: Sequence[tuple[Run, ...]], type_: Type) -> float:
    return max((widest_word(cell, type_.family, type_.body) for cell in column), default=0.0)


def _gaps(count: int, type_: Type) -> float:
    return max(0, count - 1) * _GAP * type_.body
