"""Fronts: sizes a piece of chart can be drawn at, none of them both wider and higher than another.

A size knows how to draw itself; nothing is drawn until one is chosen.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt

from render.drawing.ink import Drawing
from render.drawing.outlines import Type

MOST_SIZES = 16
Array = npt.NDArray[np.float64]


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
class Gaps:
    """Distances in mm, all in proportion to the type."""

    side: float
    trunk: float
    stub: float
    below: float
    between: float
    label: float

    @staticmethod
    def of(type_: Type) -> Gaps:
        """The distances for type of that size."""
        em = type_.body
        return Gaps(
            side=0.62 * em,
            trunk=0.28 * em,
            stub=0.62 * em,
            below=0.72 * em,
            between=0.36 * em,
            label=0.12 * em,
        )


class Best:
    """Collects sizes and keeps a front of at most `most` of them.

    Most sizes are beaten by others, so a choice is made only when the front is taken.
    """

    def __init__(self, limit: tuple[float, float], most: int = MOST_SIZES) -> None:
        self.limit, self.most = limit, most
        self.sizes: list[tuple[float, float, Callable[[], Choice]]] = []
        # Widths in order, and the least height reached at each or at a smaller one.
        self.widths: Array = np.array([-np.inf])
        self.heights: Array = np.array([np.inf])

    def hopeful(self, wide: Array, high: Array) -> npt.NDArray[np.intp]:
        """Which sizes keep to the limit and are not beaten by one that was reached before."""
        inside = np.flatnonzero((wide <= self.limit[0] + 1e-6) & (high <= self.limit[1] + 1e-6))
        before = np.searchsorted(self.widths, wide[inside], side="right") - 1
        return inside[high[inside] < self.heights[before]]

    def reach(self, wide: Array, high: Array) -> None:
        """Note sizes that are about to be offered."""
        widths = np.concatenate((self.widths, wide))
        heights = np.concatenate((self.heights, high))
        order = np.argsort(widths, kind="stable")
        self.widths, self.heights = widths[order], np.minimum.accumulate(heights[order])

    def offer(self, choice: Choice) -> None:
        """Collect a choice at its own size, if that keeps to the limit."""
        self.offer_size(choice.w, choice.h, lambda: choice)

    def offer_size(self, w: float, h: float, make: Callable[[], Choice]) -> None:
        """Collect a size in mm with the way to make its choice, if it keeps to the limit."""
        if w <= self.limit[0] + 1e-6 and h <= self.limit[1] + 1e-6:
            self.sizes.append((w, h, make))

    def front(self) -> Front:
        """The sizes that no other beats, from narrow and high to wide and low."""
        sizes: list[tuple[float, float, Callable[[], Choice]]] = []
        for size in sorted(self.sizes, key=lambda s: s[:2]):
            if not sizes or size[1] < sizes[-1][1] - 0.05:
                sizes.append(size)
        return tuple(make() for _, _, make in _thin_out(sizes, self.most))


_Size = tuple[float, float, Callable[[], Choice]]


def _thin_out(sizes: Sequence[_Size], most: int) -> Sequence[_Size]:
    """At most so many of a front: in each of as many equal steps of log width the smallest."""
    if len(sizes) <= most:
        return sizes
    widths = np.log([w for w, _, _ in sizes])
    bins = np.floor((widths - widths[0]) / (widths[-1] - widths[0] + 1e-9) * most)
    choices: dict[int, _Size] = {}
    for place, size in zip(bins.astype(int).tolist(), sizes, strict=True):
        other = choices.get(place)
        if other is None or size[0] * size[1] < other[0] * other[1]:
            choices[place] = size
    return [choices[place] for place in sorted(choices)]


class Piles:
    """Branches one below the other; ports of all of them reach the trunk at their left.

    Piles that begin alike are built once.
    """

    def __init__(self, limbs: Mapping[str, Front], gaps: Gaps, most: int = MOST_SIZES) -> None:
        self.limbs, self.gaps, self.most = limbs, gaps, most
        self.built: dict[tuple[str, ...], Front] = {(): ()}

    def of(self, ways: tuple[str, ...]) -> Front:
        """The sizes of the pile of those branches; empty if one of them can't be drawn."""
        if ways not in self.built:
            if len(ways) == 1:
                self.built[ways] = self.limbs[ways[0]]
            else:
                self.built[ways] = self._stack(self.of(ways[:-1]), self.limbs[ways[-1]])
        return self.built[ways]

    def _stack(self, pile: Front, more: Front) -> Front:
        best = Best((1e9, 1e9), self.most)
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
                    partial(_pile, top, foot, self.gaps),
                )
        return best.front()


def _pile(upper: Choice, lower: Choice, gaps: Gaps) -> Choice:
    start = upper.h + gaps.between

    def draw(x: float, y: float) -> Drawing:
        return join(upper.draw(x, y), lower.draw(x, y + start))

    return Choice(max(upper.w, lower.w), start + lower.h, draw)


def join(*drawings: Drawing) -> Drawing:
    """The drawings on one sheet, each where it stands."""
    return Drawing(
        max(d.width for d in drawings),
        max(d.height for d in drawings),
        tuple(s for d in drawings for s in d.symbols),
        tuple(f for d in drawings for f in d.flows),
        tuple(la for d in drawings for la in d.labels),
    )
