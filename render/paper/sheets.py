"""From a script to finished sheets: type sizes chosen, everything placed, connectors lettered."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from kb.trouble import Place, Trouble, TroubleError
from render.paper import imposition, panels
from render.paper.face import Family
from render.paper.figures import used_area
from render.paper.imposition import Imposed
from render.paper.ink import Box, Drawing, Label, Panel, Sheet, Sheets, Symbol
from render.paper.legibility import TypeSizes
from render.paper.outlines import Type
from render.paper.panels import Facts, Leaf
from render.paper.papers import Paper
from render.paper.phrasing import Wording
from render.paper.script import Script, reading_order
from render.paper.symbols import lettered, set_words
from render.paper.typeset import LEADING, Run, break_lines

_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
_ROOMY = 0.74
_MOST_GROWTH = 1.6


@dataclass(frozen=True, slots=True)
class Order:
    """What is asked of the printer: paper, reading distance in metres, date on the sheets."""

    paper: Paper
    read_from: float
    date: str
    language: str = "en"


@dataclass(frozen=True, slots=True)
class _Attempt:
    """One way to try: wording, capitals, and whether panels may go to sheets of their own."""

    script: Script
    sizes: TypeSizes
    reach: Callable[[Script, Type, Order], Sheets | None]


def measure(family: Family, sizes: TypeSizes, growth: float) -> Type:
    """Type sizes in mm for capitals `growth` times the least."""
    return Type(family, family.size_of(sizes.least * growth), family.size_of(sizes.hands * growth))


def place(full: Script, tight: Script, family: Family, sizes: TypeSizes, order: Order) -> Sheets:
    """The chart on sheets in plain mm: the flowchart on one sheet if it will go.

    Tried in turn: everything on one sheet; the flowchart on one and the panels on others, in full
    words and then in tight ones; each with what the hands do in larger type and then in the least.
    Where room is left, type grows. A plan too large for that takes several sheets. TroubleError
    if even one step is larger than the paper.
    """
    modest = TypeSizes(sizes.least, sizes.least)
    attempts = [
        _Attempt(full, sizes, _all_on_one),
        _Attempt(full, sizes, _flow_on_one),
        _Attempt(full, modest, _all_on_one),
        _Attempt(tight, sizes, _flow_on_one),
        _Attempt(full, modest, _flow_on_one),
        _Attempt(tight, modest, _flow_on_one),
        _Attempt(tight, modest, _flow_nearly_alone),
        _Attempt(full, sizes, _on_several),
        _Attempt(tight, sizes, _on_several),
        _Attempt(tight, modest, _on_several),
    ]
    for attempt in attempts:
        found = _grown(attempt, family, order)
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


def _grown(attempt: _Attempt, family: Family, order: Order) -> Sheets | None:
    """The attempt at the least type, and again larger if much of the sheet is left free."""
    found = attempt.reach(attempt.script, measure(family, attempt.sizes, 1.0), order)
    # Words are made tight only where room is short, so there is none to grow into.
    if not found or attempt.reach is _on_several or attempt.script.wording is Wording.TIGHT:
        return found
    fullest = max(used_area(sheet) for sheet in found.sheets if sheet.drawing.flows)
    growth = min(_MOST_GROWTH, math.sqrt(_ROOMY / fullest))
    for wanted in (growth, 1 + (growth - 1) / 2):
        if wanted > 1.03:
            type_ = measure(family, attempt.sizes, wanted)
            larger = attempt.reach(attempt.script, type_, order)
            if larger and len(larger.sheets) <= len(found.sheets):
                return larger
    return found


def _all_on_one(script: Script, type_: Type, order: Order) -> Sheets | None:
    facts = _facts(order, type_)
    leaves = [*_must(script, facts), *_front(script), *_back(script)]
    imposed = imposition.on_one_sheet(script, leaves, order.paper, type_)
    return _finished(script, imposed, [], [], order, type_) if imposed else None


def _flow_on_one(script: Script, type_: Type, order: Order) -> Sheets | None:
    imposed = imposition.on_one_sheet(
        script, _must(script, _facts(order, type_)), order.paper, type_
    )
    return _with_panels(script, imposed, type_, order) if imposed else None


def _flow_nearly_alone(script: Script, type_: Type, order: Order) -> Sheets | None:
    """The flowchart with title and general caution; the rest goes to the panels' sheet."""
    must = _must(script, _facts(order, type_))
    kept = [leaf for leaf in must if leaf.kind in ("title", "general")]
    imposed = imposition.on_one_sheet(script, kept, order.paper, type_)
    rest = [leaf for leaf in must if leaf not in kept]
    return _with_panels(script, imposed, type_, order, rest) if imposed else None


def _on_several(script: Script, type_: Type, order: Order) -> Sheets | None:
    facts = _facts(order, type_)
    title = panels.running_title(script, facts)
    must = [leaf for leaf in _must(script, facts) if leaf.kind != "title"]
    imposed = imposition.on_sheets(script, must, title, order.paper, type_)
    return _with_panels(script, imposed, type_, order) if imposed else None


def _with_panels(
    script: Script, imposed: Imposed, type_: Type, order: Order, extra: Sequence[Leaf] = ()
) -> Sheets | None:
    title = panels.running_title(script, _facts(order, type_))
    before = [*extra, *_front(script)]
    front = imposition.panel_sheets(before, title, order.paper, type_)
    back = imposition.panel_sheets(_back(script), title, order.paper, type_)
    if front is None or back is None:
        return None
    both = imposition.panel_sheets([*before, *_back(script)], title, order.paper, type_)
    if both is not None and len(both) < len(front) + len(back):
        front, back = both, []
    return _finished(script, imposed, front, back, order, type_)


def _facts(order: Order, type_: Type) -> Facts:
    capital = type_.family.regular.capital
    # As wide as a real count, so that setting the true one moves nothing.
    return Facts(
        order.date, order.read_from, type_.body * capital, type_.hands * capital, _SHEET_TEXT
    )


_SHEET_TEXT = "sheet 0 of 0"


def _must(script: Script, facts: Facts) -> list[Leaf]:
    """Panels that belong on the flowchart's own sheet."""
    return [
        panels.title_block(script, facts),
        panels.general(),
        panels.legend(),
        panels.notes(script),
    ]


def _front(script: Script) -> list[Leaf]:
    """Panels to read before the flowchart."""
    every = (
        panels.entry_check(script),
        panels.make_safe(script),
        panels.cautions(script),
        panels.names(script),
        panels.again(script),
        panels.instruments(script),
        panels.block_diagram(script),
        panels.points(script),
        panels.readings(script),
    )
    return [leaf for leaf in every if leaf]


def _back(script: Script) -> list[Leaf]:
    """Panels to read after the flowchart."""
    every = (panels.proofs(script), panels.faults(script))
    return [leaf for leaf in every if leaf]


def _finished(
    script: Script,
    imposed: Imposed,
    front: list[list[Panel]],
    back: list[list[Panel]],
    order: Order,
    type_: Type,
) -> Sheets:
    first = len(front)
    flow_panels = [[p for n, p in imposed.panels if n == sheet] for sheet in range(imposed.count)]
    pieces = _lettered(script, imposed, type_, first)
    drawings = [Drawing(0, 0)] * first
    for number in range(imposed.count):
        here = [drawing for sheet, drawing in pieces if sheet == number]
        drawings.append(
            Drawing(
                order.paper.width,
                order.paper.height,
                tuple(s for d in here for s in d.symbols),
                tuple(f for d in here for f in d.flows),
                tuple(la for d in here for la in d.labels),
            )
        )
    drawings.extend([Drawing(0, 0)] * len(back))
    laid = [*front, *flow_panels, *back]
    capital = type_.family.regular.capital
    return Sheets(
        title=_title(script),
        language=order.language,
        sheets=tuple(
            Sheet(
                number,
                _sheet_title(script, number, len(laid)),
                order.paper.width,
                order.paper.height,
                drawing,
                tuple(_numbered(panel, number, len(laid), type_) for panel in mine),
            )
            for number, (drawing, mine) in enumerate(zip(drawings, laid, strict=True), start=1)
        ),
        capital=type_.body * capital,
        hands_capital=type_.hands * capital,
        paper=order.paper.name,
        date=order.date,
    )


def _numbered(panel: Panel, number: int, count: int, type_: Type) -> Panel:
    """The panel with the sheet's true number and count in its title block."""
    if panel.kind != "title":
        return panel
    words = []
    for word in panel.words:
        text = word.text.replace(_SHEET_TEXT, f"sheet {number} of {count}")
        across = type_.family.face(word.bold).width(text, word.size)
        words.append(replace(word, text=text, width=across))
    return replace(panel, words=tuple(words))


def _title(script: Script) -> str:
    model = script.model
    name = str(model.get("says") or model["topology"])
    return f"{name}, {model['mains']['volts']:g} V: what to test next"


def _sheet_title(script: Script, number: int, count: int) -> str:
    return f"{_title(script)} – sheet {number} of {count}"


def _lettered(
    script: Script, imposed: Imposed, type_: Type, first: int
) -> list[tuple[int, Drawing]]:
    """Pieces with sheet and letter in every circle; `first` sheets of panels come before."""
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
                sheet = "" if other == piece.sheet else str(first + other + 1)
                symbols.append(lettered(symbol, sheet + letters[symbol.link], type_))
            else:
                step = symbol.anchor.removeprefix("in:")
                symbols.append(lettered(symbol, letters[step], type_))
                origin = _origin(sources[step], piece.sheet, first, numbers)
                labels.extend(_beside(symbol, step, origin, type_))
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


def _origin(
    sources: Sequence[tuple[int, str]], sheet: int, first: int, numbers: Mapping[str, str]
) -> list[str]:
    """Where a circle is come to from: in full, and shorter should that not fit."""
    places = []
    for other, step in sources:
        name = f"{numbers[step]}?" if numbers.get(step) else "start"
        places.append(name if other == sheet else f"{name} sheet\u00a0{first + other + 1}")
    unique = list(dict.fromkeys(places))
    cuts = [unique[:n] for n in range(len(unique), 0, -1)]
    return ["from " + ", ".join(cut) + ("…" if len(cut) < len(unique) else "") for cut in cuts]


def _beside(symbol: Symbol, step: str, texts: Sequence[str], type_: Type) -> list[Label]:
    size, family = type_.body, type_.family
    room = symbol.room[0]
    most = int(room.h / (size * LEADING) + 0.05)
    for text in texts:
        lines = break_lines((Run(text),), family, size, room.w)
        if len(lines) <= most and max(line.width for line in lines) <= room.w:
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
