"""A QR code (ISO/IEC 18004) of an address, as squares on a sheet.

A general library makes the symbol. Error correction is level M, some 15 % of its words: a smudge
or a crease on a wall does no harm. Around it stay the four light modules that the standard asks.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

import segno

from kb.trouble import Place, Trouble, TroubleError
from render.drawing.ink import Stroke

QUIET = 4
"""Light modules on each side (ISO/IEC 18004, 9.1, from memory)."""
MOST_LETTERS = 300
"""Of an address: a longer one makes modules that no telephone tells apart on a wall."""
_SEAM = 0.02
"""Millimetres by which rows overlap, so that no viewer shows light between them."""

Matrix = tuple[tuple[bool, ...], ...]


def matrix(address: str) -> Matrix:
    """The symbol's modules row by row, dark ones true. TroubleError PA160 for an address that is
    none, or too long."""
    scheme, _, rest = address.partition("://")
    plain = address.isascii() and address.isprintable() and " " not in address
    if scheme not in ("http", "https") or not rest or not plain or len(address) > MOST_LETTERS:
        raise TroubleError(
            Trouble(
                "PA160", Place("--link"),
                f"“{address[:60]}” is no address that a code can lead to",
                "Give one that begins with http:// or https://, without spaces, of "
                f"{MOST_LETTERS} letters at most",
            )
        )  # fmt: skip
    code = segno.make(address, error="m", micro=False, boost_error=False)
    return tuple(tuple(bool(module) for module in row) for row in code.matrix)


def strokes(code: Matrix, x: float, y: float, side: float) -> Stroke:
    """The symbol as one filled shape, its modules `side` mm wide, its first one at (x, y)."""
    return Stroke(tuple(_rectangles(code, x, y, side)), 0.0, "none", "#000000")


def _rectangles(
    code: Matrix, x: float, y: float, side: float
) -> Iterator[tuple[str | float, ...]]:
    for number, row in enumerate(code):
        top, bottom = y + number * side, y + (number + 1) * side + _SEAM
        place = 0
        for dark, run in groupby(row):
            count = len(list(run))
            if dark:
                left, right = x + place * side, x + (place + count) * side
                yield from (("M", left, top), ("L", right, top), ("L", right, bottom),
                            ("L", left, bottom), ("Z",))  # fmt: skip
            place += count
