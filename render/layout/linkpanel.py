"""The panel with the code that opens the walk on a screen, and its address in letters beside it."""

from __future__ import annotations

from collections.abc import Iterator

from render.drawing import squarecode
from render.drawing.face import printable
from render.drawing.ink import Box, Panel, Stroke, Words
from render.drawing.outlines import Type, rectangle_path
from render.drawing.typeset import LEADING, Run, break_lines
from render.layout.boxes import set_words
from render.wording import fixedwords

_PAD, _FRAME = 0.4, 0.25
_MODULE = 0.9
"""Millimetres: twice what a telephone at arm's length tells apart (common practice)."""


def widths(code: squarecode.Matrix, type_: Type) -> tuple[float, ...]:
    """The widths in mm at which the panel is worth setting: the code's own, and wider ones."""
    least = max(_across(code) + 2 * _PAD * type_.body, 9 * type_.body)
    return (least, 1.35 * least, 1.8 * least)


def set_link(address: str, code: squarecode.Matrix, type_: Type, room: float) -> Panel:
    """The panel set `room` mm wide, or as wide as the code is."""
    pad, size = _PAD * type_.body, type_.body
    room = max(room, _across(code) + 2 * pad)
    inner = room - 2 * pad
    words: list[Words] = []
    y = 0.6 * pad
    head = (Run(fixedwords.LINK_TITLE, bold=True),)
    for line in break_lines(head, type_.family, size, inner):
        words.extend(set_words(line, pad, y, size, type_.family))
        y += size * LEADING
    heading = len(words)
    y += 0.12 * size
    rule = Stroke((("M", 0.0, y), ("L", room, y)), _FRAME)
    quiet = squarecode.QUIET * _MODULE
    y += quiet
    left = (room - len(code) * _MODULE) / 2
    symbol = squarecode.strokes(code, left, y, _MODULE)
    y += len(code) * _MODULE + quiet
    for text in _cut(address, type_, inner):
        for line in break_lines((Run(text),), type_.family, size, room):
            words.extend(set_words(line, pad, y, size, type_.family))
        y += size * LEADING
    box = Box(0, 0, room, y + 0.6 * pad)
    frame = Stroke(rectangle_path(box), _FRAME)
    return Panel(
        "link", fixedwords.LINK_TITLE, box, tuple(words), (frame, rule, symbol), heading=heading
    )


def _across(code: squarecode.Matrix) -> float:
    return (len(code) + 2 * squarecode.QUIET) * _MODULE


def _cut(address: str, type_: Type, room: float) -> Iterator[str]:
    """The address in pieces that fit a line: nothing is put in where it is cut."""
    face, rest = type_.family.face(False), printable(address, "link")
    while rest:
        count = len(rest)
        while count > 1 and face.width(rest[:count], type_.body) > room:
            count -= 1
        yield rest[:count]
        rest = rest[count:]
