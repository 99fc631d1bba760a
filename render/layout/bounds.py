"""What no imposition in the same words and type can do better: sheets, and hops between them."""

from __future__ import annotations

import math
from collections.abc import Mapping

from engine.chart.traversal import topological
from render.drawing.papers import Paper
from render.layout import cuts
from render.layout.boughs import Packer
from render.wording.passage import Passage

_PRICES = 40


def least_sheets(packer: Packer, paper: Paper) -> int:
    """No imposition in these words and this type needs fewer: the symbols' area over a sheet's."""
    return max(1, math.ceil(cuts.ink(packer) / (paper.inner_width * paper.inner_height)))


def least_hops(packer: Packer, passage: Passage, paper: Paper) -> float:
    """No imposition has fewer expected hops: whoever ends off the sheet of START has made one.

    How much can end there is a knapsack of the tree: a step stands on that sheet only with all
    before it, and takes the area of its symbols. Its Lagrange relaxation is solved exactly by one
    pass up the tree for each price of paper; any price gives a bound, the best is kept. What comes
    to a shared step by other ways than the one it is drawn at counts as ending there for nothing.
    """
    area = paper.inner_width * paper.inner_height
    inks = {step: cuts.ink_of(packer, step) for step in packer.script.steps}
    mass = _at_home(packer, passage)
    free = sum(
        passage.arrivals[step] - mass[step]
        for step in packer.script.steps
        if not packer.script.steps[step].exits
    )
    best = 1.0
    for n in range(1, _PRICES):
        price = 2.0 * n / _PRICES / area
        best = min(best, _worth(packer, inks, mass, price) + price * area + free)
    return max(0.0, 1.0 - best)


def _at_home(packer: Packer, passage: Passage) -> dict[str, float]:
    """Odds of coming to each step by the ways that are drawn as lines alone."""
    mass = {packer.script.root: 1.0}
    for step in _in_order(packer):
        total = passage.arrivals[step]
        for way in packer.script.steps[step].exits:
            if packer.homes[step, way.to]:
                share = passage.ways[step, way.to] / total if total > 0 else 0.0
                mass[way.to] = mass[step] * share
    return mass


def _worth(
    packer: Packer, inks: Mapping[str, float], mass: Mapping[str, float], price: float
) -> float:
    """The most that ends on the first sheet, less `price` for each mm² of symbols on it."""
    worth: dict[str, float] = {}
    for step in reversed(_in_order(packer)):
        ways = packer.script.steps[step].exits
        ends = 0.0 if ways else mass[step]
        below = sum(worth[way.to] for way in ways if packer.homes[step, way.to])
        worth[step] = max(0.0, ends + below - price * inks[step])
    return worth[packer.script.root]


def _in_order(packer: Packer) -> tuple[str, ...]:
    def below(step: str) -> tuple[str, ...]:
        return tuple(way.to for way in packer.script.steps[step].exits)

    return topological(packer.script.root, below)
