"""Stages measured as blocks and put into ranks by Graphviz, all in em of the body type.

Kept in em, one layout serves every type size. A line that skips ranks passes through way-points,
so that each of its hops leads to the next rank.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from render.drawing import dot
from render.drawing.dot import Layout, Node
from render.drawing.face import Family, load_family
from render.drawing.ink import Box
from render.drawing.typeset import LEADING, Run, SetLine, break_lines, fine, width
from render.layout.unitmap import SOURCE, Stage, UnitMap
from render.wording.phrasing import capital

RING = 0.3
SLOT, BELOW = 1.3, 1.3
_PAD_X, _PAD_Y = 0.5, 0.32
_RANK_GAP, _NODE_GAP = 1.7, 1.5
_WAYPOINT = 0.3
_MOST_ROWS = 5


@dataclass(frozen=True, slots=True)
class Measured:
    """A stage set at one width: lines, size of its rectangle, room kept at its left and right."""

    stage: Stage
    lines: tuple[SetLine, ...]
    w: float
    h: float
    left: float
    right: float


def measure(stage: Stage, unit: UnitMap, room: float, family: Family) -> Measured:
    """The stage with its words set in lines no wider than `room`, and room for its points."""
    lines = _lines(stage, unit, room, family)
    across = max((line.width for line in lines), default=1.0)
    slots = len(stage.inner) * SLOT
    # Points of a stage that leads on stand below the line; of one that does not, in the middle.
    slots_high = 2 * (BELOW + slots - 0.5 * SLOT) if leads_on(stage, unit) and slots else slots
    inner = max((2 * RING + label_width(p, family) for p in stage.inner), default=0.0)
    inlet = sum(label_width(p, family) for p in stage.inlet)
    outlet = sum(label_width(p, family) for p in stage.outlet)
    if stage.outside and stage.id != SOURCE:
        outlet += width((Run(fine(unit.mains, "mains")),), family, 1.0) + 0.6
    return Measured(
        stage,
        lines,
        across + 2 * _PAD_X,
        max(len(lines) * LEADING + 2 * _PAD_Y, slots_high + 0.4),
        inlet + 0.4 if inlet else 0.0,
        max(outlet, inner),
    )


def _lines(stage: Stage, unit: UnitMap, room: float, family: Family) -> tuple[SetLine, ...]:
    """A stage's name and parts; the mains by their volts alone."""
    if stage.id == SOURCE:
        return break_lines((Run(fine(unit.mains, "mains"), bold=True),), family, 1.0, room)
    where = f"stage {stage.id}"
    name = break_lines((Run(fine(capital(stage.says), where), bold=True),), family, 1.0, room)
    if not stage.parts or stage.outside:
        return name
    parts = fine(", ".join(_runs_of(stage.parts)), where)
    return (*name, *break_lines((Run(parts),), family, 1.0, room))


def leads_on(stage: Stage, unit: UnitMap) -> bool:
    """Whether a line leaves at the stage's right, or a ring stands there for one."""
    return bool(stage.outlet) or any(tail == stage.id for tail, _ in unit.forward)


def label_width(point: str, family: Family) -> float:
    """The room that a test point's number takes beside its ring."""
    return width((Run(fine(point, f"test point {point}"), bold=True),), family, 1.0) + 0.45


def _runs_of(parts: Sequence[str]) -> Iterator[str]:
    """Designators with runs of three and more drawn together: R3–R7."""
    matches = [re.fullmatch(r"([A-Za-z]+)(\d+)", part) for part in parts]
    start = 0
    for n in range(1, len(parts) + 1):
        a, b = matches[n - 1], matches[n] if n < len(parts) else None
        if a and b and a[1] == b[1] and int(b[2]) == int(a[2]) + 1:
            continue
        if n - start >= 3:
            yield f"{parts[start]}–{parts[n - 1]}"
        else:
            yield from parts[start:n]
        start = n


class Draft:
    """One width of blocks, placed by Graphviz in one row; folded as asked."""

    def __init__(self, unit: UnitMap, room: float) -> None:
        self.unit, self.family = unit, load_family()
        self.measured = {s.id: measure(s, unit, room, self.family) for s in unit.stages}
        self.ranks = dict(unit.ranks())
        self.hops: dict[tuple[str, str], list[str]] = {
            line: self._hops(*line) for line in unit.forward
        }
        self.layout = self._places()
        self.boxes = {
            name: Box(box.x + m.left, box.y, m.w, m.h)
            for name, box in self.layout.boxes.items()
            if (m := self.measured.get(name))
        }

    def _hops(self, tail: str, head: str) -> list[str]:
        """The line's stations, way-points included, one rank after the other."""
        between = []
        for rank in range(self.ranks[tail] + 1, self.ranks[head]):
            name = f"{tail}\n{head}\n{rank}"
            self.ranks[name] = rank
            between.append(name)
        return [tail, *between, head]

    def _places(self) -> Layout:
        main = self.unit.main_way()
        nodes = [
            Node(m.stage.id, m.left + m.w + m.right, m.h, m.stage.id in main)
            for m in self.measured.values()
        ]
        stations = [name for way in self.hops.values() for name in way[1:-1]]
        nodes.extend(Node(name, _WAYPOINT, 2 * _WAYPOINT) for name in stations)
        edges = tuple(pair for way in self.hops.values() for pair in pairwise(way))
        return dot.place(tuple(nodes), edges, _RANK_GAP, _NODE_GAP)

    def foldings(self) -> Iterator[tuple[int, ...]]:
        """For each number of rows the cuts between ranks that keep the widest row narrowest."""
        places = self._cuttable()
        for rows in range(1, _MOST_ROWS + 1):
            options = list(combinations(places, rows - 1))
            if options:
                yield min(options, key=self._widest)

    def _cuttable(self) -> list[int]:
        """Ranks after which one stage alone leads on, and no loose line goes across."""
        last = max(self.ranks.values(), default=0)
        hops = {pair for way in self.hops.values() for pair in pairwise(way)}
        loose = (*self.unit.backward, *self.unit.controls)
        return [
            rank
            for rank in range(last)
            if len({a for a, b in hops if self.ranks[a] == rank}) == 1
            and not any((self.ranks[a] <= rank) != (self.ranks[b] <= rank) for a, b in loose)
        ]

    def _widest(self, cuts: tuple[int, ...]) -> float:
        spans = [self.span(row) for row in row_ranges(cuts, max(self.ranks.values(), default=0))]
        return max(right - left for left, right in spans)

    def span(self, row: range) -> tuple[float, float]:
        """From the left edge of the first block of these ranks to the right edge of the last."""
        mine = [box for name, box in self.layout.boxes.items() if self.ranks[name] in row]
        return min(b.x for b in mine), max(b.right for b in mine)

    def beside(self, tail: str, head: str) -> bool:
        """Whether two blocks are neighbours in one rank, so that a straight line joins them."""
        a, b = self.boxes[tail], self.boxes[head]
        left, right = max(a.x, b.x), min(a.right, b.right)
        if self.ranks[tail] != self.ranks[head] or right - left < 1.0:
            return False
        low, high = (b, a) if b.y < a.y else (a, b)
        gap = Box(left, low.bottom, right - left, high.y - low.bottom)
        return not any(box.overlaps(gap) for box in self.layout.boxes.values())


def row_ranges(cuts: tuple[int, ...], last: int) -> list[range]:
    """The ranks of each row, cut after the ranks named."""
    edges = [-1, *cuts, last]
    return [range(a + 1, b + 1) for a, b in pairwise(edges)]
