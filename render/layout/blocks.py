"""The unit as a block diagram: stages in the order power meets them, test points at their side.

Measured and placed in em by `blockranks` and `blockrows`, scaled to mm and drawn here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

from render.drawing.ink import Box, Flow, Panel, Stroke, Words
from render.drawing.outlines import Type, circle_path, rectangle_path
from render.drawing.svg import flow_strokes
from render.drawing.typeset import LEADING, Run, break_lines
from render.layout.blockranks import RING, Draft
from render.layout.blockrows import Arrow, Diagram, Fold
from render.layout.boxes import set_words
from render.layout.unitmap import SOURCE, UnitMap
from render.wording import fixedwords

# In em of the body type: the rooms that words of a block are set in, and the panel's margin.
_ROOMS = (6.6, 8.4, 11.0)
_MARGIN = 0.6


def set_blocks(unit: UnitMap, type_: Type, room: float) -> Panel:
    """The diagram as a panel no wider than `room` mm if any folding of it is: the lowest such."""
    inner = room / type_.body - 2 * _MARGIN
    fitting = [d for d in diagrams(unit) if d.w <= inner + 1e-6] or [_narrowest(unit)]
    return _panel(unit, min(fitting, key=lambda d: (d.h, d.w)), type_)


def widths(unit: UnitMap, type_: Type) -> tuple[float, ...]:
    """The widths in mm at which the diagram is worth setting."""
    return tuple(sorted({(d.w + 2 * _MARGIN) * type_.body for d in diagrams(unit)}))


def _narrowest(unit: UnitMap) -> Diagram:
    return min(diagrams(unit), key=lambda d: (d.w, d.h))


@lru_cache(maxsize=32)
def diagrams(unit: UnitMap) -> tuple[Diagram, ...]:
    """The diagram in every folding that no other beats in both width and height."""
    drafts = [Draft(unit, ems) for ems in _ROOMS]
    candidates = [Fold(draft, cuts).diagram() for draft in drafts for cuts in draft.foldings()]
    best: list[Diagram] = []
    for one in sorted(candidates, key=lambda d: (d.w, d.h)):
        if not best or one.h < best[-1].h - 0.3:
            best.append(one)
    return tuple(best)


Points = tuple[tuple[float, float], ...]
_OUTLINE, _FRAME = 0.35, 0.25
_DASH, _DOTS = (1.8, 1.1), (0.9, 0.9)


def _panel(unit: UnitMap, diagram: Diagram, type_: Type) -> Panel:
    """The diagram in mm under its title, with a line on how to read it."""
    size = type_.body
    pad = _MARGIN * size
    head = (Run(fixedwords.BLOCKS_TITLE, bold=True),)
    room = max(diagram.w * size, 10 * size) + 2 * pad
    words: list[Words] = []
    strokes: list[Stroke] = []
    y = 0.24 * size
    for line in break_lines(head, type_.family, size, room - 2 * pad):
        words.extend(set_words(line, pad, y, size, type_.family))
        y += size * LEADING
    heading = len(words)
    y += 0.12 * size
    strokes.append(Stroke((("M", 0.0, y), ("L", room, y)), _FRAME))
    y += 0.7 * size
    left = (room - diagram.w * size) / 2
    strokes.extend(_strokes(diagram, size, left, y))
    words.extend(_scale(word, size, left, y) for word in _all_words(diagram))
    y += diagram.h * size + 0.5 * size
    for line in break_lines((Run(_key(diagram)),), type_.family, size, room - 2 * pad):
        words.extend(set_words(line, pad, y, size, type_.family))
        y += size * LEADING
    box = Box(0, 0, room, y + 0.3 * size)
    frame = Stroke(rectangle_path(box), _FRAME)
    return Panel(
        "blocks", fixedwords.BLOCKS_TITLE, box, tuple(words), (frame, *strokes), heading=heading
    )


def _key(diagram: Diagram) -> str:
    """How to read the signs that stand on this diagram."""
    signs = {
        "feeds": any(not arrow.governs for arrow in diagram.arrows),
        "governs": any(arrow.governs for arrow in diagram.arrows),
        "point": bool(diagram.spots),
        "outside": any(b.stage.outside and b.stage.id != SOURCE for b in diagram.blocks),
    }
    return " ".join(text for sign, text in fixedwords.BLOCKS_KEY if signs[sign])


def _all_words(diagram: Diagram) -> Iterator[Words]:
    for block in diagram.blocks:
        yield from block.words
        yield from (spot.label for spot in diagram.spots if spot.stage == block.stage.id)
    yield from diagram.notes


def _strokes(diagram: Diagram, size: float, left: float, top: float) -> Iterator[Stroke]:
    def at(x: float, y: float) -> tuple[float, float]:
        return left + x * size, top + y * size

    for arrow, points in _own_lines(diagram.arrows):
        flow = Flow(arrow.tail, arrow.head, tuple(at(x, y) for x, y in points))
        line, head = flow_strokes(flow)
        yield replace(line, dash=_DASH) if arrow.governs else line
        yield head
    for block in diagram.blocks:
        if block.stage.id != SOURCE:
            corner = at(block.box.x, block.box.y)
            box = Box(*corner, block.box.w * size, block.box.h * size)
            dash = _DOTS if block.stage.outside else ()
            yield Stroke(rectangle_path(box), _OUTLINE, fill="#FFFFFF", dash=dash)
    for spot in diagram.spots:
        ring = circle_path(*at(spot.x, spot.y), RING * size)
        yield replace(ring, fill="#FFFFFF")


def _own_lines(arrows: Sequence[Arrow]) -> Iterator[tuple[Arrow, Points]]:
    """Each arrow's points without the beginning that another from the same stage draws already.

    Ink upon ink would show as a thicker line.
    """
    runs: dict[str, list[tuple[tuple[float, float], tuple[float, float]]]] = {}
    for arrow in arrows:
        before = runs.setdefault(arrow.tail, [])
        points = arrow.points
        while len(points) > 2 and any(_along(points[:2], run) for run in before):
            points = points[1:]
        before.extend(pairwise(arrow.points))
        yield arrow, points


def _along(part: Points, run: Points) -> bool:
    """Whether `part` lies on `run`; both go straight across or straight down."""
    return all(
        min(run[0][i], run[1][i]) - 0.02 <= point[i] <= max(run[0][i], run[1][i]) + 0.02
        for point in part
        for i in (0, 1)
    )


def _scale(word: Words, size: float, left: float, top: float) -> Words:
    return replace(
        word,
        x=left + word.x * size,
        y=top + word.y * size,
        size=word.size * size,
        width=word.width * size,
    )
