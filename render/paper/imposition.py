"""Imposition: parts of the flowchart and panels put on as few sheets as will hold them.

One sheet is tried first, whole, then with up to two sub-plans lifted out and set in a free corner
(joined by connectors). A plan too large for that is cut into pieces that each fit a sheet:
bottom-up, the largest branch of a step is cut off as long as what is left is too large, which for
sizes that add up gives the fewest pieces (Kundu and Misra, SIAM J. Comput. 6, 1977). Pieces, the
largest first, go to the first sheet with room; `least_sheets` bounds what any imposition needs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from render.paper import blocks
from render.paper.boughs import Packer
from render.paper.fronts import Choice, Front
from render.paper.ink import Drawing, Panel
from render.paper.outlines import Type
from render.paper.panels import Leaf, least_width, set_panel
from render.paper.papers import Paper
from render.paper.plot import CELL, Plot, Shape, shape_of
from render.paper.script import Script

CLEAR = 1.5
_SIZES = 8
_PANEL_EMS = (8.0, 9.4, 11.0, 13.0, 15.5, 18.5, 22.0, 27.0, 33.0, 42.0, 56.0, 86.0)
_CUT_PRICES = (math.inf, 4000.0, 1500.0, 400.0, 200.0, 0.0)
_GAPS, _FULLEST = 1.2, 0.86


@dataclass(frozen=True, slots=True)
class SetPiece:
    """A part of the flowchart, the step it begins with, set on sheet `sheet` (from 0)."""

    step: str
    sheet: int
    drawing: Drawing


@dataclass(frozen=True, slots=True)
class Imposed:
    """Everything in its place on `count` sheets; no letters on the connectors yet."""

    pieces: tuple[SetPiece, ...]
    panels: tuple[tuple[int, Panel], ...]
    count: int
    cut: frozenset[str]


def homes(script: Script) -> dict[tuple[str, str], bool]:
    """For each way between steps, whether the later step is drawn there: at its likeliest use."""
    ways: dict[str, list[tuple[float, str]]] = {}
    for step in script.steps.values():
        for way in step.exits:
            ways.setdefault(way.to, []).append((step.reach, step.id))
    found: dict[tuple[str, str], bool] = {}
    for to, users in ways.items():
        first = max(users, key=lambda user: (user[0], user[1]))[1]
        found.update({(user, to): user == first for _, user in users})
    return found


def on_one_sheet(
    script: Script, leaves: Sequence[Leaf], paper: Paper, type_: Type
) -> Imposed | None:
    """The whole chart on one sheet, or None if it will not go."""
    area = paper.inner_width * paper.inner_height
    packer = Packer(
        script, type_, frozenset(), homes(script), (paper.inner_width, paper.inner_height)
    )
    panels = [shapes for leaf in leaves for shapes in _fitted(leaf, type_, paper)]
    if not all(shapes.panels for shapes in panels):
        return None
    # Labels, lines and gaps come on top of the ink: fuller sheets than this have never gone.
    if _ink(packer) * _GAPS + sum(shapes.least_area for shapes in panels) > _FULLEST * area:
        return None
    tried: set[frozenset[str]] = set()
    for price in _CUT_PRICES:
        lifting = _lifted(packer, price)
        if lifting.cut not in tried:
            tried.add(lifting.cut)
            found = _try_one(lifting, panels, paper)
            if found:
                return found
    return None


def _lifted(packer: Packer, price: float) -> Packer:
    """Sub-plans lifted out bottom-up wherever that saves more than `price` mm² of paper."""
    current = packer
    for step in _bottom_up(packer):
        for branch in _own_branches(current, step):
            trial = current.lifting((branch,))
            parts = (current.front(step), trial.front(step), trial.front(branch))
            whole, rest, branch_alone = (_least_area(front) for front in parts)
            if rest + branch_alone + price < whole:
                current = trial
    return current


def _least_area(front: Front) -> float:
    return min((size.w * size.h for size in front), default=math.inf)


def _own_branches(packer: Packer, step: str) -> list[str]:
    """Branches drawn at the step that are more than a verdict, the largest first."""
    ways = [
        way.to
        for way in packer.script.steps[step].exits
        if way.to not in packer.cut
        and packer.homes.get((step, way.to), True)
        and packer.script.steps[way.to].exits
        and step != packer.script.root
    ]
    return sorted(ways, key=lambda to: -_least_area(packer.front(to)))


def _ink(packer: Packer) -> float:
    return sum(
        min(stack.w * stack.h for stack in packer.stacks(step)) for step in packer.script.steps
    )


@dataclass(frozen=True, slots=True)
class _Shapes:
    """A panel at the widths worth trying, with the cells each takes."""

    leaf: Leaf
    panels: tuple[tuple[Panel, Shape], ...]
    least_area: float

    @staticmethod
    def of(leaf: Leaf, type_: Type, paper: Paper) -> _Shapes:
        rooms = _rooms(leaf, type_)
        highest = paper.inner_height - (_TITLE_EMS * type_.body if leaf.unit else 0.0)
        found: list[tuple[Panel, Shape]] = []
        for room in rooms:
            if room > paper.inner_width:
                break
            panel = set_panel(leaf, type_, room)
            if panel.box.h > highest:
                continue
            if found and panel.box.h > found[-1][0].box.h - 0.5:
                continue
            found.append((panel, shape_of([panel.box], CLEAR)))
        least_area = min((p.box.area for p, _ in found), default=math.inf)
        return _Shapes(leaf, tuple(found), least_area)


def _rooms(leaf: Leaf, type_: Type) -> list[float]:
    """The widths in mm at which a panel is worth setting."""
    if leaf.unit:
        return list(blocks.widths(leaf.unit, type_))
    least = least_width(leaf, type_)
    return sorted({max(least, ems * type_.body) for ems in _PANEL_EMS})


def _fitted(leaf: Leaf, type_: Type, paper: Paper) -> list[_Shapes]:
    """The panel, in several parts if it is too large to set in one."""
    shapes = _Shapes.of(leaf, type_, paper)
    if leaf.unit and not shapes.panels:
        # A picture that no sheet can hold at this type size must not keep the words from print.
        return []
    most = _LARGEST_PANEL * paper.inner_width * paper.inner_height
    if (shapes.panels and shapes.least_area <= most) or len(leaf.rows) < 2:
        return [shapes]
    half = (len(leaf.rows) + 1) // 2
    title = leaf.title.removesuffix(_ON)
    parts = (
        replace(leaf, rows=leaf.rows[:half]),
        replace(leaf, rows=leaf.rows[half:], title=title + _ON),
    )
    return [one for part in parts for one in _fitted(part, type_, paper)]


_LARGEST_PANEL = 0.24
_TITLE_EMS = 5.0
_ON = " (continued)"


def _try_one(packer: Packer, panels: Sequence[_Shapes], paper: Paper) -> Imposed | None:
    lifted = sorted(packer.cut)
    fronts = {step: packer.front(step) for step in (packer.script.root, *lifted)}
    if not all(fronts.values()):
        return None
    outlines = {step: [_Outline.of(c) for c in _sizes(fronts[step])] for step in lifted}
    wanted = sum(shapes.least_area for shapes in panels)
    loose = sum(_cells(outlines[step]) for step in lifted)
    for size in _sizes(fronts[packer.script.root]):
        plot = Plot(paper.inner_width + CLEAR, paper.inner_height + CLEAR)
        root = _placed_root(size, plot, packer.script.root, paper)
        if root is None or plot.free < wanted + loose:
            continue
        pieces: list[SetPiece] | None = [root]
        for step in sorted(lifted, key=lambda s: -_least_area(fronts[s])):
            placed = _place_piece(step, outlines[step], plot, paper, 0)
            if placed is None:
                pieces = None
                break
            assert pieces is not None
            pieces.append(placed)
        if pieces is None or plot.free < wanted:
            continue
        set_panels = _place_panels(panels, plot, paper)
        if set_panels is not None:
            return Imposed(tuple(pieces), tuple((0, p) for p in set_panels), 1, packer.cut)
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

    @staticmethod
    def of(size: Choice) -> _Outline:
        drawing = replace(size.draw(0.0, 0.0), width=size.w, height=size.h)
        return _Outline(drawing, shape_of(drawing.boxes(), CLEAR))


def _placed_root(size: Choice, plot: Plot, root: str, paper: Paper) -> SetPiece | None:
    drawing = size.draw(0.0, 0.0)
    shape = shape_of(drawing.boxes(), CLEAR)
    if not plot.fits_at(shape, 0, 0):
        return None
    plot.set(shape, 0, 0)
    return SetPiece(
        root, 0, replace(drawing.moved(paper.margin, paper.margin), width=size.w, height=size.h)
    )


def _cells(outlines: Sequence[_Outline]) -> float:
    """The least area in mm² that a piece's cells take."""
    return min((o.shape.area for o in outlines), default=0.0)


def _place_piece(
    step: str, outlines: Sequence[_Outline], plot: Plot, paper: Paper, sheet: int
) -> SetPiece | None:
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
    return SetPiece(step, sheet, outline.drawing.moved(paper.margin + x, paper.margin + y))


def _place_panels(panels: Sequence[_Shapes], plot: Plot, paper: Paper) -> list[Panel] | None:
    placed: list[Panel] = []
    for shapes in sorted(panels, key=lambda s: (s.leaf.kind != "title", -s.least_area)):
        panel = _place_panel(shapes, plot, paper)
        if panel is None:
            return None
        placed.append(panel)
    return placed


def _place_panel(shapes: _Shapes, plot: Plot, paper: Paper) -> Panel | None:
    pull = (1.5, 1.5) if shapes.leaf.kind == "title" else (0.0, 0.0)
    best: tuple[float, Panel, Shape, float, float] | None = None
    for panel, shape in shapes.panels:
        spot = plot.best_spot(shape, pull)
        if spot is None:
            continue
        score = spot.touch - 0.6 * (panel.box.area / shapes.least_area - 1)
        if shapes.leaf.unit:
            # The fewer rows the power's way is folded into, the better it is read.
            score -= panel.box.h / paper.inner_height
        if best is None or score > best[0]:
            best = (score, panel, shape, spot.x, spot.y)
    if best is None:
        return None
    _, panel, shape, x, y = best
    plot.set(shape, x, y)
    return panel.moved(paper.margin + x, paper.margin + y)


def on_sheets(
    script: Script, leaves: Sequence[Leaf], title: Leaf, paper: Paper, type_: Type
) -> Imposed | None:
    """The flowchart on as many sheets as it takes, `title` on each and `leaves` where they fit.

    None if a single step is larger than what a sheet leaves beside its title.
    """
    heading = _Shapes.of(title, type_, paper)
    if not heading.panels:
        return None
    strip = min(panel.box.h for panel, _ in heading.panels) + 2 * CELL
    limit = (paper.inner_width, paper.inner_height - strip)
    packer = Packer(script, type_, frozenset(), homes(script), limit)
    fitting = _cut_to_fit(packer)
    if fitting is None:
        return None
    packer = fitting
    fronts = {step: packer.front(step) for step in (script.root, *sorted(packer.cut))}
    order = [script.root, *sorted(sorted(packer.cut), key=lambda s: -_least_area(fronts[s]))]
    pages = _Pages(paper, heading)
    pieces = [pages.take(step, [_Outline.of(c) for c in fronts[step]]) for step in order]
    for leaf in leaves:
        for shapes in _fitted(leaf, type_, paper):
            if not shapes.panels:
                return None
            pages.add(shapes)
    return Imposed(tuple(pieces), tuple(pages.panels), len(pages.plots), packer.cut)


def panel_sheets(
    leaves: Sequence[Leaf], title: Leaf, paper: Paper, type_: Type
) -> list[list[Panel]] | None:
    """Panels alone on as few sheets as hold them in turn, the largest first; None if one is
    larger than a sheet."""
    heading = _Shapes.of(title, type_, paper)
    every = [shapes for leaf in leaves for shapes in _fitted(leaf, type_, paper)]
    if not heading.panels or not all(shapes.panels for shapes in every):
        return None
    pages = _Pages(paper, heading)
    for shapes in sorted(every, key=lambda s: -s.least_area):
        pages.add(shapes)
    sheets: list[list[Panel]] = [[] for _ in pages.plots]
    for sheet, panel in pages.panels:
        sheets[sheet].append(panel)
    return sheets


class _Pages:
    """Sheets filled one after the other, each begun with its title block."""

    def __init__(self, paper: Paper, heading: _Shapes) -> None:
        self.paper, self.heading = paper, heading
        self.plots: list[Plot] = []
        self.panels: list[tuple[int, Panel]] = []

    def take(self, step: str, outlines: Sequence[_Outline]) -> SetPiece:
        """The piece on the first sheet with room, else on a new one."""
        for sheet, plot in enumerate(self.plots):
            placed = _place_piece(step, outlines, plot, self.paper, sheet)
            if placed:
                return placed
        self._begin()
        placed = _place_piece(step, outlines, self.plots[-1], self.paper, len(self.plots) - 1)
        assert placed is not None, "fronts hold only sizes that fit beside a title"
        return placed

    def add(self, shapes: _Shapes) -> None:
        """The panel on the first sheet with room, else on a new one."""
        for sheet, plot in enumerate(self.plots):
            panel = _place_panel(shapes, plot, self.paper)
            if panel:
                self.panels.append((sheet, panel))
                return
        self._begin()
        panel = _place_panel(shapes, self.plots[-1], self.paper)
        assert panel is not None, "panels keep to sizes that fit beside a title"
        self.panels.append((len(self.plots) - 1, panel))

    def _begin(self) -> None:
        plot = Plot(self.paper.inner_width + CLEAR, self.paper.inner_height + CLEAR)
        panel, shape = min(self.heading.panels, key=lambda pair: pair[0].box.h)
        x = (plot.cols - shape.mask.shape[1]) * CELL
        y = (plot.rows - shape.mask.shape[0]) * CELL
        plot.set(shape, x, y)
        self.plots.append(plot)
        placed = panel.moved(self.paper.margin + x, self.paper.margin + y)
        self.panels.append((len(self.plots) - 1, placed))


def _cut_to_fit(packer: Packer) -> Packer | None:
    """Cuts branches off, the largest first, until every piece fits a sheet."""
    current = packer
    for step in _bottom_up(packer):
        while not current.front(step):
            branches = [
                way.to
                for way in current.script.steps[step].exits
                if way.to not in current.cut and current.homes.get((step, way.to), True)
            ]
            if not branches:
                return None
            largest = max(branches, key=lambda b: _least_area(current.front(b)))
            current = current.lifting((largest,))
            if not current.front(largest):
                return None
    return current


def _bottom_up(packer: Packer) -> list[str]:
    order: list[str] = []
    seen: set[str] = set()
    stack: list[tuple[str, bool]] = [(packer.script.root, False)]
    while stack:
        step, done = stack.pop()
        if done:
            order.append(step)
        elif step not in seen:
            seen.add(step)
            stack.append((step, True))
            stack.extend((way.to, False) for way in packer.script.steps[step].exits)
    return order


def least_sheets(packer: Packer, leaves: Iterable[Leaf], paper: Paper) -> int:
    """No imposition needs fewer sheets: the ink's area over a sheet's."""
    area = _ink(packer) + sum(_Shapes.of(leaf, packer.type_, paper).least_area for leaf in leaves)
    return max(1, math.ceil(area / (paper.inner_width * paper.inner_height)))
