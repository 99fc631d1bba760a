"""A large sheet over many small ones: tiles with overlap, crop marks and a key map.

Each tile shows a window of the large sheet; windows of neighbours share a strip `OVERLAP` mm wide.
Trimmed at its left and upper crop marks, a tile is laid on the ticks of its neighbours.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice, pairwise

from render.drawing import papers
from render.drawing.face import load_family
from render.drawing.ink import Box, Drawing, Label, Panel, Sheet, Sheets, Stroke, Symbol, Words
from render.drawing.legibility import LEAST_MINUTES, capital_height
from render.drawing.outlines import rectangle_path
from render.drawing.papers import Orientation, Paper
from render.drawing.typeset import LEADING, Run, break_lines
from render.layout.boxes import set_words
from render.wording import fixedwords

OVERLAP = 10.0
_MARGIN = 8.0
_FOOT = 8.0
_MARK = 4.0
_THIN, _LINE = 0.15, 0.35
_GREY = "#BBBBBB"
_MAP_SHARE = 0.62


@dataclass(frozen=True, slots=True)
class Grid:
    """How a large sheet is parted: tiles across and down, and the window each one shows, mm."""

    paper: Paper
    across: int
    down: int
    window: tuple[float, float]

    @property
    def stride(self) -> tuple[float, float]:
        """From one tile's window to the next, mm."""
        return self.window[0] - OVERLAP, self.window[1] - OVERLAP

    def name(self, row: int, col: int) -> str:
        """A tile's name: rows are letters, columns numbers."""
        return f"{chr(ord('A') + row % 26)}{col + 1}"

    def tiles(self) -> Iterator[tuple[int, int]]:
        """Row and column of every tile, row by row."""
        for row in range(self.down):
            for col in range(self.across):
                yield row, col


def tile_sheets(sheets: Sheets, tiles: str) -> Sheets:
    """The sheets parted into tiles of that paper, each large sheet after a key map of its own.

    The paper is turned the way that takes fewer tiles. TroubleError for an unknown paper.
    """
    pages: list[Sheet] = []
    for sheet in sheets.sheets:
        grid = _grid(sheet, tiles)
        first = len(pages) + 1
        pages.append(_key_map(sheet, grid, first))
        for n, (row, col) in enumerate(_inked(sheet, grid), start=1):
            pages.append(_tile(sheet, grid, row, col, first + n))
    paper = pages[0] if pages else None
    paper_words = papers.find(tiles, _way(paper)).says if paper else sheets.paper
    return replace(sheets, sheets=tuple(pages), paper=paper_words, tiles_of=sheets.paper)


def _way(sheet: Sheet) -> Orientation:
    return Orientation.PORTRAIT if sheet.height > sheet.width else Orientation.LANDSCAPE


def _grid(sheet: Sheet, tiles: str) -> Grid:
    ways = papers.ways_up(tiles, Orientation.AUTO)
    return min((_part(sheet, paper) for paper in ways), key=lambda g: g.across * g.down)


def _part(sheet: Sheet, paper: Paper) -> Grid:
    window = (paper.width - 2 * _MARGIN, paper.height - 2 * _MARGIN - _FOOT)
    across, down = (
        max(1, math.ceil((whole - OVERLAP) / (part - OVERLAP) - 1e-9))
        for whole, part in zip((sheet.width, sheet.height), window, strict=True)
    )
    return Grid(paper, across, down, window)


def _inked(sheet: Sheet, grid: Grid) -> list[tuple[int, int]]:
    """Row and column of the tiles that anything stands on; blank paper is not printed."""
    solids = [
        *(s.box for s in sheet.drawing.symbols),
        *(la.box for la in sheet.drawing.labels),
        *(p.box for p in sheet.panels),
    ]
    return [
        (row, col)
        for row, col in grid.tiles()
        if any(box.overlaps(_trim(sheet, grid, row, col)) for box in solids)
        or any(
            _near(run, _trim(sheet, grid, row, col))
            for flow in sheet.drawing.flows
            for run in pairwise(flow.points)
        )
    ]


def _tile(sheet: Sheet, grid: Grid, row: int, col: int, number: int) -> Sheet:
    """The part of the sheet that one tile shows, with the marks around it."""
    left, top = col * grid.stride[0], row * grid.stride[1]
    window = Box(left, top, *grid.window)
    frame = Box(_MARGIN, _MARGIN, *grid.window)
    dx, dy = frame.x - left, frame.y - top
    name = grid.name(row, col)
    return Sheet(
        number,
        f"{sheet.title}, tile {name}",
        grid.paper.width,
        grid.paper.height,
        _window_view(sheet.drawing, window).move(dx, dy).at_rest(),
        tuple(_panel_seen(p, window).move(dx, dy) for p in sheet.panels if p.box.overlaps(window)),
        frame,
        (*_crop_marks(frame, grid, row, col), *_small_map(frame, grid, row, col)),
        tuple(_foot(sheet, grid, name, frame)),
    )


def _window_view(drawing: Drawing, window: Box) -> Drawing:
    """What of the drawing the window shows; anchors stay with the tile that has the corner."""
    return Drawing(
        drawing.width,
        drawing.height,
        tuple(_symbol_seen(s, window) for s in drawing.symbols if s.box.overlaps(window)),
        tuple(f for f in drawing.flows if _near(f.points, window)),
        tuple(_label_seen(la, window) for la in drawing.labels if la.box.overlaps(window)),
    )


def _near(points: tuple[tuple[float, float], ...], window: Box) -> bool:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    box = Box(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))
    return box.grow(2.0).overlaps(window)


def _symbol_seen(symbol: Symbol, window: Box) -> Symbol:
    anchor = symbol.anchor if _corner_in(symbol.box, window) else ""
    return replace(symbol, words=_words_seen(symbol.words, window), anchor=anchor)


def _label_seen(label: Label, window: Box) -> Label:
    return replace(label, words=_words_seen(label.words, window))


def _panel_seen(panel: Panel, window: Box) -> Panel:
    head, rest = panel.words[: panel.heading], iter(panel.words[panel.heading :])
    rows = tuple(
        tuple(len(_words_seen(tuple(islice(rest, count)), window)) for count in row)
        for row in panel.rows
    )
    heading = len(_words_seen(head, window))
    return replace(panel, words=_words_seen(panel.words, window), heading=heading, rows=rows)


def _words_seen(words: tuple[Words, ...], window: Box) -> tuple[Words, ...]:
    return tuple(word for word in words if word.box.overlaps(window))


def _corner_in(box: Box, window: Box) -> bool:
    """Whether the box's corner lies in the part of the window that no later tile shows."""
    return (
        window.x <= box.x < window.right - OVERLAP and window.y <= box.y < window.bottom - OVERLAP
    )


def _crop_marks(frame: Box, grid: Grid, row: int, col: int) -> Iterator[Stroke]:
    """Corners to cut at, and ticks where the next tile's edge comes to lie."""
    gap = 1.0
    for x in (frame.x, frame.right):
        for y, way in ((frame.y - gap, -1), (frame.bottom + gap, 1)):
            yield _line(x, y, x, y + way * _MARK)
    for y in (frame.y, frame.bottom):
        for x, way in ((frame.x - gap, -1), (frame.right + gap, 1)):
            yield _line(x, y, x + way * _MARK, y)
    if col + 1 < grid.across:
        x = frame.right - OVERLAP
        yield _line(x, frame.y - gap, x, frame.y - gap - _MARK, dash=(1.0, 0.6))
        yield _line(x, frame.bottom + gap, x, frame.bottom + gap + _MARK, dash=(1.0, 0.6))
    if row + 1 < grid.down:
        y = frame.bottom - OVERLAP
        yield _line(frame.x - gap, y, frame.x - gap - _MARK, y, dash=(1.0, 0.6))
        yield _line(frame.right + gap, y, frame.right + gap + _MARK, y, dash=(1.0, 0.6))


def _line(x: float, y: float, tox: float, toy: float, dash: tuple[float, ...] = ()) -> Stroke:
    return Stroke((("M", x, y), ("L", tox, toy)), _LINE, dash=dash)


def _small_map(frame: Box, grid: Grid, row: int, col: int) -> Iterator[Stroke]:
    """Where the tile belongs, at the foot: the whole grid with this tile filled."""
    room = _FOOT - 1.0
    size = min(room / grid.down, 3.0 * room / grid.across)
    left = frame.right - _MARK - grid.across * size
    top = frame.bottom + 1.5 + (room - grid.down * size) / 2
    for r, c in grid.tiles():
        box = Box(left + c * size, top + r * size, size, size)
        fill = "#000000" if (r, c) == (row, col) else "none"
        yield Stroke(rectangle_path(box), _THIN, fill=fill)


def _foot(sheet: Sheet, grid: Grid, name: str, frame: Box) -> Iterator[Words]:
    """The tile's name and what it is a tile of, cut off where the paper is narrow."""
    family = load_family()
    size = family.size_of(capital_height(0.7, LEAST_MINUTES))
    runs = (
        Run(f"Tile {name}", bold=True),
        Run(f" of sheet {sheet.number}: {sheet.title.partition(',')[0]}"),
    )
    line = break_lines(runs, family, size, 0.8 * frame.w)[0]
    yield from set_words(line, frame.x + _MARK, frame.bottom + 2.0, size, family)


def _key_map(sheet: Sheet, grid: Grid, number: int) -> Sheet:
    """The large sheet in small with the tiles over it, and how to put them together."""
    family = load_family()
    paper = grid.paper
    size = family.size_of(capital_height(0.7, LEAST_MINUTES) * 1.02)
    words: list[Words] = []
    y = paper.margin
    title = (Run(fixedwords.TILES_TITLE, bold=True), Run(f" {sheet.title}"))
    how = fixedwords.TILES.format(
        count=len(_inked(sheet, grid)), paper=paper.name, overlap=f"{OVERLAP:g}\u202fmm"
    )
    for runs in (title, (Run(how),)):
        for line in break_lines(runs, family, size, paper.inner_width):
            words.extend(set_words(line, paper.margin, y, size, family))
            y += size * LEADING
        y += 0.3 * size
    room = (paper.inner_width, paper.height - paper.margin - y - 2.0)
    scale = min(room[0] / sheet.width, room[1] / sheet.height)
    left = paper.margin + (room[0] - sheet.width * scale) / 2
    strokes = [
        _fill(_scale(box, scale, left, y), _GREY)
        for box in (*(s.box for s in sheet.drawing.symbols), *(p.box for p in sheet.panels))
    ]
    for row, col in _inked(sheet, grid):
        box = _scale(_trim(sheet, grid, row, col), scale, left, y)
        strokes.append(Stroke(rectangle_path(box), _LINE))
        name = (Run(grid.name(row, col), bold=True),)
        line = break_lines(name, family, size, 1e6)[0]
        words.extend(
            set_words(
                line,
                box.x + (box.w - line.width) / 2,
                box.y + (box.h - size * LEADING) / 2,
                size,
                family,
            )
        )
    page = Box(0, 0, paper.width, paper.height)
    panel = Panel("key map", fixedwords.TILES_TITLE, page, tuple(words), tuple(strokes))
    title_text = f"{fixedwords.TILES_TITLE} {sheet.title}"
    return Sheet(number, title_text, paper.width, paper.height, Drawing(0, 0), (panel,))


def _trim(sheet: Sheet, grid: Grid, row: int, col: int) -> Box:
    """What a tile shows of the sheet when its neighbours lie on it."""
    left, top = col * grid.stride[0], row * grid.stride[1]
    right = sheet.width if col + 1 == grid.across else left + grid.stride[0]
    bottom = sheet.height if row + 1 == grid.down else top + grid.stride[1]
    return Box(left, top, right - left, bottom - top)


def _scale(box: Box, scale: float, left: float, top: float) -> Box:
    return Box(left + box.x * scale, top + box.y * scale, box.w * scale, box.h * scale)


def _fill(box: Box, ink: str) -> Stroke:
    return Stroke(rectangle_path(box), 0.0, "none", ink)
