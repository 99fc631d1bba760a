"""The block diagram in its place: ranks folded into rows, lines, test points, all in em.

A diagram wider than its room is cut where a single stage leads on, and its rows set one below the
other. A line leaves a block at its right and bends once, in the gap before the next rank, on a
track of its own; lines that lead elsewhere run on lanes below the row.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from render.drawing.face import Family
from render.drawing.ink import Box, Words
from render.drawing.typeset import LEADING, fine
from render.layout.blockranks import (
    BELOW,
    RING,
    SLOT,
    Draft,
    Measured,
    label_width,
    leads_on,
    row_ranges,
)
from render.layout.boxes import set_words
from render.layout.unitmap import SOURCE, Stage

_ROW_GAP = 1.5
_TRACK, _TURN, _LANE = 0.55, 0.7, 0.7


@dataclass(frozen=True, slots=True)
class Block:
    """A stage's rectangle and the words in it."""

    stage: Stage
    box: Box
    words: tuple[Words, ...]


@dataclass(frozen=True, slots=True)
class Spot:
    """A test point: the middle of its ring, and its number beside it."""

    point: str
    stage: str
    x: float
    y: float
    label: Words


@dataclass(frozen=True, slots=True)
class Arrow:
    """A line from stage to stage; one that `governs` is drawn dashed."""

    tail: str
    head: str
    points: tuple[tuple[float, float], ...]
    governs: bool = False


@dataclass(frozen=True, slots=True)
class Diagram:
    """A block diagram in em, from (0, 0)."""

    w: float
    h: float
    blocks: tuple[Block, ...]
    spots: tuple[Spot, ...]
    arrows: tuple[Arrow, ...]
    notes: tuple[Words, ...] = ()


class Fold:
    """A draft cut into rows, one below the other."""

    def __init__(self, draft: Draft, cuts: tuple[int, ...]) -> None:
        self.draft = draft
        self.rows = row_ranges(cuts, max(draft.ranks.values(), default=0))
        self.row_of = {name: self._row(rank) for name, rank in draft.ranks.items()}
        self.shifts: list[tuple[float, float]] = []
        self.floors: list[float] = []
        self.bottoms: list[float] = []
        self.right = 0.0
        self._stack()
        self.boxes = {n: b.move(*self.shifts[self.row_of[n]]) for n, b in draft.boxes.items()}
        self.nodes = {
            n: b.move(*self.shifts[self.row_of[n]]) for n, b in draft.layout.boxes.items()
        }
        self.tracks = self._tracks()

    def _row(self, rank: int) -> int:
        return next(n for n, row in enumerate(self.rows) if rank in row)

    def _stack(self) -> None:
        top = 0.0
        for number, row in enumerate(self.rows):
            left, right = self.draft.span(row)
            mine = [b for n, b in self.draft.layout.boxes.items() if self.draft.ranks[n] in row]
            lanes = self._lanes_in(number)
            indent = _TURN + 0.9 if number else _LANE * (2 if lanes else 0)
            self.shifts.append((indent - left, top - min(box.y for box in mine)))
            top += max(box.bottom for box in mine) - min(box.y for box in mine)
            self.floors.append(top)
            top += _LANE * (1 + len(lanes)) if lanes else 0.0
            self.bottoms.append(top)
            top += _ROW_GAP
            out = _TURN if number < len(self.rows) - 1 else 0.0
            self.right = max(self.right, indent + right - left + out)

    def _lanes_in(self, row: int) -> list[tuple[str, str]]:
        """The loose lines of a row that have to go round below its blocks."""
        return [
            line
            for line in dict.fromkeys((*self.draft.unit.backward, *self.draft.unit.controls))
            if self.row_of[line[0]] == row and not self.draft.beside(*line)
        ]

    def _port(self, name: str, right: bool) -> tuple[float, float]:
        box = self.boxes.get(name) or self.nodes[name]
        return (box.right if right else box.x), box.y + box.h / 2

    def _tracks(self) -> dict[str, float]:
        """For each station that lines leave: the x where they bend.

        Stations whose lines go down bend the earlier the lower they stand, those whose lines go
        up the earlier the higher: so no line crosses another of its own gap.
        """
        ahead: dict[str, list[str]] = defaultdict(list)
        for way in self.draft.hops.values():
            for a, b in pairwise(way):
                ahead[a].append(b)
        by_rank: dict[int, list[str]] = defaultdict(list)
        for name in ahead:
            by_rank[self.draft.ranks[name]].append(name)
        tracks = {}
        for rank, names in by_rank.items():
            start = max(box.right for n, box in self.nodes.items() if self.draft.ranks[n] == rank)
            order = sorted(names, key=lambda n: self._bend_key(n, ahead[n]))
            for place, name in enumerate(order):
                tracks[name] = start + _TRACK * (place + 1) / len(order)
        return tracks

    def _bend_key(self, name: str, heads: Sequence[str]) -> float:
        y = self._port(name, True)[1]
        down = sum(self._port(head, False)[1] - y for head in heads)
        return -y if down >= 0 else y

    def diagram(self) -> Diagram:
        """Everything in its place."""
        blocks = tuple(
            Block(m.stage, self.boxes[name], tuple(self._words(m, self.boxes[name])))
            for name, m in self.draft.measured.items()
        )
        arrows = [*self._feeds(), *self._loose()]
        return Diagram(
            self.right,
            self.bottoms[-1],
            blocks,
            tuple(s for m in self.draft.measured.values() for s in self._spots(m)),
            tuple(arrows),
            tuple(self._notes()),
        )

    def _words(self, m: Measured, box: Box) -> Iterator[Words]:
        top = box.y + (box.h - len(m.lines) * LEADING) / 2
        for number, line in enumerate(m.lines):
            x = box.x + (box.w - line.width) / 2
            yield from set_words(line, x, top + number * LEADING, 1.0, self.draft.family)

    def _feeds(self) -> Iterator[Arrow]:
        for (tail, head), way in self.draft.hops.items():
            points = [p for a, b in pairwise(way) for p in self._hop(a, b)]
            yield Arrow(tail, head, _straighten(points))

    def _hop(self, a: str, b: str) -> list[tuple[float, float]]:
        (ax, ay), (bx, by) = self._port(a, True), self._port(b, False)
        row = self.row_of[a]
        if row == self.row_of[b]:
            track = self.tracks[a]
            return [(ax, ay), (track, ay), (track, by), (bx, by)]
        # Round the end of the row, back between the rows, and in at the left.
        outer, between = self.tracks[a], self.bottoms[row] + _ROW_GAP / 2
        return [(ax, ay), (outer, ay), (outer, between), (_TURN / 2, between), (_TURN / 2, by),
                (bx, by)]  # fmt: skip

    def _loose(self) -> Iterator[Arrow]:
        lines = [(line, False) for line in self.draft.unit.backward]
        lines += [(line, True) for line in self.draft.unit.controls]
        for (tail, head), governs in lines:
            points = self._straight(tail, head) or self._round(tail, head)
            yield Arrow(tail, head, _straighten(points), governs)

    def _straight(self, tail: str, head: str) -> list[tuple[float, float]]:
        """Straight up or down between neighbours of one rank."""
        if not self.draft.beside(tail, head):
            return []
        a, b = self.boxes[tail], self.boxes[head]
        x = (max(a.x, b.x) + min(a.right, b.right)) / 2
        return [(x, a.y), (x, b.bottom)] if b.y < a.y else [(x, a.bottom), (x, b.y)]

    def _round(self, tail: str, head: str) -> list[tuple[float, float]]:
        """Below all blocks of the row, on a lane of its own."""
        row = self.row_of[tail]
        number = self._lanes_in(row).index((tail, head))
        lane = self.floors[row] + _LANE * (number + 1)
        out, back = self._down(tail, number), self._down(head, number)
        return [*out, (out[-1][0], lane), (back[-1][0], lane), *reversed(back)]

    def _down(self, name: str, number: int) -> list[tuple[float, float]]:
        """From a block towards the lanes: out at its foot, or at its left if one stands below."""
        box, ranks = self.boxes[name], self.draft.ranks
        rank = [b for n, b in self.boxes.items() if ranks[n] == ranks[name]]
        # Several lines at one foot stand apart, and off the middle where lines come straight down.
        foot = box.x + box.w * (0.3 + 0.1 * (number % 5))
        under = Box(foot, box.bottom, 0.0, 1000.0).grow(0.2)
        labels = [b for n, b in self.nodes.items() if ranks[n] == ranks[name] and n != name]
        if not any(other.overlaps(under) for other in (*rank, *labels) if other.y > box.y):
            return [(foot, box.bottom)]
        left = min(b.x for n, b in self.nodes.items() if ranks[n] == ranks[name])
        y = box.y + box.h / 2 + max(0.25 * box.h, 0.5)
        return [(box.x, y), (left - 0.4 - 0.12 * (number % 5), y)]

    def _spots(self, m: Measured) -> Iterator[Spot]:
        box, family, stage = self.boxes[m.stage.id], self.draft.family, m.stage
        middle = box.y + box.h / 2
        x = box.right
        for point in stage.outlet:
            yield _spot(point, stage.id, x + RING, middle, x + 0.25, middle - RING - 0.2, family)
            x += label_width(point, family)
        x = self.nodes[stage.id].x
        for point in stage.inlet:
            yield _spot(point, stage.id, x + RING, middle, x, middle - RING - 0.2, family)
            x += label_width(point, family)
        first = middle - (len(stage.inner) - 1) * SLOT / 2
        if leads_on(stage, self.draft.unit):
            first = middle + BELOW
        for number, point in enumerate(stage.inner):
            y, x = first + number * SLOT, box.right + RING
            base = y + family.regular.capital / 2
            yield _spot(point, stage.id, x, y, x + RING + 0.2, base, family)

    def _notes(self) -> Iterator[Words]:
        """The volts of the mains beside the line into the unit."""
        family = self.draft.family
        for name in {tail for tail, _ in self.draft.unit.entry} - {SOURCE}:
            x, y = self._port(name, True)
            text = fine(self.draft.unit.mains, "mains")
            across = family.regular.width(text, 1.0)
            yield Words(x + 0.3, y - 0.3, 1.0, text, across)


def _spot(
    point: str, stage: str, x: float, y: float, label_x: float, base: float, family: Family
) -> Spot:
    text = fine(point, f"test point {point}")
    across = family.strong.width(text, 1.0)
    return Spot(point, stage, x, y, Words(label_x, base, 1.0, text, across, bold=True))


def _straighten(points: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """The same way without points that repeat or lie on a straight run."""
    corners: list[tuple[float, float]] = []
    for point in points:
        if corners and abs(corners[-1][0] - point[0]) + abs(corners[-1][1] - point[1]) < 0.02:
            continue
        if len(corners) > 1 and _in_line(corners[-2], corners[-1], point):
            corners.pop()
        corners.append(point)
    return tuple(corners)


def _in_line(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    return any(abs(a[i] - b[i]) < 0.02 and abs(b[i] - c[i]) < 0.02 for i in (0, 1))
