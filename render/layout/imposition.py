"""Imposition: pieces of the flowchart and panels put on as few sheets as will hold them.

Objective, each before the next: fewest sheets; fewest connectors that lead to another sheet;
fewest connectors at all. Cutting a tree so that its pieces pack best holds bin packing, which is
NP-hard, so the search is a heuristic with a bound: plans are cut coarsely and finely (`cuts`),
their pieces set, the largest first, on the first sheet where kin stands or else the first with
room (first fit decreasing, Johnson 1973), and the best of these kept. `least_sheets` is below what
any imposition in the same words and type needs; where it is met, the count is proved least.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from render.drawing.ink import Drawing, Panel
from render.drawing.outlines import Type
from render.drawing.papers import Paper
from render.drawing.plot import Plot, Shape, shape_of
from render.layout import cuts
from render.layout.boughs import Packer
from render.layout.foot import Foot
from render.layout.fronts import Choice, Front
from render.layout.panels import Leaf
from render.layout.panelshapes import (
    CLEAR,
    Shapes,
    cell,
    fit,
    new_plot,
    place_panel,
    place_panels,
)
from render.wording.script import Script, reading_order

_SIZES = 12
_CUT_PRICES = (math.inf, 1500.0, 400.0, 0.0)
# Largest piece as a share of a sheet: whole sheets, and halves and thirds that share one.
_GRAINS = (1.0, 0.6, 0.4)
_FULLEST = 0.74

Cut = frozenset[str]


@dataclass(frozen=True, slots=True)
class SetPiece:
    """A part of the flowchart, the step it begins with, set on sheet `sheet` (from 0)."""

    step: str
    sheet: int
    drawing: Drawing


@dataclass(frozen=True, slots=True)
class Imposition:
    """Everything in its place on `count` sheets; no letters on the connectors yet.

    `left` are panels that found no room, `least` is a lower bound on sheets.
    """

    pieces: tuple[SetPiece, ...]
    panels: tuple[tuple[int, Panel], ...]
    count: int
    cut: Cut
    left: tuple[Leaf, ...] = ()
    least: int = 1


def packer_for(script: Script, type_: Type, limit: tuple[float, float]) -> Packer:
    """A packer of the whole plan, nothing cut, for pieces no larger than `limit` mm."""
    return Packer(script, type_, frozenset(), cuts.homes(script), limit)


def on_one_sheet(
    script: Script, leaves: Sequence[Leaf], paper: Paper, type_: Type, cut: Cut | None = None
) -> Imposition | None:
    """The whole chart on one sheet, or None if it will not go.

    `cut` names the only cut to try; None tries none and finer ones.
    """
    area = paper.inner_width * paper.inner_height
    packer = packer_for(script, type_, (paper.inner_width, paper.inner_height))
    panels = [shapes for leaf in leaves for shapes in fit(leaf, type_, paper)]
    if not all(shapes.panels for shapes in panels):
        return None
    # Lines and gaps come on top: of all charts tried, none fuller than this has ever gone.
    if cuts.ink(packer) + sum(shapes.least_area for shapes in panels) > _FULLEST * area:
        return None
    trials: set[Cut] = set()
    for trial in _trials(packer, cut):
        if trial.cut not in trials:
            trials.add(trial.cut)
            imposition = _try_one(trial, panels, paper)
            if imposition:
                return imposition
    return None


def _trials(packer: Packer, cut: Cut | None) -> Iterator[Packer]:
    if cut is not None:
        yield packer.lifting(cut)
        return
    for price in _CUT_PRICES:
        yield cuts.lift(packer, price)


def _try_one(packer: Packer, panels: Sequence[Shapes], paper: Paper) -> Imposition | None:
    lifts = sorted(packer.cut)
    fronts = {step: packer.front(step) for step in (packer.script.root, *lifts)}
    if not all(fronts.values()):
        return None
    outlines = {step: _outlines(fronts[step], paper) for step in lifts}
    least = sum(shapes.least_area for shapes in panels)
    loose = sum(_cells(outlines[step]) for step in lifts)
    for root in _outlines(fronts[packer.script.root], paper):
        plot = new_plot(paper)
        if not plot.fits_at(root.shape, 0, 0):
            continue
        plot.set(root.shape, 0, 0)
        if plot.free < least + loose:
            continue
        pieces = [_at_corner(packer.script.root, root, paper)]
        for step in sorted(lifts, key=lambda s: -cuts.least_area(fronts[s])):
            piece = _place_piece(step, outlines[step], plot, paper, 0)
            if piece is None:
                break
            pieces.append(piece)
        if len(pieces) <= len(lifts) or plot.free < least:
            continue
        set_panels = place_panels(panels, plot, paper)
        if set_panels is not None:
            return Imposition(tuple(pieces), tuple((0, p) for p in set_panels), 1, packer.cut)
    return None


def _sizes(front: Front) -> list[Choice]:
    """Sizes worth trying: of the smaller ones by area, spread over the front."""
    by_area = sorted(front, key=lambda c: c.w * c.h)[: 2 * _SIZES]
    by_width = sorted(by_area, key=lambda c: c.w)
    step = max(1, len(by_width) // _SIZES)
    return sorted(by_width[::step], key=lambda c: c.w * c.h)


@dataclass(frozen=True, slots=True)
class _Outline:
    """A size of a piece as drawn, with the cells it takes."""

    drawing: Drawing
    shape: Shape


def _outlines(front: Front, paper: Paper) -> list[_Outline]:
    outlines = []
    for size in _sizes(front):
        drawing = replace(size.draw(0.0, 0.0), width=size.w, height=size.h)
        outlines.append(_Outline(drawing, shape_of(drawing.boxes(), CLEAR, cell(paper))))
    return outlines


def _at_corner(step: str, outline: _Outline, paper: Paper) -> SetPiece:
    return SetPiece(step, 0, outline.drawing.move(paper.margin, paper.margin))


def _cells(outlines: Sequence[_Outline]) -> float:
    """The least area in mm² that a piece's cells take."""
    return min((o.shape.area for o in outlines), default=0.0)


def _place_piece(
    step: str, outlines: Sequence[_Outline], plot: Plot, paper: Paper, sheet: int
) -> SetPiece | None:
    if plot.free < _cells(outlines):
        return None
    least = min(o.drawing.width * o.drawing.height for o in outlines)
    best: tuple[float, _Outline, float, float] | None = None
    for outline in outlines:
        spot = plot.best_spot(outline.shape)
        if spot is None:
            continue
        area = outline.drawing.width * outline.drawing.height
        score = spot.touch - 0.25 * (area / least - 1)
        if best is None or score > best[0]:
            best = (score, outline, spot.x, spot.y)
    if best is None:
        return None
    _, outline, x, y = best
    plot.set(outline.shape, x, y)
    return SetPiece(step, sheet, outline.drawing.move(paper.margin + x, paper.margin + y))


def on_sheets(
    script: Script,
    leaves: Sequence[Leaf],
    feet: Sequence[Leaf],
    paper: Paper,
    type_: Type,
    cut: Cut | None = None,
) -> Imposition | None:
    """The flowchart on as many sheets as it takes, `feet` at the foot of each and `leaves` where
    they fit.

    `cut` names a cut to begin from and nothing coarser or finer is tried. None if a single step is
    larger than what a sheet leaves above its foot.
    """
    foot = Foot.of(feet, type_, paper)
    if foot is None:
        return None
    limit = (paper.inner_width, paper.inner_height - foot.high)
    packer = packer_for(script, type_, limit)
    least = least_sheets(packer, paper)
    best: _Pages | None = None
    for trial in _cut_trials(packer, limit[0] * limit[1], cut):
        pages = _Pages(paper, foot, trial)
        if best is None or pages.merit < best.merit:
            best = pages
        if best.merit[0] == least:
            break
    return best.imposition(leaves, type_, least) if best else None


def _cut_trials(packer: Packer, area: float, cut: Cut | None) -> Iterator[Packer]:
    trials: set[Cut] = set()
    if cut is not None:
        again = cuts.to_fit(packer.lifting(cut), math.inf)
        if again:
            yield again
        return
    for grain in _GRAINS:
        fitting = cuts.to_fit(packer, grain * area)
        if fitting is None:
            return
        for price in _CUT_PRICES[:3:2]:
            trial = cuts.lift(fitting, price)
            if trial.cut not in trials:
                trials.add(trial.cut)
                yield trial


class _Pages:
    """Sheets filled with the pieces of a cut plan, each begun with what stands at its foot."""

    def __init__(self, paper: Paper, foot: Foot, packer: Packer) -> None:
        self.paper, self.foot, self.packer = paper, foot, packer
        self.plots: list[Plot] = []
        self.pieces: list[SetPiece] = []
        root = packer.script.root
        fronts = {step: packer.front(step) for step in (root, *packer.cut)}
        self._begin(_outlines(fronts[root], paper))
        self.kin = _kin(packer)
        for step in sorted(packer.cut, key=lambda s: (-cuts.least_area(fronts[s]), s)):
            self._take(step, _outlines(fronts[step], paper))
        self.merit = (len(self.plots), *self._connectors())

    def _begin(self, outlines: Sequence[_Outline]) -> None:
        """The first sheet with the plan's beginning at its top left corner."""
        self._add_sheet()
        for outline in outlines:
            if self.plots[0].fits_at(outline.shape, 0, 0):
                self.plots[0].set(outline.shape, 0, 0)
                self.pieces.append(_at_corner(self.packer.script.root, outline, self.paper))
                return
        self._take(self.packer.script.root, outlines)

    def _take(self, step: str, outlines: Sequence[_Outline]) -> None:
        """The piece on a sheet with room, where its kin stands if it can; else on a new sheet."""
        near = [piece.sheet for piece in self.pieces if piece.step in self.kin.get(step, ())]
        sheets = sorted(range(len(self.plots)), key=lambda sheet: (-near.count(sheet), sheet))
        for sheet in sheets:
            placed = _place_piece(step, outlines, self.plots[sheet], self.paper, sheet)
            if placed:
                self.pieces.append(placed)
                return
        self._add_sheet()
        last = len(self.plots) - 1
        placed = _place_piece(step, outlines, self.plots[last], self.paper, last)
        assert placed is not None, "fronts hold only sizes that fit beside a title"
        self.pieces.append(placed)

    def _add_sheet(self) -> None:
        plot = new_plot(self.paper)
        self.foot.set_on(plot)
        self.plots.append(plot)

    def _connectors(self) -> tuple[int, int]:
        """Connectors that lead to another sheet, and all of them."""
        where = {
            symbol.anchor.removeprefix("in:"): piece.sheet
            for piece in self.pieces
            for symbol in piece.drawing.symbols
            if symbol.anchor.startswith("in:")
        }
        ends = [
            (piece.sheet, where[symbol.link])
            for piece in self.pieces
            for symbol in piece.drawing.symbols
            if symbol.link
        ]
        return sum(a != b for a, b in ends), len(ends)

    def imposition(self, leaves: Sequence[Leaf], type_: Type, least: int) -> Imposition:
        """The sheets in reading order, with the panels that still find room."""
        order = {step: place for place, step in enumerate(reading_order(self.packer.script))}
        first = [
            min(order[piece.step] for piece in self.pieces if piece.sheet == sheet)
            for sheet in range(len(self.plots))
        ]
        rank = {
            sheet: n for n, sheet in enumerate(sorted(range(len(first)), key=first.__getitem__))
        }
        panels = [(n, panel) for n in range(len(self.plots)) for panel in self.foot.panels]
        left = []
        for leaf in leaves:
            places = self._places_of(fit(leaf, type_, self.paper), rank)
            panels.extend(places)
            if not places:
                left.append(leaf)
        pieces = tuple(replace(piece, sheet=rank[piece.sheet]) for piece in self.pieces)
        return Imposition(
            pieces, tuple(panels), len(self.plots), self.packer.cut, tuple(left), least
        )

    def _places_of(self, parts: Sequence[Shapes], rank: dict[int, int]) -> list[tuple[int, Panel]]:
        """A panel in one piece on the first sheet with room; empty if there is none."""
        if len(parts) != 1 or not parts[0].panels:
            return []
        for sheet in sorted(rank, key=rank.__getitem__):
            panel = place_panel(parts[0], self.plots[sheet], self.paper)
            if panel:
                return [(rank[sheet], panel)]
        return []


def _kin(packer: Packer) -> dict[str, set[str]]:
    """For each piece, by its first step, the pieces that connectors join it to."""
    home: dict[str, str] = {}
    for step in reading_order(packer.script):
        for start in [step] if step == packer.script.root or step in packer.cut else []:
            for member in _members(packer, start):
                home[member] = start
    kin: dict[str, set[str]] = {}
    for step_id, start in home.items():
        for way in packer.script.steps[step_id].exits:
            other = home[way.to]
            if other != start:
                kin.setdefault(start, set()).add(other)
                kin.setdefault(other, set()).add(start)
    return kin


def _members(packer: Packer, start: str) -> Iterable[str]:
    todo = [start]
    while todo:
        step = todo.pop()
        yield step
        todo.extend(
            way.to
            for way in packer.script.steps[step].exits
            if way.to not in packer.cut and packer.homes.get((step, way.to), True)
        )


def least_sheets(packer: Packer, paper: Paper) -> int:
    """No imposition in these words and this type needs fewer: the symbols' area over a sheet's."""
    return max(1, math.ceil(cuts.ink(packer) / (paper.inner_width * paper.inner_height)))
