"""Flowchart symbols of ISO 5807 measured around their words.

A step is a stack: its set-ups (preparation hexagon; manual operation, wide at the top, where the
unit is made safe), then the test (process rectangle) with the decision diamond that carries its
number hanging below, or the verdict (terminator). The diamond holds only the number of the
question asked right above it, which keeps it small: a diamond around a sentence wastes half a box.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from render.drawing import signs
from render.drawing.benchband import MARK_INK, band, band_width, mark_runs, unbroken
from render.drawing.face import Family
from render.drawing.ink import Box, Stroke, Symbol, Words
from render.drawing.outlines import (
    OUTLINE,
    PAD_X,
    PAD_Y,
    SHAPES,
    Type,
    circle_path,
    diamond_path,
    rectangle_path,
)
from render.drawing.typeset import LEADING, Run, SetLine, break_lines, widest_word, width
from render.wording.script import Paragraph, Part, Signal, Step

_STACK_GAP = 0.22


@dataclass(frozen=True, slots=True)
class Widths:
    """Widths in em at which symbols are tried: of steps, and of verdicts alone."""

    steps: tuple[float, ...]
    ends: tuple[float, ...]


COARSE = Widths((9.5, 11.0, 13.0, 15.5, 18.5, 23.0), (6.5, 8.0, 10.0, 12.5, 16.0, 20.0))
FINE = Widths(
    (9.5, 10.5, 11.7, 13.0, 14.5, 16.2, 18.0, 20.5, 23.5),
    (6.5, 7.3, 8.2, 9.2, 10.4, 11.8, 13.4, 15.2, 17.5, 20.0),
)


@dataclass(frozen=True, slots=True)
class Stack:
    """A step drawn at one width, from (0, 0); ports are where lines come and go.

    `top` is the x of the line from above, `left` the point of a line from the left, `right` and
    `bottom` the diamond's exits (None for a verdict).
    """

    w: float
    h: float
    symbols: tuple[Symbol, ...]
    links: tuple[tuple[float, float, float], ...]
    top: tuple[float, float]
    left: tuple[float, float]
    right: tuple[float, float] | None
    bottom: tuple[float, float] | None


@lru_cache(maxsize=2_000)
def stacks(step: Step, type_: Type, widths: Widths) -> tuple[Stack, ...]:
    """The step at several widths, none of them both wider and higher than another."""
    ends = not step.asks and len(step.parts) == 1
    least = max(_least_room(part, type_) for part in step.parts)
    if step.shared or step.cut:
        least = max(least, _beside_circle(step, type_) + _LEAST_ORIGIN_EMS * type_.body)
    ems_of = widths.ends if ends else widths.steps
    rooms = sorted({max(least, ems * type_.body) for ems in ems_of})
    candidates = [stack(step, type_, room) for room in rooms]
    best: list[Stack] = []
    for one in sorted(candidates, key=lambda s: (s.w, s.h)):
        if not best or one.h < best[-1].h - 0.01:
            best.append(one)
    return tuple(best)


def _least_room(part: Part, type_: Type) -> float:
    """The narrowest a symbol may be: no word is cut, nor a signal word from its sign."""
    family, size = type_.family, type_.body
    heads = [family.strong.width(signal.word, size) for signal in part.signals]
    heads += [family.strong.width(unbroken(part.mark), size)] if part.mark else []
    edges = 2 * (PAD_X + 0.9) * size + band_width(part.mark, type_)
    words = [
        widest_word(p.runs, family, type_.hands if p.hands else size) for p in part.paragraphs
    ]
    hazards = [hazard for signal in part.signals for hazard in signal.hazards]
    words += [widest_word((Run(hazard + ","),), family, size) for hazard in hazards]
    longest = min(max(words, default=0.0), LONGEST_EMS * size)
    return max(max(heads, default=0.0) + (_SIGN_EMS + 0.4) * size, longest) + edges


_ORIGIN_EMS = 8.0
_LEAST_ORIGIN_EMS = 4.0
# No word of a language is longer; what is, is cut.
LONGEST_EMS = 16.0
_MOST_ORIGINS = 14


def stack(step: Step, type_: Type, room: float) -> Stack:
    """The step's symbols one above the other, `room` mm wide."""
    symbols: list[Symbol] = []
    links: list[tuple[float, float, float]] = []
    y = 0.0
    entry = 0.0
    if step.shared or step.cut:
        circle, entry = _incoming(step, type_, room)
        symbols.append(circle)
        y = entry
    first_y = y
    for index, part in enumerate(step.parts):
        if not index and step.cut:
            # Whoever comes by a circle has not seen where this stand of the bench began.
            part = replace(part, begins=True)
        if index:
            gap = _STACK_GAP * type_.body
            links.append((type_.offset, y, y + gap))
            y += gap
        symbol = replace(_symbol(part, type_, room), anchor=part.node)
        symbols.append(symbol.move(0, y))
        y += symbol.box.h
    first = symbols[1 if step.shared or step.cut else 0]
    left = _left_port(first, type_)
    if step.shared or step.cut:
        circle_x = symbols[0].box.x + type_.circle
        links.append((circle_x, symbols[0].box.bottom, first_y))
    bottom: tuple[float, float] | None = (type_.offset, y)
    right: tuple[float, float] | None = None
    if step.asks:
        diamond = _diamond(step, type_, y)
        symbols.append(diamond)
        right = (diamond.box.right, diamond.box.y + diamond.box.h / 2)
        y = diamond.box.bottom
        bottom = (type_.offset, y)
    elif not step.exits:
        bottom = None
    top = (type_.offset, first_y + _top_inset(first, type_.offset))
    return Stack(room, y, tuple(symbols), tuple(links), top, left, right, bottom)


def connector(node: str, target: str, type_: Type) -> Symbol:
    """The circle that stands for a step drawn elsewhere; its letter is put in after placing."""
    r = type_.circle
    return Symbol(
        node=node,
        kind="connector",
        box=Box(0, 0, 2 * r, 2 * r),
        outline=circle_path(r, r, r),
        link=target,
    )


def with_letter(symbol: Symbol, text: str, type_: Type) -> Symbol:
    """The connector with `text` (sheet and letter) in its middle."""
    run = (Run(text, bold=True),)
    across = width(run, type_.family, type_.body)
    cx, cy = symbol.box.x + symbol.box.w / 2, symbol.box.y + symbol.box.h / 2
    baseline = cy + type_.family.regular.capital * type_.body / 2
    words = Words(cx - across / 2, baseline, type_.body, text, across, bold=True)
    return replace(symbol, words=(words,), room=())


def _incoming(step: Step, type_: Type, room: float) -> tuple[Symbol, float]:
    """The circle by which connectors come in, with room at its right to say from where.

    A step drawn elsewhere is entered by the circle alone; else a flow line passes at its left.
    """
    r = type_.circle
    beside = _beside_circle(step, type_)
    x = beside - 0.3 * type_.body - 2 * r
    sources = step.ways_in if step.cut else step.ways_in - 1
    high = max(2 * r, (1 + min(sources, _MOST_ORIGINS)) * type_.body * LEADING)
    circle = Symbol(
        node=f"in:{step.id}",
        kind="connector",
        box=Box(x, high / 2 - r, 2 * r, 2 * r),
        outline=circle_path(x + r, high / 2, r),
        anchor=f"in:{step.id}",
        room=(Box(beside, 0, min(room - beside, _ORIGIN_EMS * type_.body), high),),
    )
    return circle, high + 0.35 * type_.body


def _beside_circle(step: Step, type_: Type) -> float:
    """Where the words at the right of the circle begin, mm from the step's left edge."""
    x = type_.offset - type_.circle if step.cut else type_.offset + 0.5 * type_.body
    return x + 2 * type_.circle + 0.3 * type_.body


def _symbol(part: Part, type_: Type, room: float) -> Symbol:
    shape = SHAPES[part.kind]
    pad_x, pad_y = PAD_X * type_.body, PAD_Y * type_.body
    inset = shape.inset(type_, 0.0)
    beside = band_width(part.mark, type_)
    for _ in range(4):
        inner = room - beside - 2 * (inset + pad_x)
        body = _set(part, type_, max(inner, 3 * type_.body))
        height = body.height + 2 * pad_y
        wanted = shape.inset(type_, height)
        if wanted <= inset + 1e-6:
            break
        inset = wanted
    left, top = inset + beside + pad_x, pad_y
    box = Box(0, 0, room, height)
    return Symbol(
        node=part.node,
        kind=shape.name,
        box=box,
        outline=shape.outline(box, type_),
        words=tuple(w.move(left, top) for w in body.words),
        signs=(
            *band(part.mark, shape, box, type_),
            *(s.move(left, top) for s in body.signs),
        ),
        room=(Box(inset + beside, 0, room - beside - 2 * inset, height),),
    )


@dataclass(frozen=True, slots=True)
class _Body:
    words: tuple[Words, ...]
    signs: tuple[Stroke, ...]
    height: float


def _set(part: Part, type_: Type, room: float) -> _Body:
    words: list[Words] = []
    strokes: list[Stroke] = []
    y = 0.0
    for paragraph in _paragraphs(part, type_):
        size = type_.hands if paragraph.hands else type_.body
        for line in break_lines(paragraph.runs, type_.family, size, room):
            for word in set_words(line, 0.0, y, size, type_.family):
                _keep(word, part, y, type_, words, strokes)
            y += size * LEADING
    return _Body(tuple(words), tuple(strokes), y)


def _paragraphs(part: Part, type_: Type) -> list[Paragraph]:
    """The part's words: the bench's mark where it begins, what the hands do and what is good, then
    what could hurt, then the minutes."""
    first, *rest = part.paragraphs
    if part.mark and part.begins:
        first = replace(first, runs=(*mark_runs(part.first_mark or part.mark), *first.runs))
    paragraphs = [first, *rest]
    inline = _signal_runs(part.signals, type_)
    last = (*inline, *part.tail)
    if not last:
        return paragraphs
    one_size = part.kind == "verdict" or type_.hands == type_.body or not paragraphs[-1].hands
    if one_size or not inline:
        before = paragraphs[-1]
        return [*paragraphs[:-1], replace(before, runs=(*before.runs, Run(" "), *last))]
    # Signal words stand on a line of their own where type sizes differ.
    return [*paragraphs, Paragraph(last)]


def set_words(line: SetLine, x: float, y: float, size: float, family: Family) -> Iterator[Words]:
    """A set line's pieces at x, in a line box whose top is y."""
    baseline = y + size * (LEADING - 1.0) / 2 + 0.7525 * size
    for piece in line.pieces:
        across = family.face(piece.bold).width(piece.text, size)
        yield Words(x + piece.x, baseline, size, piece.text, across, piece.bold, piece.ink)


def _blank(type_: Type) -> str:
    """Hard spaces as wide as a sign; where a line has them, the sign is drawn."""
    return "\u00a0" * math.ceil(_SIGN_EMS / type_.family.strong.advances["\u00a0"])


def _signal_runs(signals: Sequence[Signal], type_: Type) -> tuple[Run, ...]:
    """Sign, signal word on its colour, hazards with the numbers of their full cautions."""
    runs: list[Run] = []
    for signal in signals:
        ink = signs.SIGNAL_COLOURS.get(signal.word, _PLAIN)[1]
        stop = "." if signal is signals[-1] else ""
        runs.append(Run(_blank(type_) + signal.word, bold=True, ink=ink))
        runs.append(Run(f" {', '.join(signal.hazards)}{stop} "))
    return tuple(runs)


def _keep(
    word: Words, part: Part, y: float, type_: Type, words: list[Words], strokes: list[Stroke]
) -> None:
    """Keep a piece of a line; a mark's word gets its ground, a signal word its sign and chip."""
    if not word.text.strip():
        return
    if word.ink == MARK_INK:
        words.append(word)
        strokes.append(_chip(word, y, _MARK_GROUND))
        return
    blank = _blank(type_)
    lead, gap, head = word.text.partition(blank)
    if not gap:
        words.append(word)
        return
    face = type_.family.face(word.bold)
    if lead:
        words.append(replace(word, text=lead, width=face.width(lead, word.size)))
    skip = face.width(lead + gap, word.size)
    head_word = replace(word, x=word.x + skip, text=head, width=word.width - skip)
    signal = next(s for s in part.signals if s.word == head)
    words.append(head_word)
    strokes.extend(_sign_and_chip(signal, word.x + face.width(lead, word.size), head_word, y))


_SIGN_EMS = 1.3
_PLAIN = ("#FFFFFF", "#000000")
_MARK_GROUND = "#000000"


def _sign_and_chip(signal: Signal, x: float, head: Words, y: float) -> Iterator[Stroke]:
    sign = signs.for_hazard(signal.hazards[0] if signal.hazards else "", signal.word)
    yield from signs.draw(sign, x, y - 0.02 * head.size, 1.08 * head.size)
    yield _chip(head, y, signs.SIGNAL_COLOURS.get(signal.word, _PLAIN)[0])


def _chip(head: Words, y: float, ground: str) -> Stroke:
    """The ground behind a word of a line whose top is y."""
    size = head.size
    box = Box(head.x - 0.08 * size, y + 0.08 * size, head.width + 0.16 * size, 0.92 * size)
    return Stroke(rectangle_path(box), 0.0, "none", ground)


def _diamond(step: Step, type_: Type, y: float) -> Symbol:
    half_w, half_h = type_.diamond
    box = Box(type_.offset - half_w, y, 2 * half_w, 2 * half_h)
    symbol = Symbol(
        node=step.parts[-1].node,
        kind="decision",
        box=box,
        outline=Stroke(diamond_path(box), OUTLINE),
    )
    return with_letter(symbol, f"{step.number}?", type_)


def _left_port(symbol: Symbol, type_: Type) -> tuple[float, float]:
    box = symbol.box
    if symbol.kind in ("terminator", "preparation"):
        return box.x, box.y + box.h / 2
    down = min(box.h / 2, 1.2 * type_.body)
    slant = 0.0
    if symbol.kind == "manual operation":
        slant = float(symbol.outline.path[3][1]) - box.x
    return box.x + slant * down / box.h, box.y + down


def _top_inset(symbol: Symbol, offset: float) -> float:
    """How far below the box's top the outline runs at `offset` from the left."""
    if symbol.kind == "terminator":
        r = float(symbol.outline.path[2][1])
        return 0.0 if offset >= r else r - math.sqrt(r * r - (r - offset) ** 2)
    if symbol.kind == "preparation":
        notch = float(symbol.outline.path[0][1]) - symbol.box.x
        return 0.0 if offset >= notch else symbol.box.h / 2 * (1 - offset / notch)
    return 0.0
