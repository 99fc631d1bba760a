"""One step with its branches hung on it: beside it, indented below it, and straight below it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from render.drawing.ink import Drawing, Flow, Label
from render.drawing.outlines import Type
from render.layout.boxes import Stack
from render.layout.fronts import Array, Best, Choice, Front, Gaps, join
from render.wording.script import Step


def stack_choice(stack: Stack, step: Step) -> Choice:
    """A step's own symbols, with the lines that link them."""

    def draw(x: float, y: float) -> Drawing:
        links = tuple(
            Flow(step.id, step.id, ((x + a, y + top), (x + a, y + bottom)), head=False)
            for a, top, bottom in stack.links
        )
        return Drawing(stack.w, stack.h, tuple(s.move(x, y) for s in stack.symbols), links)

    return Choice(stack.w, stack.h, draw, port=stack.left, top=stack.top[1])


_Under = tuple[float, float, Choice | None, Choice | None]


@dataclass(frozen=True, slots=True)
class Composer:
    """One way to hang the branches of a step: beside it, indented below, and straight below."""

    step: Step
    own: Sequence[Stack]
    right: Front
    low: Front
    down: Front
    gaps: Gaps
    type_: Type
    row_label: Label | None = None

    def offer_to(self, best: Best) -> None:
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
    def _offer(best: Best, w: Array, h: Array, make: Callable[[int, int, int], Choice]) -> None:
        wide, high = w.ravel(), h.ravel()
        # Few of the many combinations are worth sorting.
        hopeful = best.hopeful(wide, high)
        order = hopeful[np.lexsort((high[hopeful], wide[hopeful]))]
        lowest = np.minimum.accumulate(high[order])
        fresh = np.ones(len(order), dtype=bool)
        fresh[1:] = high[order][1:] < lowest[:-1] - 0.05
        fresh_order = order[fresh]
        best.reach(wide[fresh_order], high[fresh_order])
        for flat in fresh_order.tolist():
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
        best: list[_Under] = []
        for one in every:
            if not best or one[1] < best[-1][1] - 0.05:
                best.append(one)
        return best

    def _column(self, stack: Stack, under: _Under) -> Choice:
        w, h, pile, child = under
        wide, high = max(stack.w, w), stack.h + h
        return self._composition(stack, stack.h, None, 0.0, pile, child, wide, high)

    def _beside_all(self, stack: Stack, under: _Under, side: Choice) -> Choice:
        column = self._column(stack, under)
        at = column.w + self.gaps.side

        def draw(x: float, y: float) -> Drawing:
            return join(column.draw(x, y), self._side(stack, side, x, y, at))

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
        return self._composition(
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
        return self._composition(stack, head, side, at, pile, child, max(at + side.w, w), head + h)

    def _composition(
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
            parts = [stack_choice(stack, self.step).draw(x, y)]
            if side:
                parts.append(self._side(stack, side, x, y, at, side_y))
            parts.extend(self._below(stack, head, pile, child, x, y))
            return join(*parts)

        return Choice(w, h, draw, port=stack.left, top=stack.top[1])

    def _side(
        self, stack: Stack, side: Choice, x: float, y: float, at: float, side_y: float = 0.0
    ) -> Drawing:
        drawing = side.draw(x + at, y + side_y)
        assert stack.right is not None
        px, py = x + stack.right[0], y + stack.right[1]
        stubs = [f for f in drawing.flows if f.start == self.step.id and f.points[0][0] == x + at]
        lines = []
        for flow in drawing.flows:
            if flow not in stubs:
                lines.append(flow)
                continue
            (sx, sy), *rest = flow.points
            points = (
                ((px, py), (sx, py), (sx, sy), *rest) if abs(sy - py) > 1e-6 else ((px, py), *rest)
            )
            lines.append(Flow(flow.start, flow.end, points, flow.head))
        labels = drawing.labels
        if self.row_label:
            half_w, _ = self.type_.diamond
            left = x + self.type_.offset + half_w + 0.2 * self.type_.body
            labels = (*labels, self.row_label.move(left, py - self.row_label.box.h))
        return Drawing(0, 0, drawing.symbols, tuple(lines), labels)

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
            drawing = pile.draw(x + self.type_.offset, start + self.gaps.between)
            lines = tuple(
                Flow(f.start, f.end, ((from_x, from_y), *f.points), f.head)
                if f.start == self.step.id and f.points[0][0] == x + self.type_.offset
                else f
                for f in drawing.flows
            )
            parts.append(Drawing(0, 0, drawing.symbols, lines, drawing.labels))
            start += self.gaps.between + pile.h
        if child:
            drawing = child.draw(x, start)
            lines = tuple(
                Flow(f.start, f.end, ((from_x, from_y), *f.points[1:]), f.head)
                if f.start == self.step.id and f.points[0] == (x + self.type_.offset, start)
                else f
                for f in drawing.flows
            )
            parts.append(Drawing(0, 0, drawing.symbols, lines, drawing.labels))
        return parts
