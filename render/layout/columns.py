"""Sheets of panels alone: columns of one width, read from top to bottom and left to right.

Panels keep their order. A panel that meets the foot of its column goes on in the next one, cut
between rows; for a given order and width, filling columns so gives the fewest of them. Then the
columns are made as short as the same number of sheets allows, so that they end alike. The block
diagram stands at the top right, across as many columns as it is wide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from render.drawing.ink import Panel
from render.drawing.outlines import Type
from render.drawing.papers import Paper
from render.layout.panels import Leaf, head_height, least_width, row_heights, set_panel

_GAP = 3.0
# Lines of 30 to 45 letters are read best; a condensed letter is some 0.43 em wide.
_COLUMN_EMS = (17.0, 27.0, 44.0)
_GROWTHS = (1.5, 1.3, 1.15)
_FULLEST = 0.98
_FEWEST_ROWS = 2
_WORTH_CUTTING = 0.3
_TALLEST_PICTURE = 0.6
_HALVINGS = 6


def panel_sheets(
    leaves: Sequence[Leaf], title: Leaf, paper: Paper, type_: Type
) -> list[list[Panel]] | None:
    """Panels on as few sheets as hold them in turn, in larger type where that takes no more.

    None if one is larger than a sheet.
    """
    if not leaves:
        return []
    least = _in_columns(leaves, title, paper, type_)
    if least is None:
        return None
    grid, sheets = least
    # What larger type takes grows with its square; no sheet is filled to the last line.
    words = sum(grid.width * sum(grid.takes(leaf)) for leaf in leaves if not leaf.is_picture)
    most = _FULLEST * len(sheets) * paper.inner_width * paper.inner_height
    for growth in _GROWTHS:
        if words * growth**2 > most:
            continue
        grown = Type(type_.family, type_.body * growth, type_.hands * growth)
        larger = _in_columns(leaves, title, paper, grown)
        if larger is not None and len(larger[1]) <= len(sheets):
            grid, sheets = larger
            break
    return grid.panels(grid.level(leaves, sheets))


def _in_columns(
    leaves: Sequence[Leaf], title: Leaf, paper: Paper, type_: Type
) -> tuple[_Grid, list[list[_Slot]]] | None:
    """The panels in columns of the width that takes the fewest sheets."""
    settings: list[tuple[_Grid, list[list[_Slot]]]] = []
    for count in _counts(leaves, paper, type_):
        grid = _Grid(paper, type_, title, count)
        sheets = grid.fill(leaves, grid.height)
        if sheets is not None:
            settings.append((grid, sheets))
    return min(settings, key=lambda setting: len(setting[1]), default=None)


def _counts(leaves: Sequence[Leaf], paper: Paper, type_: Type) -> list[int]:
    """Numbers of columns worth trying, the best to read first."""
    least, best, most = (ems * type_.body for ems in _COLUMN_EMS)
    rows = [leaf for leaf in leaves if not leaf.is_picture]
    needed = max((least_width(leaf, type_) for leaf in rows), default=least)
    room = paper.inner_width + _GAP
    narrowest = max(1, int(room // (max(least, needed) + _GAP)))
    widest = max(1, -int(-room // (most + _GAP)))
    usual = min(max(round(room / (best + _GAP)), widest), narrowest)
    return sorted(range(min(widest, narrowest), narrowest + 1), key=lambda n: abs(n - usual))[:2]


@dataclass(frozen=True, slots=True)
class _Slot:
    """Some rows of a panel and where they stand on a sheet, mm from inside the margins."""

    leaf: Leaf
    x: float
    y: float
    room: float


@dataclass(slots=True)
class _Filling:
    """How far the columns are filled: the sheets, and where the next panel goes."""

    grid: _Grid
    height: float
    sheets: list[list[_Slot]] = field(default_factory=lambda: [[]])
    tops: list[float] = field(default_factory=list)
    column: int = 0
    y: float = 0.0

    def room(self) -> float:
        """Height in mm left in the column."""
        foot = min(self.height, self.grid.height)
        if self.column == self.grid.count - 1:
            foot = min(foot, self.grid.height - self.grid.title.box.h - _GAP)
        return foot - self.y

    def next_column(self) -> None:
        """Go on at the top of the next column, of the next sheet if need be."""
        self.column += 1
        if self.column == self.grid.count:
            self.sheets.append([])
            self.tops = [0.0] * self.grid.count
            self.column = 0
        self.y = self.tops[self.column]

    def add(self, leaf: Leaf, high: float) -> None:
        """The panel, `high` mm, at the place reached."""
        x = self.column * (self.grid.width + _GAP)
        self.sheets[-1].append(_Slot(leaf, x, self.y, self.grid.width))
        self.y += high + _GAP


@dataclass(slots=True)
class _Grid:
    """Columns of one width on a paper, and the title block at the foot of the last one."""

    paper: Paper
    type_: Type
    heading: Leaf
    count: int
    _set: dict[tuple[int, float], Panel] = field(default_factory=dict)
    _heights: dict[int, tuple[float, ...]] = field(default_factory=dict)

    @property
    def width(self) -> float:
        """Width of a column, mm."""
        return (self.paper.inner_width + _GAP) / self.count - _GAP

    @property
    def height(self) -> float:
        """Height of a column, mm."""
        return self.paper.inner_height

    @property
    def title(self) -> Panel:
        """The title block."""
        return self.panel(self.heading, self.width)

    def panel(self, leaf: Leaf, room: float) -> Panel:
        """A whole panel set at that width."""
        if (id(leaf), room) not in self._set:
            self._set[id(leaf), room] = set_panel(leaf, self.type_, room)
        return self._set[id(leaf), room]

    def takes(self, leaf: Leaf) -> tuple[float, ...]:
        """What each row of a panel takes of a column, mm."""
        if id(leaf) not in self._heights:
            self._heights[id(leaf)] = row_heights(leaf, self.type_, self.width)
        return self._heights[id(leaf)]

    def fill(self, leaves: Sequence[Leaf], height: float) -> list[list[_Slot]] | None:
        """The sheets, columns filled down to `height` mm; None if a row is higher than that."""
        filling = _Filling(self, height, tops=[0.0] * self.count)
        for leaf in leaves:
            if leaf.is_picture:
                self._picture(leaf, filling)
        filling.y = filling.tops[0]
        for leaf in leaves:
            if not leaf.is_picture and not self._fill(leaf, filling):
                return None
        return filling.sheets

    def _picture(self, leaf: Leaf, filling: _Filling) -> None:
        """A picture at the top right, under those that stand there, unless no sheet can hold it at
        this type size."""
        fitting = []
        for across in range(1, self.count + 1):
            room = across * (self.width + _GAP) - _GAP
            panel = self.panel(leaf, room)
            top = max(filling.tops[self.count - across :])
            if panel.box.w <= room + 1e-6 and top + panel.box.h <= _TALLEST_PICTURE * self.height:
                fitting.append((across * panel.box.h, across, top, top + panel.box.h, room))
        if not fitting:
            return
        _, across, top, bottom, room = min(fitting)
        first = self.count - across
        filling.sheets[-1].append(_Slot(leaf, first * (self.width + _GAP), top, room))
        for column in range(first, self.count):
            filling.tops[column] = bottom + _GAP

    def _fill(self, leaf: Leaf, filling: _Filling) -> bool:
        rows = self.takes(leaf)
        start, fresh = 0, 0
        while start < len(rows) or not rows:
            room = filling.room()
            rest = leaf.going_on(start) if start else leaf
            head = head_height(rest, self.type_, self.width)
            high = head + sum(rows[start:])
            if high <= room:
                filling.add(rest, high)
                return True
            count = _rows_within(rows[start:], room - head)
            worth = room > _WORTH_CUTTING * self.height or high > self.height or fresh > 1
            if count and worth:
                filling.add(replace(rest, rows=rest.rows[:count]), head + sum(rows[start:][:count]))
                start, fresh = start + count, 0
            else:
                fresh += 1
            # A row that does not fit a whole column of a fresh sheet fits nowhere.
            if fresh > self.count + 1:
                return False
            filling.next_column()
        return True

    def panels(self, sheets: Sequence[Sequence[_Slot]]) -> list[list[Panel]]:
        """The sheets with their panels set, each with its title block, inside the margins."""
        margin = self.paper.margin
        title = self.title.move(
            margin + (self.count - 1) * (self.width + _GAP),
            margin + self.height - self.title.box.h,
        )
        return [
            [
                *(self._panel_at(slot) for slot in sheet),
                title,
            ]
            for sheet in sheets
        ]

    def _panel_at(self, slot: _Slot) -> Panel:
        panel = set_panel(slot.leaf, self.type_, slot.room)
        return panel.move(self.paper.margin + slot.x, self.paper.margin + slot.y)

    def level(self, leaves: Sequence[Leaf], sheets: list[list[_Slot]]) -> list[list[_Slot]]:
        """The same number of sheets with columns that end about alike."""
        low, high, best = 0.35 * self.height, self.height, sheets
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            filling = self.fill(leaves, middle)
            if filling is not None and len(filling) == len(sheets):
                high, best = middle, filling
            else:
                low = middle
        return best


def _rows_within(rows: Sequence[float], room: float) -> int:
    """How many rows, not all, fit `room` mm; zero if too few would stand on either side."""
    count, high = 0, 0.0
    while count < len(rows) - _FEWEST_ROWS and high + rows[count] <= room:
        high += rows[count]
        count += 1
    return count if count >= min(_FEWEST_ROWS, len(rows) - 1) and count > 0 else 0
