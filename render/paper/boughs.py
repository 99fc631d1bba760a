"""Packing a chart's tree into little paper without crossings.

An extension of h-v drawings (Crescenzi, Di Battista and Piperno 1992; Eades, Lin and Lin 1993):
every branch hangs either beside its step or below it, so lines can't cross. For each sub-tree we
keep the sizes (w, h) at which it can be drawn, none of them both wider and higher than another,
and combine children's sizes bottom-up. With fronts of at most F sizes and k branches a step costs
O(k^2 F^2); F is capped, so sizes are exact up to that thinning. Shared steps are drawn where they
are likeliest reached; other ways to them end in a connector.

The result is a choice; `draw` turns it into symbols, lines and labels in mm.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
import numpy.typing as npt

from render.paper.ink import Box, Drawing, Flow, Label, Words
from render.paper.script import Exit, Script, Step
from render.paper.symbols import Stack, Type, connector, set_words, stacks
from render.paper.typeset import LEADING, Run, break_lines

MOST_SIZES = 26
_MOST_INLINES = 4
FARTHEST_LABEL_MM = 4.6
_Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Choice:
    """How one size of a front comes about: a way to draw it at (x, y)."""

    w: float
    h: float
    draw: Callable[[float, float], Drawing]
    port: tuple[float, float] = (0.0, 0.0)
    top: float = 0.0


Front = tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class _Gaps:
    """Distances in mm, all in proportion to the type."""

    side: float
    trunk: float
    stub: float
    below: float
    between: float
    label: float

    @staticmethod
    def of(type_: Type) -> _Gaps:
        em = type_.body
        return _Gaps(
            side=0.62 * em,
            trunk=0.28 * em,
            stub=0.62 * em,
            below=0.72 * em,
            between=0.36 * em,
            label=0.12 * em,
        )


@dataclass(slots=True)
class Packer:
    """Fronts of the sub-trees of one script at one type size.

    `cut` holds steps that are drawn elsewhere: ways to them end in connectors.
    """

    script: Script
    type_: Type
    cut: frozenset[str]
    homes: Mapping[tuple[str, str], bool]
    limit: tuple[float, float] = (1e9, 1e9)
    _fronts: dict[str, Front] = field(default_factory=dict)
    _stacks: dict[str, tuple[Stack, ...]] = field(default_factory=dict)
    _labels: dict[str, list[tuple[Words, ...]]] = field(default_factory=dict)

    def front(self, step_id: str) -> Front:
        """The sizes at which the step with all that hangs on it can be drawn."""
        if step_id not in self._fronts:
            self._fronts[step_id] = self._grow(self.script.steps[step_id])
        return self._fronts[step_id]

    def lifting(self, lifted: Sequence[str]) -> Packer:
        """A packer with those steps cut off as well; fronts that they don't touch are kept."""
        stale = set(lifted) | {
            step for step in self._fronts if any(self._leads_to(step, one) for one in lifted)
        }
        return Packer(
            self.script,
            self.type_,
            self.cut | frozenset(lifted),
            self.homes,
            self.limit,
            {step: front for step, front in self._fronts.items() if step not in stale},
            {step: drawn for step, drawn in self._stacks.items() if step not in lifted},
            self._labels,
        )

    def roomy(self) -> Packer:
        """A packer on boundless paper, to weigh sizes before asking whether they fit."""
        return Packer(
            self.script,
            self.type_,
            self.cut,
            self.homes,
            _stacks=dict(self._stacks),
            _labels=self._labels,
        )

    def _leads_to(self, step: str, wanted: str) -> bool:
        todo = [step]
        while todo:
            one = todo.pop()
            if one == wanted:
                return True
            todo.extend(
                way.to
                for way in self.script.steps[one].exits
                if self.homes.get((one, way.to), True)
            )
        return False

    def forget_stack(self, step_id: str) -> None:
        """Drop a step's symbols, and its front: it now begins with a connector."""
        self._stacks.pop(step_id, None)
        self._fronts.pop(step_id, None)

    def forget(self, step_id: str) -> None:
        """Drop a front that a new cut below it made stale."""
        self._fronts.pop(step_id, None)

    def stacks(self, step_id: str) -> tuple[Stack, ...]:
        """The step's own symbols at several widths."""
        if step_id not in self._stacks:
            step = self.script.steps[step_id]
            if step_id in self.cut and not step.shared:
                step = replace(step, shared=True)
            self._stacks[step_id] = stacks(step, self.type_)
        return self._stacks[step_id]

    def _child(self, step: Step, way: Exit) -> Front:
        if way.to in self.cut or not self.homes.get((step.id, way.to), True):
            return (self._connector(step, way),)
        return self.front(way.to)

    def _connector(self, step: Step, way: Exit) -> Choice:
        symbol = connector(f"out:{step.id}:{way.to}", way.to, self.type_)

        def draw(x: float, y: float) -> Drawing:
            return Drawing(symbol.box.w, symbol.box.h, (symbol.moved(x, y),))

        return Choice(symbol.box.w, symbol.box.h, draw, port=(0.0, symbol.box.h / 2))

    def _grow(self, step: Step) -> Front:
        own = self.stacks(step.id)
        if not step.exits:
            return tuple(_stack_choice(one, step) for one in own)
        gaps = _Gaps.of(self.type_)
        if not step.asks:
            return self._run_on(step, own, gaps)
        limbs = {way.to: self._limbs(step, way, gaps) for way in step.exits}
        hung = {way.to: self._hung(step, way, gaps) for way in step.exits}
        best = _Best(self.limit)
        piles = _Piles(limbs, gaps)
        for inline in _inlines(step.exits):
            rest = [way for way in step.exits if way is not inline]
            for beside, under in _splits(rest):
                right = piles.of(tuple(way.to for way in beside))
                low = piles.of(tuple(way.to for way in under))
                down = hung[inline.to] if inline else ()
                if (beside and not right) or (under and not low) or (inline and not down):
                    continue
                _Composer(step, own, right, low, down, gaps, self.type_).offer_to(best)
                if len(beside) == 1:
                    self._offer_row_labelled(best, step, own, beside[0], low, down, gaps)
        return best.front()

    def _offer_row_labelled(
        self,
        best: _Best,
        step: Step,
        own: Sequence[Stack],
        way: Exit,
        low: Front,
        down: Front,
        gaps: _Gaps,
    ) -> None:
        """The only branch beside a step may carry its label right beside the diamond."""
        words = min(self._label_lines(way), key=lambda lines: _extent(lines)[1])
        across, high = _extent(words)
        half_w, half_h = self.type_.diamond
        start = self.type_.offset + half_w + 0.2 * self.type_.body
        wide = [s for s in own if s.w - start >= across]
        if not words or not wide or high > half_h + 0.3 * self.type_.body:
            return
        bare = replace(way, label="")
        right = self._limbs(step, bare, gaps)
        label = _label(step, way, words)
        _Composer(step, wide, right, low, down, gaps, self.type_, label).offer_to(best)

    def _run_on(self, step: Step, own: Sequence[Stack], gaps: _Gaps) -> Front:
        best = _Best(self.limit)
        down = self._hung(step, step.exits[0], gaps)
        if down:
            _Composer(step, own, (), (), down, gaps, self.type_).offer_to(best)
        return best.front()

    def _limbs(self, step: Step, way: Exit, gaps: _Gaps) -> Front:
        """A branch entered from the left: its label on the line before it, or above it."""
        best = _Best(self.limit)
        for child in self._child(step, way):
            for lines in self._label_lines(way):
                best.offer(_label_left(step, way, child, lines, gaps, self.type_))
                if child.port[1] <= FARTHEST_LABEL_MM or not lines:
                    best.offer(_label_above(step, way, child, lines, gaps, self.type_))
        return best.front()

    def _hung(self, step: Step, way: Exit, gaps: _Gaps) -> Front:
        """A branch entered from above: its label beside the line down to it."""
        best = _Best(self.limit)
        for child in self._child(step, way):
            for lines in self._label_lines(way):
                best.offer(_label_beside(step, way, child, lines, gaps, self.type_))
        return best.front()

    def _label_lines(self, way: Exit) -> list[tuple[Words, ...]]:
        if not way.label:
            return [()]
        if way.label in self._labels:
            return self._labels[way.label]
        size, family = self.type_.body, self.type_.family
        found: dict[int, tuple[Words, ...]] = {}
        for ems in (4.2, 5.5, 7.5, 10.0, 14.0, 20.0):
            lines = break_lines((Run(way.label),), family, size, ems * size)
            words = tuple(
                word
                for index, line in enumerate(lines)
                for word in set_words(line, 0.0, index * size * LEADING, size, family)
            )
            known = found.get(len(lines))
            if known is None or _extent(words)[0] < _extent(known)[0]:
                found[len(lines)] = words
        self._labels[way.label] = list(found.values())
        return self._labels[way.label]


def _extent(words: Sequence[Words]) -> tuple[float, float]:
    if not words:
        return 0.0, 0.0
    size = words[0].size
    return max(w.x + w.width for w in words), max(w.y for w in words) + 0.26 * size


def _inlines(exits: Sequence[Exit]) -> list[Exit | None]:
    """Branches worth hanging straight below: none, or one of the likeliest few."""
    likely = sorted(exits, key=lambda way: -way.odds)
    return [None, *likely[:_MOST_INLINES]]


def _splits(rest: Sequence[Exit]) -> list[tuple[Sequence[Exit], Sequence[Exit]]]:
    """Ways to hang branches beside and below: the likelier beside, or the other way round."""
    by_odds = sorted(rest, key=lambda way: -way.odds)
    splits: list[tuple[Sequence[Exit], Sequence[Exit]]] = []
    for count in range(len(rest) + 1):
        first = {way.to for way in by_odds[:count]}
        chosen = [way for way in rest if way.to in first]
        others = [way for way in rest if way.to not in first]
        for split in ((chosen, others), (others, chosen)):
            if split not in splits:
                splits.append(split)
    return splits


class _Best:
    """Collects sizes and keeps a front of at most MOST_SIZES of them.

    Most sizes are beaten by others, so a choice is made only when the front is taken.
    """

    def __init__(self, limit: tuple[float, float]) -> None:
        self.limit = limit
        self.sizes: list[tuple[float, float, Callable[[], Choice]]] = []
        # Widths in order, and the least height reached at each or at a smaller one.
        self.widths: _Array = np.array([-np.inf])
        self.heights: _Array = np.array([np.inf])

    def hopeful(self, wide: _Array, high: _Array) -> npt.NDArray[np.intp]:
        """Which sizes keep to the limit and are not beaten by one that was reached before."""
        inside = np.flatnonzero((wide <= self.limit[0] + 1e-6) & (high <= self.limit[1] + 1e-6))
        before = np.searchsorted(self.widths, wide[inside], side="right") - 1
        return inside[high[inside] < self.heights[before]]

    def reach(self, wide: _Array, high: _Array) -> None:
        """Note sizes that are about to be offered."""
        widths = np.concatenate((self.widths, wide))
        heights = np.concatenate((self.heights, high))
        order = np.argsort(widths, kind="stable")
        self.widths, self.heights = widths[order], np.minimum.accumulate(heights[order])

    def offer(self, choice: Choice) -> None:
        self.offer_size(choice.w, choice.h, lambda: choice)

    def offer_size(self, w: float, h: float, make: Callable[[], Choice]) -> None:
        if w <= self.limit[0] + 1e-6 and h <= self.limit[1] + 1e-6:
            self.sizes.append((w, h, make))

    def front(self) -> Front:
        kept: list[tuple[float, float, Callable[[], Choice]]] = []
        for size in sorted(self.sizes, key=lambda s: s[:2]):
            if not kept or size[1] < kept[-1][1] - 0.05:
                kept.append(size)
        return tuple(make() for _, _, make in _thinned(kept))


_Size = tuple[float, float, Callable[[], Choice]]


def _thinned(kept: Sequence[_Size]) -> Sequence[_Size]:
    """At most MOST_SIZES of a front: in each of as many equal steps of log width the smallest."""
    if len(kept) <= MOST_SIZES:
        return kept
    widths = np.log([w for w, _, _ in kept])
    bins = np.floor((widths - widths[0]) / (widths[-1] - widths[0] + 1e-9) * MOST_SIZES)
    chosen: dict[int, _Size] = {}
    for place, size in zip(bins.astype(int).tolist(), kept, strict=True):
        known = chosen.get(place)
        if known is None or size[0] * size[1] < known[0] * known[1]:
            chosen[place] = size
    return [chosen[place] for place in sorted(chosen)]


class _Piles:
    """Branches one below the other; ports of all of them reach the trunk at their left.

    Piles that begin alike are built once.
    """

    def __init__(self, limbs: Mapping[str, Front], gaps: _Gaps) -> None:
        self.limbs, self.gaps = limbs, gaps
        self.built: dict[tuple[str, ...], Front] = {(): ()}

    def of(self, ways: tuple[str, ...]) -> Front:
        """The sizes of the pile of those branches; empty if one of them can't be drawn."""
        if ways not in self.built:
            if len(ways) == 1:
                self.built[ways] = self.limbs[ways[0]]
            else:
                self.built[ways] = self._stacked(self.of(ways[:-1]), self.limbs[ways[-1]])
        return self.built[ways]

    def _stacked(self, pile: Front, more: Front) -> Front:
        best = _Best((1e9, 1e9))
        if not pile or not more:
            return ()
        upper_widths, lower_widths = [c.w for c in pile], [c.w for c in more]
        for size in sorted({*upper_widths, *lower_widths}):
            # Fronts run from narrow and high to wide and low: the last that fits is the lowest.
            upper = bisect_right(upper_widths, size + 1e-6) - 1
            lower = bisect_right(lower_widths, size + 1e-6) - 1
            if upper >= 0 and lower >= 0:
                top, foot = pile[upper], more[lower]
                best.offer_size(
                    max(top.w, foot.w),
                    top.h + self.gaps.between + foot.h,
                    partial(_piled, top, foot, self.gaps),
                )
        return best.front()


def _piled(upper: Choice, lower: Choice, gaps: _Gaps) -> Choice:
    start = upper.h + gaps.between

    def draw(x: float, y: float) -> Drawing:
        return _joined(upper.draw(x, y), lower.draw(x, y + start))

    return Choice(max(upper.w, lower.w), start + lower.h, draw)


def _joined(*drawings: Drawing) -> Drawing:
    return Drawing(
        max(d.width for d in drawings),
        max(d.height for d in drawings),
        tuple(s for d in drawings for s in d.symbols),
        tuple(f for d in drawings for f in d.flows),
        tuple(la for d in drawings for la in d.labels),
    )


def _stack_choice(stack: Stack, step: Step) -> Choice:
    def draw(x: float, y: float) -> Drawing:
        links = tuple(
            Flow(step.id, step.id, ((x + a, y + top), (x + a, y + bottom)), head=False)
            for a, top, bottom in stack.links
        )
        return Drawing(stack.w, stack.h, tuple(s.moved(x, y) for s in stack.symbols), links)

    return Choice(stack.w, stack.h, draw, port=stack.left, top=stack.top[1])


def _label(step: Step, way: Exit, words: tuple[Words, ...]) -> Label:
    w, h = _extent(words)
    return Label(step.id, way.to, Box(0, 0, w, h), words, way.outcomes)


def _label_left(
    step: Step, way: Exit, child: Choice, words: tuple[Words, ...], gaps: _Gaps, type_: Type
) -> Choice:
    """Label standing on the line that runs into the child's left side."""
    label = _label(step, way, words)
    across = gaps.trunk + label.box.w + gaps.stub
    port_y = max(child.port[1], label.box.h + gaps.label)
    drop = port_y - child.port[1]

    def draw(x: float, y: float) -> Drawing:
        inner = child.draw(x + across, y + drop)
        line = Flow(step.id, way.to, ((x, y + port_y), (x + across + child.port[0], y + port_y)))
        placed = label.moved(x + gaps.trunk, y + port_y - gaps.label - label.box.h)
        return Drawing(
            0,
            0,
            inner.symbols,
            (*inner.flows, line),
            (*inner.labels, *((placed,) if words else ())),
        )

    return Choice(across + child.w, drop + child.h, draw, port=(0.0, port_y))


def _label_above(
    step: Step, way: Exit, child: Choice, words: tuple[Words, ...], gaps: _Gaps, type_: Type
) -> Choice:
    """Label above the child; the line runs in under it and on into the child's left side."""
    label = _label(step, way, words)
    head = label.box.h + gaps.label
    across = gaps.stub
    port_y = head + child.port[1]

    def draw(x: float, y: float) -> Drawing:
        inner = child.draw(x + across, y + head)
        line = Flow(step.id, way.to, ((x, y + port_y), (x + across + child.port[0], y + port_y)))
        placed = label.moved(x + gaps.trunk, y)
        return Drawing(
            0,
            0,
            inner.symbols,
            (*inner.flows, line),
            (*inner.labels, *((placed,) if words else ())),
        )

    width = max(across + child.w, gaps.trunk + label.box.w)
    return Choice(width, head + child.h, draw, port=(0.0, port_y))


def _label_beside(
    step: Step, way: Exit, child: Choice, words: tuple[Words, ...], gaps: _Gaps, type_: Type
) -> Choice:
    """Label at the right of the line that comes down to the child's top."""
    label = _label(step, way, words)
    head = max(label.box.h + 0.5 * gaps.label, gaps.below)
    at = min(type_.offset, child.w / 2)
    top = child.top

    def draw(x: float, y: float) -> Drawing:
        inner = child.draw(x + type_.offset - at, y + head)
        line = Flow(step.id, way.to, ((x + type_.offset, y), (x + type_.offset, y + head + top)))
        placed = label.moved(x + type_.offset + 0.35 * type_.body, y)
        return Drawing(
            0,
            0,
            inner.symbols,
            (*inner.flows, line),
            (*inner.labels, *((placed,) if words else ())),
        )

    width = max(child.w + type_.offset - at, type_.offset + 0.35 * type_.body + label.box.w)
    return Choice(width, head + child.h, draw, port=(type_.offset, 0.0))


_Under = tuple[float, float, Choice | None, Choice | None]


@dataclass(frozen=True, slots=True)
class _Composer:
    """One way to hang the branches of a step: beside it, indented below, and straight below."""

    step: Step
    own: Sequence[Stack]
    right: Front
    low: Front
    down: Front
    gaps: _Gaps
    type_: Type
    row_label: Label | None = None

    def offer_to(self, best: _Best) -> None:
        """Offer the sizes of this way that no other size of it beats."""
        own_w = np.array([s.w for s in self.own])[:, None, None]
        own_h = np.array([s.h for s in self.own])[:, None, None]
        under = self._under()
        low_w = np.array([u[0] for u in under])[None, :, None]
        low_h = np.array([u[1] for u in under])[None, :, None]
        if not self.right:
            w, h = np.maximum(own_w, low_w), own_h + low_h
            self._offer(best, w, h, lambda o, u, r: self._column(self.own[o], under[u]))
            return
        side_w = np.array([c.w for c in self.right])[None, None, :]
        side_h = np.array([c.h for c in self.right])[None, None, :]
        w = np.maximum(own_w, low_w) + self.gaps.side + side_w
        h = np.maximum(own_h + low_h, side_h)
        self._offer(
            best, w, h, lambda o, u, r: self._beside_all(self.own[o], under[u], self.right[r])
        )
        if not self.row_label:
            shelf_x, shelf_y = self._shelf()
            w = np.maximum(np.maximum(own_w, shelf_x + side_w), low_w)
            gap = self.gaps.between if self.low or self.down else 0.0
            h = np.maximum(own_h, own_h + shelf_y + side_h + gap) + low_h
            self._offer(
                best, w, h, lambda o, u, r: self._on_shelf(self.own[o], under[u], self.right[r])
            )
        if self.low or self.down:
            w = np.maximum(own_w + self.gaps.side + side_w, low_w)
            h = np.maximum(own_h, side_h + self.gaps.between) + low_h
            self._offer(
                best, w, h, lambda o, u, r: self._beside_own(self.own[o], under[u], self.right[r])
            )

    @staticmethod
    def _offer(best: _Best, w: _Array, h: _Array, make: Callable[[int, int, int], Choice]) -> None:
        wide, high = w.ravel(), h.ravel()
        # Few of the many combinations are worth sorting.
        hopeful = best.hopeful(wide, high)
        order = hopeful[np.lexsort((high[hopeful], wide[hopeful]))]
        lowest = np.minimum.accumulate(high[order])
        fresh = np.ones(len(order), dtype=bool)
        fresh[1:] = high[order][1:] < lowest[:-1] - 0.05
        chosen = order[fresh]
        best.reach(wide[chosen], high[chosen])
        for flat in chosen.tolist():
            own, under, right = (int(i) for i in np.unravel_index(flat, w.shape))
            best.offer_size(float(wide[flat]), float(high[flat]), partial(make, own, under, right))

    def _under(self) -> list[_Under]:
        """Sizes of what hangs below: (w, h, indented pile, straight child)."""
        indent = self.type_.offset
        if not self.low and not self.down:
            return [(0.0, 0.0, None, None)]
        if not self.low:
            return [(c.w, c.h, None, c) for c in self.down]
        piles = [(indent + c.w, self.gaps.between + c.h, c) for c in self.low]
        if not self.down:
            return [(w, h, c, None) for w, h, c in piles]
        every: list[_Under] = sorted(
            ((max(w, c.w), h + c.h, pile, c) for w, h, pile in piles for c in self.down),
            key=lambda u: u[:2],
        )
        kept: list[_Under] = []
        for one in every:
            if not kept or one[1] < kept[-1][1] - 0.05:
                kept.append(one)
        return kept

    def _column(self, stack: Stack, under: _Under) -> Choice:
        w, h, pile, child = under
        return self._composed(stack, stack.h, None, 0.0, pile, child, max(stack.w, w), stack.h + h)

    def _beside_all(self, stack: Stack, under: _Under, side: Choice) -> Choice:
        column = self._column(stack, under)
        at = column.w + self.gaps.side

        def draw(x: float, y: float) -> Drawing:
            return _joined(column.draw(x, y), self._side(stack, side, x, y, at))

        return Choice(at + side.w, max(column.h, side.h), draw, port=stack.left, top=stack.top[1])

    def _shelf(self) -> tuple[float, float]:
        """Left edge, and top above the diamond's foot, of branches right of the diamond."""
        half_w, half_h = self.type_.diamond
        return (
            self.type_.offset + half_w + 0.5 * self.type_.body,
            self.gaps.between - 2 * half_h,
        )

    def _on_shelf(self, stack: Stack, under: _Under, side: Choice) -> Choice:
        """Branches under the step's own box, at the right of its diamond."""
        shelf_x, shelf_y = self._shelf()
        w, h, pile, child = under
        gap = self.gaps.between if pile or child else 0.0
        head = max(stack.h, stack.h + shelf_y + side.h + gap)
        return self._composed(
            stack,
            head,
            side,
            shelf_x,
            pile,
            child,
            max(stack.w, shelf_x + side.w, w),
            head + h,
            stack.h + shelf_y,
        )

    def _beside_own(self, stack: Stack, under: _Under, side: Choice) -> Choice:
        at = stack.w + self.gaps.side
        head = max(stack.h, side.h + self.gaps.between)
        w, h, pile, child = under
        return self._composed(stack, head, side, at, pile, child, max(at + side.w, w), head + h)

    def _composed(
        self,
        stack: Stack,
        head: float,
        side: Choice | None,
        at: float,
        pile: Choice | None,
        child: Choice | None,
        w: float,
        h: float,
        side_y: float = 0.0,
    ) -> Choice:
        def draw(x: float, y: float) -> Drawing:
            parts = [_stack_choice(stack, self.step).draw(x, y)]
            if side:
                parts.append(self._side(stack, side, x, y, at, side_y))
            parts.extend(self._below(stack, head, pile, child, x, y))
            return _joined(*parts)

        return Choice(w, h, draw, port=stack.left, top=stack.top[1])

    def _side(
        self, stack: Stack, side: Choice, x: float, y: float, at: float, side_y: float = 0.0
    ) -> Drawing:
        drawn = side.draw(x + at, y + side_y)
        assert stack.right is not None
        px, py = x + stack.right[0], y + stack.right[1]
        stubs = [f for f in drawn.flows if f.start == self.step.id and f.points[0][0] == x + at]
        routed = []
        for flow in drawn.flows:
            if flow not in stubs:
                routed.append(flow)
                continue
            (sx, sy), *rest = flow.points
            points = (
                ((px, py), (sx, py), (sx, sy), *rest) if abs(sy - py) > 1e-6 else ((px, py), *rest)
            )
            routed.append(Flow(flow.start, flow.end, points, flow.head))
        labels = drawn.labels
        if self.row_label:
            half_w, _ = self.type_.diamond
            left = x + self.type_.offset + half_w + 0.2 * self.type_.body
            labels = (*labels, self.row_label.moved(left, py - self.row_label.box.h))
        return Drawing(0, 0, drawn.symbols, tuple(routed), labels)

    def _below(
        self,
        stack: Stack,
        head: float,
        pile: Choice | None,
        child: Choice | None,
        x: float,
        y: float,
    ) -> list[Drawing]:
        assert stack.bottom is not None or (pile is None and child is None)
        parts: list[Drawing] = []
        if stack.bottom is None:
            return parts
        from_x, from_y = x + stack.bottom[0], y + stack.bottom[1]
        start = y + head
        if pile:
            drawn = pile.draw(x + self.type_.offset, start + self.gaps.between)
            routed = tuple(
                Flow(f.start, f.end, ((from_x, from_y), *f.points), f.head)
                if f.start == self.step.id and f.points[0][0] == x + self.type_.offset
                else f
                for f in drawn.flows
            )
            parts.append(Drawing(0, 0, drawn.symbols, routed, drawn.labels))
            start += self.gaps.between + pile.h
        if child:
            drawn = child.draw(x, start)
            routed = tuple(
                Flow(f.start, f.end, ((from_x, from_y), *f.points[1:]), f.head)
                if f.start == self.step.id and f.points[0] == (x + self.type_.offset, start)
                else f
                for f in drawn.flows
            )
            parts.append(Drawing(0, 0, drawn.symbols, routed, drawn.labels))
        return parts
