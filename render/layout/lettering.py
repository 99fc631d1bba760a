"""Sheet and letter in every connector, both ways: where it leads, and where it is come from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from render.drawing.ink import Box, Drawing, Label, Symbol
from render.drawing.outlines import Type
from render.drawing.typeset import LEADING, Run, break_lines, widest_word
from render.layout.boxes import set_words, with_letter
from render.layout.imposition import Imposition
from render.wording.script import Script, reading_order

_LETTERS = "ABCDEFGHJKLNPQRSTUVXYZ"


def lettered_pieces(
    script: Script, layout: Imposition, type_: Type, first: int
) -> list[tuple[int, Drawing]]:
    """Pieces with sheet and letter in every circle; `first` sheets of panels come before."""
    where = _sheet_of_steps(layout)
    letters = _letters(script, layout)
    numbers = {step.id: step.number for step in script.steps.values()}
    sources = _sources(layout)
    pieces = []
    for piece in layout.pieces:
        symbols: list[Symbol] = []
        labels: list[Label] = []
        for symbol in piece.drawing.at_rest().symbols:
            if symbol.kind != "connector":
                symbols.append(symbol)
            elif symbol.link:
                other = where[symbol.link]
                sheet = "" if other == piece.sheet else str(first + other + 1)
                symbols.append(with_letter(symbol, sheet + letters[symbol.link], type_))
            else:
                step = symbol.anchor.removeprefix("in:")
                symbols.append(with_letter(symbol, letters[step], type_))
                origin = _origin(sources[step], piece.sheet, first, numbers)
                labels.extend(_beside(symbol, step, origin, type_))
        drawing = replace(
            piece.drawing, symbols=tuple(symbols), labels=(*piece.drawing.labels, *labels)
        )
        pieces.append((piece.sheet, drawing))
    return pieces


def _letters(script: Script, layout: Imposition) -> dict[str, str]:
    steps = {
        symbol.link
        for piece in layout.pieces
        for symbol in piece.drawing.symbols
        if symbol.kind == "connector" and symbol.link
    }
    order = [step for step in reading_order(script) if step in steps]
    return {
        step: _LETTERS[n % len(_LETTERS)] * (n // len(_LETTERS) + 1) for n, step in enumerate(order)
    }


def _sheet_of_steps(layout: Imposition) -> dict[str, int]:
    """The sheet on which each step that a connector can name begins."""
    return {
        symbol.anchor.removeprefix("in:"): piece.sheet
        for piece in layout.pieces
        for symbol in piece.drawing.symbols
        if symbol.kind == "connector" and symbol.anchor
    }


def _sources(layout: Imposition) -> dict[str, list[tuple[int, str]]]:
    """For each step entered by connectors: sheet and step of every circle that leads to it."""
    sources: dict[str, list[tuple[int, str]]] = {}
    for piece in layout.pieces:
        for symbol in piece.drawing.symbols:
            if symbol.kind == "connector" and symbol.link:
                source = symbol.node.removeprefix("out:").rsplit(":", 1)[0]
                sources.setdefault(symbol.link, []).append((piece.sheet, source))
    return sources


def _origin(
    sources: Sequence[tuple[int, str]], sheet: int, first: int, numbers: Mapping[str, str]
) -> list[str]:
    """Where a circle is come to from: in full, and shorter should that not fit."""
    unique = list(dict.fromkeys((other, numbers.get(step, "")) for other, step in sources))
    unique.sort(key=lambda one: (one[0] != sheet, one[0], int(one[1] or 0)))
    return [
        _origin_words(unique[:n], sheet, first) + ("…" if n < len(unique) else "")
        for n in range(len(unique), 0, -1)
    ]


def _origin_words(sources: Sequence[tuple[int, str]], sheet: int, first: int) -> str:
    """The questions a circle is come to from, as in `from 8, 23, sheet 5: 42`."""
    by_sheet: dict[int, list[str]] = {}
    for other, number in sources:
        by_sheet.setdefault(other, []).append(number or "START")
    return "from " + ", ".join(
        ("" if other == sheet else f"sheet\u00a0{first + other + 1}: ") + ", ".join(names)
        for other, names in by_sheet.items()
    )


def _beside(symbol: Symbol, step: str, texts: Sequence[str], type_: Type) -> list[Label]:
    size, family = type_.body, type_.family
    room = symbol.room[0]
    most = int(room.h / (size * LEADING) + 0.05)
    for text in texts:
        runs = (Run(text),)
        lines = break_lines(runs, family, size, room.w)
        if len(lines) <= most and widest_word(runs, family, size) <= room.w + 1e-6:
            break
    else:
        return []
    top = room.y + (room.h - len(lines) * size * LEADING) / 2
    words = tuple(
        word
        for n, line in enumerate(lines)
        for word in set_words(line, room.x, top + n * size * LEADING, size, family)
    )
    wide = max(line.width for line in lines)
    box = Box(room.x, top, wide, len(lines) * size * LEADING)
    return [Label(f"in:{step}", step, box, words)]
