"""How good a sheet is, measured on its records: overlaps, crossings, labels, used area, type.

Used area is the area covered by boxes of symbols, labels and panels, each counted once, over the
area of the whole sheet, margins included.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from render.drawing.face import load_family
from render.drawing.ink import Box, Flow, Label, Sheet, Sheets, Words
from render.drawing.svg import all_words

_TOUCH = 0.05


@dataclass(frozen=True, slots=True)
class Figures:
    """Measures of one sheet. Distances in mm, used area as a share of the sheet.

    `overlaps` and `strays` name what is wrong: text on text, on a line or outside its box.
    """

    overlaps: tuple[str, ...]
    strays: tuple[str, ...]
    crossings: int
    label_distances: tuple[float, ...]
    used: float
    smallest_capital: float


def figures(sheets: Sheets) -> tuple[Figures, ...]:
    """The figures of every sheet. O(n^2) in the number of things on it."""
    return tuple(_figures(sheet) for sheet in sheets.sheets)


def _figures(sheet: Sheet) -> Figures:
    return Figures(
        overlaps=tuple(_overlaps(sheet)),
        strays=tuple(_strays(sheet)),
        crossings=sum(_cross(a, b) for a, b in combinations(_trunks(sheet.drawing.flows), 2)),
        label_distances=tuple(
            _distance(label, sheet.drawing.flows)
            for label in sheet.drawing.labels
            if label.outcomes
        ),
        used=used_area(sheet),
        smallest_capital=min(
            (word.size * load_family().regular.capital for word in all_words(sheet)),
            default=math.inf,
        ),
    )


def used_area(sheet: Sheet) -> float:
    """Share of the sheet that symbols, labels and panels cover, overlaps counted once."""
    boxes = [
        *(s.box for s in sheet.drawing.symbols),
        *(la.box for la in sheet.drawing.labels),
        *(p.box for p in sheet.panels),
    ]
    return covered_area(boxes) / (sheet.width * sheet.height)


def covered_area(boxes: Sequence[Box]) -> float:
    """Area in mm² that boxes cover, each spot counted once."""
    edges = sorted({x for box in boxes for x in (box.x, box.right)})
    total = 0.0
    for left, right in pairwise(edges):
        spans = sorted((box.y, box.bottom) for box in boxes if box.x <= left and box.right >= right)
        reach = -math.inf
        for top, bottom in spans:
            total += (right - left) * max(0.0, bottom - max(top, reach))
            reach = max(reach, bottom)
    return total


def _overlaps(sheet: Sheet) -> Iterator[str]:
    words = list(all_words(sheet))
    for a, b in combinations(words, 2):
        # Neighbouring lines of one paragraph share ascender and descender space by design.
        if _ink_box(a).overlaps(_ink_box(b), _TOUCH):
            yield f"“{a.text}” on “{b.text}”"
    for flow in sheet.drawing.flows:
        for run in _runs(flow):
            for word in words:
                if _ink_box(word).overlaps(run.grow(0.1), 0.0):
                    yield f"line {flow.start} to {flow.end} through “{word.text}”"
    solids = [
        *((s.node, s.box) for s in sheet.drawing.symbols),
        *((p.kind, p.box) for p in sheet.panels),
        *((f"label {la.start}", la.box) for la in sheet.drawing.labels),
    ]
    for (name, box), (other, second) in combinations(solids, 2):
        if box.overlaps(second, 0.3) and not _in_one_stack(name, other):
            yield f"{name} on {other}"
    for flow in sheet.drawing.flows:
        for run in _runs(flow):
            for symbol in sheet.drawing.symbols:
                inner = symbol.box.grow(-0.5)
                if inner.overlaps(run.grow(0.05), 0.0) and not _joins(flow, symbol.box):
                    yield f"line {flow.start} to {flow.end} through {symbol.node}"


def _in_one_stack(name: str, other: str) -> bool:
    return name == other


def _joins(flow: Flow, box: Box) -> bool:
    """Whether the line begins or ends at this box; slanted outlines lie inside their box."""
    near = box.grow(0.6)
    return any(
        near.x <= x <= near.right and near.y <= y <= near.bottom
        for x, y in (flow.points[0], flow.points[-1])
    )


def _ink_box(word: Words) -> Box:
    """Where the word's ink can be: capitals and ascenders to descenders."""
    return Box(word.x, word.y - 0.70 * word.size, word.width, 0.895 * word.size)


def _strays(sheet: Sheet) -> Iterator[str]:
    page = Box(0, 0, sheet.width, sheet.height)
    for symbol in sheet.drawing.symbols:
        rooms = symbol.room or (symbol.box,)
        for word in symbol.words:
            if not any(room.holds(word.box, 0.3) for room in rooms):
                yield f"“{word.text}” leaves {symbol.node}"
    for label in sheet.drawing.labels:
        for word in label.words:
            if not label.box.grow(0.8).holds(word.box, 0.3):
                yield f"“{word.text}” leaves its label"
    for panel in sheet.panels:
        for word in panel.words:
            if not panel.box.holds(word.box, 0.3):
                yield f"“{word.text}” leaves panel {panel.kind}"
    for word in all_words(sheet):
        if not page.holds(word.box):
            yield f"“{word.text}” leaves the sheet"


def _runs(flow: Flow) -> Iterator[Box]:
    for (ax, ay), (bx, by) in pairwise(flow.points):
        yield Box(min(ax, bx), min(ay, by), abs(bx - ax), abs(by - ay))


@dataclass(frozen=True, slots=True)
class _Trunk:
    """One straight run of a line; branches of one step share trunks and do not cross there."""

    start: str
    end: str
    run: Box


def _trunks(flows: Sequence[Flow]) -> list[_Trunk]:
    return [_Trunk(f.start, f.end, run) for f in flows for run in _runs(f)]


def _cross(a: _Trunk, b: _Trunk) -> bool:
    if a.start == b.start or a.end == b.end:
        return False
    return (
        a.run.x <= b.run.right
        and b.run.x <= a.run.right
        and a.run.y <= b.run.bottom
        and b.run.y <= a.run.bottom
        and (a.run.w > a.run.h) != (b.run.w > b.run.h)
    )


def _distance(label: Label, flows: Sequence[Flow]) -> float:
    """From the label's box to the nearest point of its own line, mm."""
    return min(
        (
            math.hypot(
                max(0.0, run.x - label.box.right, label.box.x - run.right),
                max(0.0, run.y - label.box.bottom, label.box.y - run.bottom),
            )
            for flow in flows
            if flow.start == label.start and flow.end == label.end
            for run in _runs(flow)
        ),
        default=math.inf,
    )
