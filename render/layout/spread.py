"""A flowchart over several sheets: fewest expected hops from sheet to sheet, then fewest sheets.

The sheet with START takes the trunk, drawn straight down, and then what is likeliest come to, as
much as will go; what is left of each branch begins on another sheet, the likeliest first, and is
cut again only where it is larger than a sheet. Small branches fill the room that larger ones leave,
so that a circle leads to the same sheet where it can. How much of a branch goes on a sheet is found
by bisection over its steps in order of odds: more steps never take less room. Choosing the steps
is a precedence-constrained knapsack, NP-hard; `bounds` tells how far from the best this can be.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from heapq import heappop, heappush

from render.drawing.ink import Panel
from render.drawing.outlines import Type
from render.drawing.papers import Paper
from render.drawing.plot import Plot
from render.layout import bounds, cuts
from render.layout.boughs import Packer
from render.layout.foot import Foot
from render.layout.imposition import (
    Imposition,
    Outline,
    SetPiece,
    at_corner,
    cells_of,
    outlines_of,
    place_piece,
)
from render.layout.panels import Leaf
from render.layout.panelshapes import Shapes, fit, new_plot, place_panel
from render.wording.passage import Passage
from render.wording.script import Exit, Script, reading_order

# Symbols fill about this share of a sheet; trials begin there.
_USUAL_FILL = 0.6
_MOST_TRIALS = 6
# Of the height of a sheet, what a column of the trunk takes before it goes on beside itself.
_COLUMN = 0.9


def on_sheets(
    script: Script, leaves: Sequence[Leaf], feet: Sequence[Leaf], paper: Paper, type_: Type
) -> Imposition | None:
    """The flowchart on as many sheets as it takes, `feet` at the foot of each and `leaves` where
    they fit. None if a single step is larger than what a sheet leaves above its foot.
    """
    foot = Foot.of(feet, type_, paper)
    if foot is None:
        return None
    limit = (paper.inner_width, paper.inner_height - foot.high)
    passage = Passage.of(script)
    packer = Packer(
        script, type_, frozenset(), cuts.homes(script, passage), limit,
        cuts.trunk(script, passage, script.root),
    )  # fmt: skip
    spread = _Spread(paper, foot, passage, packer)
    return spread.imposition(leaves, type_) if spread.fill() else None


@dataclass(slots=True)
class _Spread:
    """Sheets filled one after the other; `packer` knows the cuts so far, `waiting` what they left
    to draw."""

    paper: Paper
    foot: Foot
    passage: Passage
    packer: Packer
    plots: list[Plot] = field(default_factory=list)
    pieces: list[SetPiece] = field(default_factory=list)
    waiting: list[str] = field(default_factory=list)
    _inks: dict[str, float] = field(default_factory=dict)
    _outlines: dict[tuple[str, frozenset[str]], list[Outline]] = field(default_factory=dict)

    def fill(self) -> bool:
        """Draw everything; False if a single step is larger than a sheet."""
        self.waiting = [self.packer.script.root]
        while self.waiting:
            step = max(self.waiting, key=lambda s: (self.passage.arrivals[s], s))
            plot = new_plot(self.paper)
            self.foot.set_on(plot)
            self.plots.append(plot)
            if not self._begin(step, len(self.plots) - 1):
                return False
            self._fill_pockets()
        return True

    def _begin(self, step: str, sheet: int) -> bool:
        """As much of the branch as the new sheet holds; False if not even its first step goes."""
        order = self._by_odds(step)
        least, most = 0, len(order)
        best: _Trial | None = None
        count = self._usual_count(order)
        for _ in range(_MOST_TRIALS):
            trial = self._trial(order[:count], sheet)
            if trial:
                least, best = count, trial
            else:
                most = count - 1
            if least >= most:
                break
            ahead = max(1, (most - least + 1) // 2)
            count = most if trial and most - least <= 2 else least + ahead
        if best is None and (best := self._trial(order[:1], sheet)) is None:
            return False
        self.plots[sheet], self.packer = best.plot, best.packer
        self.pieces.extend(best.pieces)
        self.waiting.remove(step)
        self.waiting.extend(best.left)
        return True

    def _usual_count(self, order: Sequence[str]) -> int:
        room = _USUAL_FILL * self.packer.limit[0] * self.packer.limit[1]
        for count, step in enumerate(order):
            room -= self._ink(step)
            if room < 0:
                return max(1, count)
        return len(order)

    def _ink(self, step: str) -> float:
        """What a step takes with the verdicts that hang on it, mm²."""
        if step not in self._inks:
            ends = [way.to for way in self._branches(step) if not self._goes_on(way.to)]
            self._inks[step] = sum(cuts.ink_of(self.packer, one) for one in (step, *ends))
        return self._inks[step]

    def _branches(self, step: str) -> list[Exit]:
        """The branches of a step that are drawn at it."""
        packer = self.packer
        ways = packer.script.steps[step].exits
        return [w for w in ways if packer.homes[step, w.to] and w.to not in packer.cut]

    def _goes_on(self, step: str) -> bool:
        return bool(self.packer.script.steps[step].exits)

    def _by_odds(self, begin: str) -> list[str]:
        """The branch's steps but its verdicts, each after the one before it: the trunk, then what
        is likeliest come to."""
        order: list[str] = []
        heap: list[tuple[int, float, str]] = []
        trunk = {*self.packer.trunk, *self.packer.trunk.values()}

        def push(step: str) -> None:
            heappush(heap, (step not in trunk, -self.passage.arrivals[step], step))

        push(begin)
        while heap:
            step = heappop(heap)[2]
            order.append(step)
            for way in self._branches(step):
                if self._goes_on(way.to):
                    push(way.to)
        return order

    def _trial(self, steps: Sequence[str], sheet: int) -> _Trial | None:
        """Those steps and their verdicts on the sheet; None if they don't go."""
        inside = set(steps)
        left = [
            way.to
            for step in steps
            for way in self._branches(step)
            if self._goes_on(way.to) and way.to not in inside
        ]
        folds = self._folds(steps)
        packer = self.packer.lifting((*left, *folds))
        first, *more = fronts = [packer.front(step) for step in (steps[0], *folds)]
        if not all(fronts):
            return None
        outlines = [outlines_of(front, self.paper) for front in more]
        room = sum(cells_of(one) for one in outlines)
        for outline in outlines_of(first, self.paper):
            plot = copy(self.plots[sheet])
            plot.taken = plot.taken.copy()
            if not plot.fits_at(outline.shape, 0, 0):
                continue
            plot.set(outline.shape, 0, 0)
            if plot.free < room:
                continue
            pieces = [at_corner(steps[0], outline, self.paper, sheet)]
            for fold, sizes in zip(folds, outlines, strict=True):
                piece = place_piece(fold, sizes, plot, self.paper, sheet)
                if piece is None:
                    break
                pieces.append(piece)
            else:
                return _Trial(tuple(pieces), plot, packer, tuple(left))
        return None

    def _folds(self, steps: Sequence[str]) -> list[str]:
        """Where the trunk goes on in a column beside itself, for want of height."""
        folds: list[str] = []
        high = 0.0
        most = _COLUMN * self.packer.limit[1]
        for step in steps:
            if step not in self.packer.trunk:
                break
            stacks = self.packer.stacks(step)
            own = stacks[len(stacks) // 2].h + 1.5 * self.packer.type_.body
            if high and high + own > most:
                folds.append(step)
                high = 0.0
            high += own
        return folds

    def _fill_pockets(self) -> None:
        """Branches that go whole where a sheet has room, the likeliest first."""
        for step in sorted(self.waiting, key=lambda s: (-self.passage.arrivals[s], s)):
            outlines = self._whole(step)
            for sheet, plot in enumerate(self.plots):
                piece = place_piece(step, outlines, plot, self.paper, sheet) if outlines else None
                if piece:
                    self.pieces.append(piece)
                    self.waiting.remove(step)
                    break

    def _whole(self, step: str) -> list[Outline]:
        key = (step, self.packer.cut)
        if key not in self._outlines:
            self._outlines[key] = outlines_of(self.packer.front(step), self.paper)
        return self._outlines[key]

    def imposition(self, leaves: Sequence[Leaf], type_: Type) -> Imposition:
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
            pieces, tuple(panels), len(self.plots), self.packer.cut, tuple(left),
            bounds.least_sheets(self.packer, self.paper), self._hops(),
            bounds.least_hops(self.packer, self.passage, self.paper),
        )  # fmt: skip

    def _places_of(self, parts: Sequence[Shapes], rank: dict[int, int]) -> list[tuple[int, Panel]]:
        """A panel in one piece on the first sheet with room; empty if there is none."""
        if len(parts) != 1 or not parts[0].panels:
            return []
        for sheet in sorted(rank, key=rank.__getitem__):
            panel = place_panel(parts[0], self.plots[sheet], self.paper)
            if panel:
                return [(rank[sheet], panel)]
        return []

    def _hops(self) -> float:
        """How often one goes on to another sheet from START to a verdict, on average."""
        sheet_of = {
            member: piece.sheet
            for piece in self.pieces
            for member in _members(self.packer, piece.step)
        }
        return sum(
            odds
            for (step, to), odds in self.passage.ways.items()
            if sheet_of[step] != sheet_of[to]
        )


@dataclass(frozen=True, slots=True)
class _Trial:
    """A branch's first steps in their places on a sheet, and those `left` to begin elsewhere."""

    pieces: tuple[SetPiece, ...]
    plot: Plot
    packer: Packer
    left: tuple[str, ...]


def _members(packer: Packer, start: str) -> Iterable[str]:
    """The steps of the piece that begins with one."""
    todo = [start]
    while todo:
        step = todo.pop()
        yield step
        todo.extend(
            way.to
            for way in packer.script.steps[step].exits
            if way.to not in packer.cut and packer.homes[step, way.to]
        )
