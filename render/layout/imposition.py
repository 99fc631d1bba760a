"""Imposition on one sheet: pieces of the flowchart and its panels where the sheet has room.

A plan is cut not at all, coarsely and finely (`cuts`); the piece with START stands at the top left,
the others, the largest first, where they touch most of what stands there. `spread` does it for
plans that take several sheets.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from render.drawing.ink import Drawing, Panel
from render.drawing.outlines import Type
from render.drawing.papers import Paper
from render.drawing.plot import Plot, Shape, shape_of
from render.layout import cuts
from render.layout.boughs import Packer
from render.layout.fronts import Choice, Front
from render.layout.panels import Leaf
from render.layout.panelshapes import (
    CLEAR,
    Shapes,
    cell,
    fit,
    new_plot,
    place_panels,
)
from render.wording.passage import Passage
from render.wording.script import Script

_SIZES = 12
_CUT_PRICES = (math.inf, 1500.0, 400.0, 0.0)
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

    `left` are panels that found no room; `least` is a lower bound on sheets, `hops` how often one
    goes on to another sheet from START to a verdict, on average, and `least_hops` a bound below it.
    """

    pieces: tuple[SetPiece, ...]
    panels: tuple[tuple[int, Panel], ...]
    count: int
    cut: Cut
    left: tuple[Leaf, ...] = ()
    least: int = 1
    hops: float = 0.0
    least_hops: float = 0.0


def packer_for(script: Script, type_: Type, limit: tuple[float, float]) -> Packer:
    """A packer of the whole plan, nothing cut, for pieces no larger than `limit` mm."""
    passage = Passage.of(script)
    trunk = cuts.trunk(script, passage, script.root)
    return Packer(script, type_, frozenset(), cuts.homes(script, passage), limit, trunk)


def on_one_sheet(
    script: Script, leaves: Sequence[Leaf], paper: Paper, type_: Type, cut: Cut | None = None
) -> Imposition | None:
    """The whole chart on one sheet, or None if it will not go.

    `cut` names the only cut to try; None tries none and finer ones.
    """
    area = paper.inner_width * paper.inner_height
    if cuts.words_area(script, type_) > _FULLEST * area:
        return None
    packer = packer_for(script, type_, (paper.inner_width, paper.inner_height))
    panels = [shapes for leaf in leaves for shapes in fit(leaf, type_, paper)]
    if not all(shapes.panels for shapes in panels):
        return None
    # Lines and gaps come on top: of all charts tried, none fuller than this has ever gone.
    if cuts.ink(packer) + sum(shapes.least_area for shapes in panels) > _FULLEST * area:
        return None
    # A trunk drawn straight down first; where that takes too much room, any way that goes.
    for way in (packer, packer.free()):
        trials: set[Cut] = set()
        for trial in _trials(way, cut):
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
    outlines = {step: outlines_of(fronts[step], paper) for step in lifts}
    least = sum(shapes.least_area for shapes in panels)
    loose = sum(cells_of(outlines[step]) for step in lifts)
    for root in outlines_of(fronts[packer.script.root], paper):
        plot = new_plot(paper)
        if not plot.fits_at(root.shape, 0, 0):
            continue
        plot.set(root.shape, 0, 0)
        if plot.free < least + loose:
            continue
        pieces = [at_corner(packer.script.root, root, paper)]
        for step in sorted(lifts, key=lambda s: -cuts.least_area(fronts[s])):
            piece = place_piece(step, outlines[step], plot, paper, 0)
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
class Outline:
    """A size of a piece as drawn, with the cells it takes."""

    drawing: Drawing
    shape: Shape


def outlines_of(front: Front, paper: Paper) -> list[Outline]:
    """The sizes of a front worth trying, each drawn."""
    outlines = []
    for size in _sizes(front):
        drawing = replace(size.draw(0.0, 0.0), width=size.w, height=size.h)
        outlines.append(Outline(drawing, shape_of(drawing.boxes(), CLEAR, cell(paper))))
    return outlines


def at_corner(step: str, outline: Outline, paper: Paper, sheet: int = 0) -> SetPiece:
    """The piece at the sheet's top left corner."""
    return SetPiece(step, sheet, outline.drawing.move(paper.margin, paper.margin))


def cells_of(outlines: Sequence[Outline]) -> float:
    """The least area in mm² that a piece's cells take."""
    return min((o.shape.area for o in outlines), default=0.0)


def place_piece(
    step: str, outlines: Sequence[Outline], plot: Plot, paper: Paper, sheet: int
) -> SetPiece | None:
    """The piece where it touches most of what stands there, its cells taken; None for no room."""
    if plot.free < cells_of(outlines):
        return None
    least = min(o.drawing.width * o.drawing.height for o in outlines)
    best: tuple[float, Outline, float, float] | None = None
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
