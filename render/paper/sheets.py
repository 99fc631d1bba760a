"""From a script to finished sheets: type sizes chosen, everything placed, sheets numbered."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from render.drawing.face import Family
from render.drawing.ink import Box, Drawing, Panel, Sheet, Sheets, Words
from render.drawing.legibility import TypeSizes
from render.drawing.outlines import Type
from render.drawing.papers import Paper
from render.layout import columns, imposition, panels, spread
from render.layout.imposition import Cut, Imposition
from render.layout.lettering import lettered_pieces
from render.layout.panels import Facts, Leaf
from render.layout.quality import covered_area
from render.paper.contents import Extras, after_the_flow, before_the_flow, beside_the_flow
from render.wording.phrasing import Wording
from render.wording.script import Script

_NEAREST = ("title", "link", "general", "every-repair")
_ROOMY = 0.74
_MOST_GROWTH = 1.6


@dataclass(frozen=True, slots=True)
class Order:
    """What is asked of the printer: paper, reading distance in metres, date, what to leave out, how
    many sheets come before, and the address of the walk that a code leads to."""

    paper: Paper
    read_from: float
    date: str
    language: str = "en"
    without: Extras = frozenset()
    before: int = 0
    link: str = ""


@dataclass(frozen=True, slots=True)
class _Flow:
    """The flowchart in its place, and the panels that go to sheets of their own."""

    layout: Imposition
    before: tuple[Leaf, ...] = ()
    after: tuple[Leaf, ...] = ()


Reach = Callable[[Script, Type, Order, Cut | None], _Flow | None]


@dataclass(frozen=True, slots=True)
class _Attempt:
    """One way to try: wording, capitals, and whether panels may go to sheets of their own."""

    script: Script
    sizes: TypeSizes
    reach: Reach


def measure(family: Family, sizes: TypeSizes, growth: float) -> Type:
    """Type sizes in mm for capitals `growth` times the least."""
    return Type(family, family.size_of(sizes.least * growth), family.size_of(sizes.hands * growth))


def place(
    full: Script, tight: Script, family: Family, sizes: TypeSizes, orders: Sequence[Order]
) -> Sheets | None:
    """The chart on sheets in plain mm: the flowchart on one sheet if it will go.

    Tried in turn: everything on one sheet; the flowchart on one and the panels on others, in full
    words and then in tight ones. Where room is left, type grows; it never goes below `sizes`. A
    plan too large for that takes several sheets, in tight words. Of the `orders`, which differ in
    how the paper hangs, the one with fewest sheets is taken; several sheets hang upright where they
    may, since a trunk runs down. None if even one step is larger than the paper.
    """
    attempts = [
        _Attempt(full, sizes, _all_on_one),
        _Attempt(full, sizes, _flow_on_one),
        _Attempt(tight, sizes, _flow_on_one),
        _Attempt(tight, sizes, _flow_nearly_alone),
        _Attempt(tight, sizes, _on_several),
    ]
    for rank, attempt in enumerate(attempts):
        several = attempt.reach is _on_several
        upright = sorted(orders, key=lambda order: order.paper.width > order.paper.height)
        best: Sheets | None = None
        for order in upright if several else orders:
            flow = _growth(attempt, family, order)
            # Sheets of panels grow by themselves as far as that takes no more of them.
            beside = _even(measure(family, attempt.sizes, 1.0))
            whole = _with_panels(attempt.script, *flow, order, beside) if flow else None
            if whole and (best is None or len(whole.sheets) < len(best.sheets)):
                best = whole
            if best and several:
                break
        if best:
            return replace(best, rank=rank)
    return None


def _growth(attempt: _Attempt, family: Family, order: Order) -> tuple[_Flow, Type] | None:
    """The attempt at the least type, and again larger if much of the sheets is left free."""
    least = measure(family, attempt.sizes, 1.0)
    flow = attempt.reach(attempt.script, least, order, None)
    # Words are made tight only where room is short, so there is none to grow into.
    if not flow or attempt.script.wording is Wording.TIGHT:
        return (flow, least) if flow else None
    growth = min(_MOST_GROWTH, math.sqrt(_ROOMY / _fullest(flow.layout, order.paper)))
    for factor in (growth, 1 + (growth - 1) / 2):
        if factor > 1.03:
            type_ = measure(family, attempt.sizes, factor)
            larger = attempt.reach(attempt.script, type_, order, flow.layout.cut)
            if larger and larger.layout.count <= flow.layout.count:
                return larger, type_
    return flow, least


def _fullest(layout: Imposition, paper: Paper) -> float:
    """The share of its paper that the fullest sheet uses."""
    boxes: dict[int, list[Box]] = {}
    for piece in layout.pieces:
        mine = boxes.setdefault(piece.sheet, [])
        mine.extend(s.box for s in piece.drawing.symbols)
        mine.extend(label.box for label in piece.drawing.labels)
    for sheet, panel in layout.panels:
        boxes.setdefault(sheet, []).append(panel.box)
    return max(covered_area(group) for group in boxes.values()) / (paper.width * paper.height)


def _all_on_one(script: Script, type_: Type, order: Order, cut: Cut | None) -> _Flow | None:
    leaves = [*_must(script, type_, order), *before_the_flow(script, order.without)]
    leaves.extend(after_the_flow(script, order.without))
    layout = imposition.on_one_sheet(script, leaves, order.paper, type_, cut)
    return _Flow(layout) if layout else None


def _flow_on_one(script: Script, type_: Type, order: Order, cut: Cut | None) -> _Flow | None:
    must = _must(script, type_, order)
    layout = imposition.on_one_sheet(script, must, order.paper, type_, cut)
    return _part(script, layout, order) if layout else None


def _flow_nearly_alone(script: Script, type_: Type, order: Order, cut: Cut | None) -> _Flow | None:
    """The flowchart with title, general caution and what holds at every repair; the rest goes to
    the panels' sheet."""
    must = _must(script, type_, order)
    nearest = [leaf for leaf in must if leaf.kind in _NEAREST]
    layout = imposition.on_one_sheet(script, nearest, order.paper, type_, cut)
    rest = [leaf for leaf in must if leaf not in nearest]
    return _part(script, layout, order, rest) if layout else None


def _on_several(script: Script, type_: Type, order: Order, cut: Cut | None) -> _Flow | None:
    must = [leaf for leaf in _must(script, type_, order) if leaf.kind != "title"]
    # Whoever takes up several sheets sees the first one first.
    opens = bool(before_the_flow(script, order.without))
    links = [leaf for leaf in must if opens and leaf.kind == "link"]
    must = [leaf for leaf in must if leaf not in links]
    repair = [leaf for leaf in must if leaf.kind == "every-repair"]
    feet = [panels.running_title(script, _facts(order, type_, _FLOW_TEXT)), *repair]
    rest = [leaf for leaf in must if leaf not in repair]
    layout = spread.on_sheets(script, rest, feet, order.paper, type_)
    return _part(script, layout, order, (*layout.left, *links)) if layout else None


def _part(script: Script, layout: Imposition, order: Order, extra: Sequence[Leaf] = ()) -> _Flow:
    before = (*extra, *before_the_flow(script, order.without))
    return _Flow(layout, before, tuple(after_the_flow(script, order.without)))


def _with_panels(
    script: Script, flow: _Flow, type_: Type, order: Order, beside: Type
) -> Sheets | None:
    several = _FLOW_TEXT if flow.layout.count > 1 else ""
    title = panels.running_title(script, _facts(order, type_, several))
    sheets_of = partial(columns.panel_sheets, title=title, paper=order.paper, type_=beside)
    front, back = sheets_of(flow.before), sheets_of(flow.after)
    if front is None or back is None:
        return None
    both = sheets_of((*flow.before, *flow.after))
    if both is not None and len(both) < len(front) + len(back):
        front, back = both, []
    return _whole(script, flow.layout, front, back, order, type_)


def _even(type_: Type) -> Type:
    """Type of one size, for words that are read before hands are laid on."""
    return replace(type_, hands=type_.body)


def _facts(order: Order, type_: Type, flow: str = "") -> Facts:
    capital = type_.family.regular.capital
    # As wide as real counts, so that setting the true ones moves nothing.
    return Facts(
        order.date, order.read_from, type_.body * capital, type_.hands * capital, _SHEET_TEXT, flow
    )


_SHEET_TEXT = "Sheet 0 of 0"
# One word to whoever breaks lines: a count that is set in halves could not be put right.
_FLOW = "Flowchart on {} sheets, {} at least".replace(" ", "\u00a0")
_FLOW_TEXT = _FLOW.format("00", "00")


def _must(script: Script, type_: Type, order: Order) -> list[Leaf]:
    return beside_the_flow(script, _facts(order, type_), order.without, order.link)


def _whole(
    script: Script,
    layout: Imposition,
    front: list[list[Panel]],
    back: list[list[Panel]],
    order: Order,
    type_: Type,
) -> Sheets:
    drawings = [
        *[Drawing(0, 0)] * len(front),
        *_drawings(script, layout, order.paper, type_, order.before + len(front)),
        *[Drawing(0, 0)] * len(back),
    ]
    flow_panels = [[p for n, p in layout.panels if n == sheet] for sheet in range(layout.count)]
    panels_by_sheet = [*front, *flow_panels, *back]
    count = order.before + len(panels_by_sheet)
    capital = type_.family.regular.capital
    flow = _FLOW.format(layout.count, layout.least)
    return Sheets(
        title=_title(script),
        language=order.language,
        sheets=tuple(
            Sheet(
                number,
                _sheet_title(script, number, count),
                order.paper.width,
                order.paper.height,
                drawing,
                tuple(
                    _with_number(
                        _with_number(panel, _FLOW_TEXT, flow, type_.family),
                        _SHEET_TEXT, _sheet_text(number, count), type_.family,
                    )
                    for panel in mine
                ),
            )
            for number, (drawing, mine) in enumerate(
                zip(drawings, panels_by_sheet, strict=True), start=order.before + 1
            )
        ),
        capital=type_.body * capital,
        hands_capital=type_.hands * capital,
        paper=order.paper.says,
        date=order.date,
        least=layout.least,
        hops=layout.hops,
        least_hops=layout.least_hops,
    )


def _drawings(
    script: Script, layout: Imposition, paper: Paper, type_: Type, first: int
) -> list[Drawing]:
    """The flowchart's sheets with their circles lettered; `first` sheets come before."""
    pieces = lettered_pieces(script, layout, type_, first)
    drawings = []
    for number in range(layout.count):
        here = [drawing for sheet, drawing in pieces if sheet == number]
        drawings.append(
            Drawing(
                paper.width,
                paper.height,
                tuple(s for d in here for s in d.symbols),
                tuple(f for d in here for f in d.flows),
                tuple(la for d in here for la in d.labels),
            )
        )
    return drawings


def join(first: Sheets, second: Sheets, family: Family) -> Sheets:
    """Both STARTs' sheets as one chart; those of the second were numbered on from the first's."""
    own, count = len(first.sheets), len(first.sheets) + len(second.sheets)
    with_count = tuple(
        replace(
            sheet,
            title=sheet.title.removesuffix(f" of {own}") + f" of {count}",
            panels=tuple(
                _with_number(panel, _sheet_text(n, own), _sheet_text(n, count), family)
                for panel in sheet.panels
            ),
        )
        for n, sheet in enumerate(first.sheets, start=1)
    )
    return replace(
        first, sheets=(*with_count, *second.sheets), least=first.least + second.least,
        hops=max(first.hops, second.hops), least_hops=max(first.least_hops, second.least_hops),
        rank=max(first.rank, second.rank), capital=min(first.capital, second.capital),
        hands_capital=min(first.hands_capital, second.hands_capital),
    )  # fmt: skip


def _sheet_text(number: int, count: int) -> str:
    return f"Sheet {number} of {count}"


def _with_number(panel: Panel, dummy: str, words_for_it: str, family: Family) -> Panel:
    """The panel with the sheet's true number and count in its title block."""
    if panel.kind != "title":
        return panel
    words: list[Words] = []
    shift = 0.0
    for word in panel.words:
        text = word.text.replace(dummy, words_for_it)
        across = family.face(word.bold).width(text, word.size)
        on_line = bool(words) and abs(words[-1].y - word.y) < 1e-6
        shift = shift if on_line else 0.0
        words.append(replace(word, x=word.x + shift, text=text, width=across))
        shift += across - word.width
    return replace(panel, words=tuple(words))


def _title(script: Script) -> str:
    model = script.model
    name = str(model.get("says") or model["topology"])
    when = f" after {script.after}" if script.after else ""
    return f"{name}, {model['mains']['volts']:g} V: what to test next{when}"


def _sheet_title(script: Script, number: int, count: int) -> str:
    return f"{_title(script)} – sheet {number} of {count}"
