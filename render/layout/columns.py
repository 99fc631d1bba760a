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
from render.layout.panels import Leaf, least_width, set_panel

_GAP = 3.0
# Lines of 30 to 45 letters are read best; a condensed letter is some 0.43 em wide.
_COLUMN_EMS = (17.0, 27.0, 44.0)
_GROWTHS = (1.5, 1.3, 1.15, 1.0)
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
    least = _set(leaves, title, paper, type_)
    if least is None:
        return None
    for growth in _GROWTHS[:-1]:
        grown = Type(type_.family, type_.body * growth, type_.hands * growth)
        larger = _set(leaves, title, paper, grown)
        if larger is not None and len(larger) <= len(least):
            return larger
    return least


def _set(
    leaves: Sequence[Leaf], title: Leaf, paper: Paper, type_: Type
) -> list[list[Panel]] | None:
    """The panels in columns of the width that takes the fewest sheets."""
    settings: list[list[list[Panel]]] = []
    for count in _counts(leaves, paper, type_):
        grid = _Grid(paper, type_, title, count)
        sheets = grid.fill(leaves, grid.height)
        if sheets is not None:
            settings.append(grid.level(leaves, sheets))
    return min(settings, key=len, default=None)


def _counts(leaves: Sequence[Leaf], paper: Paper, type_: Type) -> list[int]:
    """Numbers of columns worth trying, the best to read first."""
    least, best, most = (ems * type_.body for ems in _COLUMN_EMS)
    needed = max((least_width(leaf, type_) for leaf in leaves if not leaf.unit), default=least)
    room = paper.inner_width + _GAP
    narrowest = max(1, int(room // (max(least, needed) + _GAP)))
    widest = max(1, -int(-room // (most + _GAP)))
    usual = min(max(round(room / (best + _GAP)), widest), narrowest)
    return sorted(range(min(widest, narrowest), narrowest + 1), key=lambda n: abs(n - usual))[:2]


@dataclass(slots=True)
class _Filling:
    """How far the columns are filled: the sheets, and where the next panel goes."""

    grid: _Grid
    height: float
    sheets: list[list[Panel]] = field(default_factory=lambda: [[]])
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

    def add(self, panel: Panel) -> None:
        """The panel at the place reached."""
        x = self.column * (self.grid.width + _GAP)
        self.sheets[-1].append(panel.move(x, self.y))
        self.y += panel.box.h + _GAP


@dataclass(slots=True)
class _Grid:
    """Columns of one width on a paper, and the title block at the foot of the last one."""

    paper: Paper
    type_: Type
    heading: Leaf
    count: int
    _set: dict[tuple[Leaf, float], Panel] = field(default_factory=dict)

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
        """The panel set at that width."""
        if (leaf, room) not in self._set:
            self._set[leaf, room] = set_panel(leaf, self.type_, room)
        return self._set[leaf, room]

    def fill(self, leaves: Sequence[Leaf], height: float) -> list[list[Panel]] | None:
        """The sheets, columns filled down to `height` mm; None if a row is higher than that."""
        filling = _Filling(self, height, tops=[0.0] * self.count)
        for leaf in leaves:
            if leaf.unit:
                self._picture(leaf, filling)
        filling.y = filling.tops[0]
        for leaf in leaves:
            if not leaf.unit and not self._fill(leaf, filling):
                return None
        return [self._with_title(sheet) for sheet in filling.sheets]

    def _picture(self, leaf: Leaf, filling: _Filling) -> None:
        """The block diagram at the top right, unless no sheet can hold it at this type size."""
        fitting = []
        for across in range(1, self.count + 1):
            room = across * (self.width + _GAP) - _GAP
            panel = self.panel(leaf, room)
            if panel.box.w <= room + 1e-6 and panel.box.h <= _TALLEST_PICTURE * self.height:
                fitting.append((across * panel.box.h, across, panel))
        if not fitting:
            return
        _, across, panel = min(fitting, key=lambda one: one[:2])
        first = self.count - across
        filling.sheets[-1].append(panel.move(first * (self.width + _GAP), 0.0))
        for column in range(first, self.count):
            filling.tops[column] = panel.box.h + _GAP

    def _fill(self, leaf: Leaf, filling: _Filling) -> bool:
        rest: Leaf | None = leaf
        fresh = 0
        while rest is not None:
            panel = self.panel(rest, self.width)
            room = filling.room()
            if panel.box.h <= room:
                filling.add(panel)
                return True
            rows = self._rows_within(rest, room)
            worth = room > _WORTH_CUTTING * self.height or panel.box.h > self.height or fresh > 1
            if rows and worth:
                filling.add(self.panel(replace(rest, rows=rest.rows[:rows]), self.width))
                rest = rest.going_on(rows)
                fresh = 0
            else:
                fresh += 1
            # A row that does not fit a whole column of a fresh sheet fits nowhere.
            if fresh > self.count + 1:
                return False
            filling.next_column()
        return True

    def _rows_within(self, leaf: Leaf, room: float) -> int:
        """How many rows, not all, fit `room` mm; zero if too few would stand on either side."""
        low, high = 0, len(leaf.rows) - _FEWEST_ROWS
        while low < high:
            middle = (low + high + 1) // 2
            head = self.panel(replace(leaf, rows=leaf.rows[:middle]), self.width)
            low, high = (middle, high) if head.box.h <= room else (low, middle - 1)
        return low if low >= min(_FEWEST_ROWS, len(leaf.rows) - 1) and low > 0 else 0

    def _with_title(self, sheet: Sequence[Panel]) -> list[Panel]:
        """The sheet with its title block, moved inside the margins."""
        title = self.title.move(
            (self.count - 1) * (self.width + _GAP), self.height - self.title.box.h
        )
        return [p.move(self.paper.margin, self.paper.margin) for p in (*sheet, title)]

    def level(self, leaves: Sequence[Leaf], sheets: list[list[Panel]]) -> list[list[Panel]]:
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
