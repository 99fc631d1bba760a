"""What stands at the foot of every sheet of a flowchart on several: title, and every repair.

Each panel is set at the width that leaves most height to the flowchart: beside the one before it
where both fit side by side, else above it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from render.drawing.ink import Panel
from render.drawing.outlines import Type
from render.drawing.papers import Paper
from render.drawing.plot import Plot, Shape
from render.layout.panels import Leaf
from render.layout.panelshapes import Shapes, cell, new_plot

_Set = tuple[Panel, Shape]


@dataclass(frozen=True, slots=True)
class Foot:
    """Panels in their places on the sheet, the cells they take, and the height in mm they cost."""

    panels: tuple[Panel, ...]
    shapes: tuple[tuple[Shape, float, float], ...]
    high: float

    @staticmethod
    def of(leaves: Sequence[Leaf], type_: Type, paper: Paper) -> Foot | None:
        """The lowest foot of those panels; None if one of them can't be set on the paper."""
        choices = [Shapes.of(leaf, type_, paper).panels for leaf in leaves]
        if not all(choices):
            return None
        feet = [_lay(choice, paper) for choice in product(*choices)]
        fitting = [foot for foot in feet if foot is not None]
        return min(fitting, key=lambda foot: (foot.high, _area(foot)), default=None)

    def set_on(self, plot: Plot) -> None:
        """Take the foot's cells on a sheet's plot."""
        for shape, x, y in self.shapes:
            plot.set(shape, x, y)


def _area(foot: Foot) -> float:
    return sum(panel.box.area for panel in foot.panels)


def _lay(choice: Sequence[_Set], paper: Paper) -> Foot | None:
    """The panels from the right lower corner on, row above row."""
    plot, step = new_plot(paper), cell(paper)
    cols, rows = plot.cols, plot.rows
    panels: list[Panel] = []
    shapes: list[tuple[Shape, float, float]] = []
    right, base, top = cols, rows, rows
    for panel, shape in choice:
        deep, across = shape.mask.shape
        if right < cols and across > right:
            right, base = cols, top
        if across > right or deep > base:
            return None
        x, y = (right - across) * step, (base - deep) * step
        right, top = right - across, min(top, base - deep)
        panels.append(panel.move(paper.margin + x, paper.margin + y))
        shapes.append((shape, x, y))
    return Foot(tuple(panels), tuple(shapes), paper.inner_height - top * step + 3 * step)
