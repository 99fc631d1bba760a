"""From a script to finished sheets: type sizes chosen, everything placed, connectors lettered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from kb.trouble import Place, Trouble, TroubleError
from render.paper import imposition, panels
from render.paper.face import Family
from render.paper.imposition import Imposed
from render.paper.ink import Box, Drawing, Label, Sheet, Sheets, Symbol
from render.paper.legibility import TypeSizes
from render.paper.panels import Facts, Leaf
from render.paper.papers import Paper
from render.paper.script import Script, reading_order
from render.paper.symbols import Type, lettered, set_words
from render.paper.typeset import Run, break_lines

_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
_GROWTH = (1.5, 1.38, 1.28, 1.2, 1.14, 1.09, 1.05, 1.0)


@dataclass(frozen=True, slots=True)
class Order:
    """What is asked of the printer: paper, reading distance in metres, date on the sheets."""

    paper: Paper
    read_from: float
    date: str
    language: str = "en"


def measure(script: Script, family: Family, sizes: TypeSizes, growth: float) -> Type:
    """Type sizes in mm for capitals `growth` times the least."""
    return Type(family, family.size_of(sizes.least * growth), family.size_of(sizes.hands * growth))


def place(script: Script, family: Family, sizes: TypeSizes, order: Order) -> Sheets:
    """The chart on sheets in plain mm: one sheet if it will go, else as few as may be.

    Capitals are never lower than `sizes`; where room is left they grow. On one sheet the hands'
    words may shrink to the least size before a second sheet is begun. TroubleError if even one
    step is larger than the paper.
    """
    modest = TypeSizes(sizes.least, sizes.least)
    for wanted in (sizes, modest):
        found = _one_sheet(script, family, wanted, order)
        if found:
            return found
    found = _several(script, family, sizes, order) or _several(script, family, modest, order)
    if found:
        return found
    raise TroubleError(
        Trouble(
            "PA130",
            Place("--paper"),
            f"On {order.paper.name} a single step is larger than the sheet when capitals are "
            f"{sizes.least:.1f} mm high, to be read from {order.read_from:g} m",
            "Take larger paper, a nearer --read-from, or --depth stage",
        )
    )


def _one_sheet(script: Script, family: Family, sizes: TypeSizes, order: Order) -> Sheets | None:
    best: Sheets | None = None
    for growth in reversed(_GROWTH):
        type_ = measure(script, family, sizes, growth)
        facts = _facts(order, type_, "sheet 1 of 1")
        imposed = imposition.on_one_sheet(script, _leaves(script, facts), order.paper, type_)
        if imposed is None:
            break
        best = _finished(script, imposed, order, type_)
    return best


def _several(script: Script, family: Family, sizes: TypeSizes, order: Order) -> Sheets | None:
    type_ = measure(script, family, sizes, 1.0)
    facts = _facts(order, type_, "sheet 1")
    imposed = imposition.on_sheets(script, _leaves(script, facts), order.paper, type_)
    return _finished(script, imposed, order, type_) if imposed else None


def _facts(order: Order, type_: Type, sheet: str) -> Facts:
    capital = type_.family.regular.capital
    return Facts(order.date, order.read_from, type_.body * capital, type_.hands * capital, sheet)


def _leaves(script: Script, facts: Facts) -> list[Leaf]:
    every = (
        panels.title_block(script, facts),
        panels.general(),
        panels.entry_check(script),
        panels.make_safe(),
        panels.cautions(script),
        panels.proofs(script),
        panels.legend(),
    )
    return [leaf for leaf in every if leaf]


def _finished(script: Script, imposed: Imposed, order: Order, type_: Type) -> Sheets:
    pieces = _lettered(script, imposed, type_)
    sheets = []
    for number in range(imposed.count):
        here = [drawing for sheet, drawing in pieces if sheet == number]
        drawing = Drawing(
            order.paper.width,
            order.paper.height,
            tuple(s for d in here for s in d.symbols),
            tuple(f for d in here for f in d.flows),
            tuple(la for d in here for la in d.labels),
        )
        mine = tuple(panel for sheet, panel in imposed.panels if sheet == number)
        sheets.append(
            Sheet(
                number + 1,
                _sheet_title(script, number, imposed.count),
                order.paper.width,
                order.paper.height,
                drawing,
                mine,
            )
        )
    capital = type_.family.regular.capital
    return Sheets(
        title=_title(script),
        language=order.language,
        sheets=tuple(sheets),
        capital=type_.body * capital,
        hands_capital=type_.hands * capital,
        paper=order.paper.name,
        date=order.date,
    )


def _title(script: Script) -> str:
    model = script.model
    name = str(model.get("says") or model["topology"])
    return f"{name}, {model['mains']['volts']:g} V: what to test next"


def _sheet_title(script: Script, number: int, count: int) -> str:
    return f"{_title(script)} – sheet {number + 1} of {count}"


def _lettered(script: Script, imposed: Imposed, type_: Type) -> list[tuple[int, Drawing]]:
    where = _sheet_of_steps(imposed)
    letters = _letters(script, imposed)
    numbers = {step.id: step.number for step in script.steps.values()}
    sources = _sources(imposed)
    pieces = []
    for piece in imposed.pieces:
        symbols: list[Symbol] = []
        labels: list[Label] = []
        for symbol in piece.drawing.symbols:
            if symbol.kind != "connector":
                symbols.append(symbol)
            elif symbol.link:
                other = where[symbol.link]
                sheet = "" if other == piece.sheet else str(other + 1)
                symbols.append(lettered(symbol, sheet + letters[symbol.link], type_))
            else:
                step = symbol.anchor.removeprefix("in:")
                symbols.append(lettered(symbol, letters[step], type_))
                origin = _origin(sources[step], piece.sheet, numbers)
                labels.append(_beside(symbol, step, origin, type_))
        drawing = replace(
            piece.drawing, symbols=tuple(symbols), labels=(*piece.drawing.labels, *labels)
        )
        pieces.append((piece.sheet, drawing))
    return pieces


def _letters(script: Script, imposed: Imposed) -> dict[str, str]:
    used = {
        symbol.link
        for piece in imposed.pieces
        for symbol in piece.drawing.symbols
        if symbol.kind == "connector" and symbol.link
    }
    order = [step for step in reading_order(script) if step in used]
    return {
        step: _LETTERS[n % len(_LETTERS)] * (n // len(_LETTERS) + 1) for n, step in enumerate(order)
    }


def _sheet_of_steps(imposed: Imposed) -> dict[str, int]:
    """The sheet on which each step that a connector can name begins."""
    return {
        symbol.anchor.removeprefix("in:"): piece.sheet
        for piece in imposed.pieces
        for symbol in piece.drawing.symbols
        if symbol.kind == "connector" and symbol.anchor
    }


def _sources(imposed: Imposed) -> dict[str, list[tuple[int, str]]]:
    """For each step entered by connectors: sheet and step of every circle that leads to it."""
    found: dict[str, list[tuple[int, str]]] = {}
    for piece in imposed.pieces:
        for symbol in piece.drawing.symbols:
            if symbol.kind == "connector" and symbol.link:
                source = symbol.node.removeprefix("out:").rsplit(":", 1)[0]
                found.setdefault(symbol.link, []).append((piece.sheet, source))
    return found


def _origin(sources: Sequence[tuple[int, str]], sheet: int, numbers: Mapping[str, str]) -> str:
    places = []
    for other, step in sources:
        name = f"{numbers[step]}?" if numbers.get(step) else "start"
        places.append(name if other == sheet else f"{name} sheet {other + 1}")
    return "from " + ", ".join(places)


def _beside(symbol: Symbol, step: str, text: str, type_: Type) -> Label:
    size, family = type_.body, type_.family
    line = break_lines((Run(text),), family, size, 1e6)[0]
    x = symbol.box.right + 0.3 * size
    y = symbol.box.y + symbol.box.h / 2 - 0.53 * size
    words = tuple(set_words(line, x, y, size, family))
    return Label(f"in:{step}", step, Box(x, y, line.width, size), words)
