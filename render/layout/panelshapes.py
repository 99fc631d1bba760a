"""Panels set at several widths, and each put where the sheet has room for it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from render.drawing.ink import Panel
from render.drawing.outlines import Type
from render.drawing.papers import Paper
from render.drawing.plot import Plot, Shape, shape_of
from render.drawing.squarecode import matrix
from render.layout import blocks, linkpanel
from render.layout.panels import Leaf, least_width, set_panel

CLEAR = 1.5
_PANEL_EMS = (8.0, 9.4, 11.0, 13.0, 15.5, 18.5, 22.0, 27.0, 33.0, 42.0, 56.0, 86.0)
_LEAST_PICTURED = 12.5
_FINEST_MM, _MOST_CELLS = 1.5, 220


@dataclass(frozen=True, slots=True)
class Shapes:
    """A panel at the widths worth trying, with the cells each takes."""

    leaf: Leaf
    panels: tuple[tuple[Panel, Shape], ...]
    least_area: float

    @staticmethod
    def of(leaf: Leaf, type_: Type, paper: Paper) -> Shapes:
        """The panel at every width that the paper has room for."""
        rooms = _rooms(leaf, type_)
        highest = paper.inner_height - (_TITLE_EMS * type_.body if leaf.unit else 0.0)
        shapes: list[tuple[Panel, Shape]] = []
        for room in rooms:
            if room > paper.inner_width:
                break
            panel = set_panel(leaf, type_, room)
            if panel.box.h > highest:
                continue
            if shapes and panel.box.h > shapes[-1][0].box.h - 0.5:
                continue
            shapes.append((panel, shape_of([panel.box], CLEAR, cell(paper))))
        least_area = min((p.box.area for p, _ in shapes), default=math.inf)
        return Shapes(leaf, tuple(shapes), least_area)


def cell(paper: Paper) -> float:
    """The width in mm of the cells that the paper is weighed in: finer on small paper."""
    return max(_FINEST_MM, max(paper.width, paper.height) / _MOST_CELLS)


def new_plot(paper: Paper) -> Plot:
    """The printable area of the paper, empty."""
    return Plot(paper.inner_width + CLEAR, paper.inner_height + CLEAR, cell(paper))


def _rooms(leaf: Leaf, type_: Type) -> list[float]:
    """The widths in mm at which a panel is worth setting."""
    if leaf.unit:
        return list(blocks.widths(leaf.unit, type_))
    if leaf.address:
        return list(linkpanel.widths(matrix(leaf.address), type_))
    with_figure = any(row.figure for row in leaf.rows)
    least = max(least_width(leaf, type_), _LEAST_PICTURED * type_.body if with_figure else 0.0)
    return sorted({max(least, ems * type_.body) for ems in _PANEL_EMS})


def fit(leaf: Leaf, type_: Type, paper: Paper) -> list[Shapes]:
    """The panel, in several parts if it is too large to set in one."""
    shapes = Shapes.of(leaf, type_, paper)
    if leaf.unit and not shapes.panels:
        # A picture that no sheet can hold at this type size must not keep the words from print.
        return []
    most = _LARGEST_PANEL * paper.inner_width * paper.inner_height
    if (shapes.panels and shapes.least_area <= most) or len(leaf.rows) < 2:
        return [shapes]
    half = (len(leaf.rows) + 1) // 2
    parts = (replace(leaf, rows=leaf.rows[:half]), leaf.going_on(half))
    return [one for part in parts for one in fit(part, type_, paper)]


_LARGEST_PANEL = 0.24
_TITLE_EMS = 5.0


def place_panels(panels: Sequence[Shapes], plot: Plot, paper: Paper) -> list[Panel] | None:
    """All panels on one sheet, the title block first; None if one finds no room."""
    places: list[Panel] = []
    for shapes in sorted(panels, key=lambda s: (s.leaf.kind != "title", -s.least_area)):
        panel = place_panel(shapes, plot, paper)
        if panel is None:
            return None
        places.append(panel)
    return places


def place_panel(shapes: Shapes, plot: Plot, paper: Paper) -> Panel | None:
    """The panel where it touches most of what stands there; None if it finds no room."""
    pull = (1.5, 1.5) if shapes.leaf.kind == "title" else (0.0, 0.0)
    best: tuple[float, Panel, Shape, float, float] | None = None
    for panel, shape in shapes.panels:
        spot = plot.best_spot(shape, pull)
        if spot is None:
            continue
        score = spot.touch - 0.6 * (panel.box.area / shapes.least_area - 1)
        if shapes.leaf.kind == "title":
            # A title block lies at the foot; standing it looks like a leftover.
            score -= 0.4 * max(0.0, panel.box.h / panel.box.w - 0.5)
        if shapes.leaf.unit:
            # The fewer rows the power's way is folded into, the better it is read.
            score -= panel.box.h / paper.inner_height
        if best is None or score > best[0]:
            best = (score, panel, shape, spot.x, spot.y)
    if best is None:
        return None
    _, panel, shape, x, y = best
    plot.set(shape, x, y)
    return panel.move(paper.margin + x, paper.margin + y)
