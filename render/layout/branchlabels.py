"""Where a branch's label stands: on its line, above its child, or beside the line down to it."""

from __future__ import annotations

from collections.abc import Sequence

from render.drawing.ink import Box, Drawing, Flow, Label, Words
from render.drawing.outlines import Type
from render.layout.fronts import Choice, Gaps
from render.wording.script import Exit, Step


def extent(words: Sequence[Words]) -> tuple[float, float]:
    """Width and height in mm of words set from the origin; nothing for no words."""
    if not words:
        return 0.0, 0.0
    size = words[0].size
    return max(w.x + w.width for w in words), max(w.y for w in words) + 0.26 * size


def label_of(step: Step, way: Exit, words: tuple[Words, ...]) -> Label:
    """The label of a branch, its words' box at the origin."""
    w, h = extent(words)
    return Label(step.id, way.to, Box(0, 0, w, h), words, way.outcomes)


def label_left(
    step: Step, way: Exit, child: Choice, label: Label, gaps: Gaps, type_: Type
) -> Choice:
    """Label standing on the line that runs into the child's left side."""
    across = gaps.trunk + label.box.w + gaps.stub
    port_y = max(child.port[1], label.box.h + gaps.label)
    drop = port_y - child.port[1]

    def draw(x: float, y: float) -> Drawing:
        inner = child.draw(x + across, y + drop)
        line = Flow(step.id, way.to, ((x, y + port_y), (x + across + child.port[0], y + port_y)))
        here = label.move(x + gaps.trunk, y + port_y - gaps.label - label.box.h)
        return Drawing(
            0,
            0,
            inner.symbols,
            (*inner.flows, line),
            (*inner.labels, *((here,) if label.words else ())),
        )

    return Choice(across + child.w, drop + child.h, draw, port=(0.0, port_y))


def label_above(
    step: Step, way: Exit, child: Choice, label: Label, gaps: Gaps, type_: Type
) -> Choice:
    """Label above the child; the line runs in under it and on into the child's left side."""
    head = label.box.h + gaps.label
    across = gaps.stub
    port_y = head + child.port[1]

    def draw(x: float, y: float) -> Drawing:
        inner = child.draw(x + across, y + head)
        line = Flow(step.id, way.to, ((x, y + port_y), (x + across + child.port[0], y + port_y)))
        here = label.move(x + gaps.trunk, y)
        return Drawing(
            0,
            0,
            inner.symbols,
            (*inner.flows, line),
            (*inner.labels, *((here,) if label.words else ())),
        )

    width = max(across + child.w, gaps.trunk + label.box.w)
    return Choice(width, head + child.h, draw, port=(0.0, port_y))


def label_beside(
    step: Step, way: Exit, child: Choice, label: Label, gaps: Gaps, type_: Type
) -> Choice:
    """Label at the right of the line that comes down to the child's top."""
    head = max(label.box.h + 0.5 * gaps.label, gaps.below)
    at = min(type_.offset, child.w / 2)
    top = child.top

    def draw(x: float, y: float) -> Drawing:
        inner = child.draw(x + type_.offset - at, y + head)
        line = Flow(step.id, way.to, ((x + type_.offset, y), (x + type_.offset, y + head + top)))
        here = label.move(x + type_.offset + 0.35 * type_.body, y)
        return Drawing(
            0,
            0,
            inner.symbols,
            (*inner.flows, line),
            (*inner.labels, *((here,) if label.words else ())),
        )

    width = max(child.w + type_.offset - at, type_.offset + 0.35 * type_.body + label.box.w)
    return Choice(width, head + child.h, draw, port=(type_.offset, 0.0))
