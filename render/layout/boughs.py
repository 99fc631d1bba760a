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

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from render.drawing.ink import Drawing, Words
from render.drawing.outlines import Type
from render.drawing.typeset import LEADING, Run, break_lines, widest_word
from render.layout.boxes import (
    COARSE,
    FINE,
    LONGEST_EMS,
    Stack,
    Widths,
    connector,
    set_words,
    stacks,
)
from render.layout.branchlabels import extent, label_above, label_beside, label_left, label_of
from render.layout.composer import Composer, stack_choice
from render.layout.fronts import Best, Choice, Front, Gaps, Piles
from render.wording.script import Exit, Script, Step


@dataclass(frozen=True, slots=True)
class Effort:
    """How many ways are tried: sizes kept for each branch, branches tried straight below, widths of
    a step's symbols in em."""

    sizes: int
    inlines: int
    widths: Widths


QUICK = Effort(16, 2, COARSE)
THOROUGH = Effort(26, 4, FINE)
FARTHEST_LABEL_MM = 4.9


Growths = dict[tuple[str, frozenset[str]], Front]


@dataclass(slots=True)
class Packer:
    """Fronts of the sub-trees of one script at one type size, none larger than `limit` (mm).

    `cut` holds steps that are drawn elsewhere: ways to them end in connectors. `trunk` names for
    some steps the one that stands straight below. A front depends on
    the cuts met first below its step and on nothing else, so packers that differ in their cuts
    share what they have grown.
    """

    script: Script
    type_: Type
    cut: frozenset[str]
    homes: Mapping[tuple[str, str], bool]
    limit: tuple[float, float] = (1e9, 1e9)
    trunk: Mapping[str, str] = field(default_factory=dict)
    effort: Effort = QUICK
    _growths: Growths = field(default_factory=dict)
    _stacks: dict[tuple[str, bool], tuple[Stack, ...]] = field(default_factory=dict)
    _labels: dict[str, list[tuple[Words, ...]]] = field(default_factory=dict)
    _edges: dict[str, frozenset[str]] = field(default_factory=dict)

    def front(self, step_id: str) -> Front:
        """The sizes at which the step with all that hangs on it can be drawn."""
        key = (step_id, self._edge(step_id))
        if key not in self._growths:
            self._growths[key] = self._grow(self.script.steps[step_id])
        return self._growths[key]

    def lifting(self, steps: Iterable[str]) -> Packer:
        """A packer with those steps cut off as well."""
        return Packer(
            self.script,
            self.type_,
            self.cut | frozenset(steps),
            self.homes,
            self.limit,
            self.trunk,
            self.effort,
            self._growths,
            self._stacks,
            self._labels,
        )

    def free(self) -> Packer:
        """A packer that may hang any branch anywhere, nothing cut, and tries longer."""
        return Packer(self.script, self.type_, frozenset(), self.homes, self.limit, {}, THOROUGH)

    def _edge(self, step_id: str) -> frozenset[str]:
        """The cuts met first on the ways down from a step, and the step itself if it is one."""
        if step_id not in self._edges:
            own = frozenset({step_id} & self.cut)
            self._edges[step_id] = own.union(
                *(
                    {way.to} if way.to in self.cut else self._edge(way.to)
                    for way in self.script.steps[step_id].exits
                    if self.homes.get((step_id, way.to), True)
                )
            )
        return self._edges[step_id]

    def stacks(self, step_id: str) -> tuple[Stack, ...]:
        """The step's own symbols at several widths."""
        cut = step_id in self.cut
        if (step_id, cut) not in self._stacks:
            step = replace(self.script.steps[step_id], cut=cut)
            self._stacks[step_id, cut] = stacks(step, self.type_, self.effort.widths)
        return self._stacks[step_id, cut]

    def _child(self, step: Step, way: Exit) -> Front:
        if way.to in self.cut or not self.homes.get((step.id, way.to), True):
            return (self._connector(step, way),)
        return self.front(way.to)

    def _connector(self, step: Step, way: Exit) -> Choice:
        symbol = connector(f"out:{step.id}:{way.to}", way.to, self.type_)

        def draw(x: float, y: float) -> Drawing:
            return Drawing(symbol.box.w, symbol.box.h, (symbol.move(x, y),))

        return Choice(symbol.box.w, symbol.box.h, draw, port=(0.0, symbol.box.h / 2))

    def _grow(self, step: Step) -> Front:
        own = self.stacks(step.id)
        if not step.exits:
            return tuple(stack_choice(one, step) for one in own)
        gaps = Gaps.of(self.type_)
        if not step.asks:
            return self._run_on(step, own, gaps)
        limbs = {way.to: self._limbs(step, way, gaps) for way in step.exits}
        fronts = {way.to: self._hang(step, way, gaps) for way in step.exits}
        best = Best(self.limit, self.effort.sizes)
        piles = Piles(limbs, gaps, self.effort.sizes)
        for inline in _inlines(step.exits, self.trunk.get(step.id, ""), self.effort.inlines):
            rest = [way for way in step.exits if way is not inline]
            for beside, under in _splits(rest):
                right = piles.of(tuple(way.to for way in beside))
                low = piles.of(tuple(way.to for way in under))
                down = fronts[inline.to] if inline else ()
                if (beside and not right) or (under and not low) or (inline and not down):
                    continue
                Composer(step, own, right, low, down, gaps, self.type_).offer_to(best)
                if len(beside) == 1:
                    self._offer_row_labelled(best, step, own, beside[0], low, down, gaps)
        return best.front()

    def _offer_row_labelled(
        self,
        best: Best,
        step: Step,
        own: Sequence[Stack],
        way: Exit,
        low: Front,
        down: Front,
        gaps: Gaps,
    ) -> None:
        """The only branch beside a step may carry its label right beside the diamond."""
        words = min(self._label_lines(way), key=lambda lines: extent(lines)[1])
        across, high = extent(words)
        half_w, half_h = self.type_.diamond
        start = self.type_.offset + half_w + 0.2 * self.type_.body
        wide = [s for s in own if s.w - start >= across]
        if not words or not wide or high > half_h + 0.3 * self.type_.body:
            return
        bare = replace(way, label="")
        right = self._limbs(step, bare, gaps)
        label = label_of(step, way, words)
        Composer(step, wide, right, low, down, gaps, self.type_, label).offer_to(best)

    def _run_on(self, step: Step, own: Sequence[Stack], gaps: Gaps) -> Front:
        best = Best(self.limit, self.effort.sizes)
        down = self._hang(step, step.exits[0], gaps)
        if down:
            Composer(step, own, (), (), down, gaps, self.type_).offer_to(best)
        return best.front()

    def _limbs(self, step: Step, way: Exit, gaps: Gaps) -> Front:
        """A branch entered from the left: its label on the line before it, or above it."""
        best = Best(self.limit, self.effort.sizes)
        labels = [label_of(step, way, lines) for lines in self._label_lines(way)]
        for child in self._child(step, way):
            for label in labels:
                best.offer(label_left(step, way, child, label, gaps, self.type_))
                if child.port[1] + gaps.label <= FARTHEST_LABEL_MM or not label.words:
                    best.offer(label_above(step, way, child, label, gaps, self.type_))
        return best.front()

    def _hang(self, step: Step, way: Exit, gaps: Gaps) -> Front:
        """A branch entered from above: its label beside the line down to it."""
        best = Best(self.limit, self.effort.sizes)
        labels = [label_of(step, way, lines) for lines in self._label_lines(way)]
        for child in self._child(step, way):
            for label in labels:
                best.offer(label_beside(step, way, child, label, gaps, self.type_))
        return best.front()

    def least_label(self, way: Exit) -> float:
        """The area in mm² that a branch's label takes at least."""
        return min(w * h for w, h in map(extent, self._label_lines(way)))

    def _label_lines(self, way: Exit) -> list[tuple[Words, ...]]:
        if not way.label:
            return [()]
        if way.label in self._labels:
            return self._labels[way.label]
        size, family = self.type_.body, self.type_.family
        longest = min(widest_word((Run(way.label),), family, size), LONGEST_EMS * size)
        by_count: dict[int, tuple[Words, ...]] = {}
        for ems in (4.2, 5.5, 7.5, 10.0, 14.0, 20.0):
            room = max(ems * size, longest)
            lines = break_lines((Run(way.label),), family, size, room)
            words = tuple(
                word
                for index, line in enumerate(lines)
                for word in set_words(line, 0.0, index * size * LEADING, size, family)
            )
            before = by_count.get(len(lines))
            if before is None or extent(words)[0] < extent(before)[0]:
                by_count[len(lines)] = words
        self._labels[way.label] = list(by_count.values())
        return self._labels[way.label]


def _inlines(exits: Sequence[Exit], trunk: str, most: int) -> list[Exit | None]:
    """Branches worth hanging straight below: the trunk's, else none or one of the likeliest few."""
    if trunk:
        return [way for way in exits if way.to == trunk]
    likely = sorted(exits, key=lambda way: -way.odds)
    return [None, *likely[:most]]


def _splits(rest: Sequence[Exit]) -> list[tuple[Sequence[Exit], Sequence[Exit]]]:
    """Ways to hang branches beside and below: the likelier beside, or the other way round."""
    by_odds = sorted(rest, key=lambda way: -way.odds)
    splits: list[tuple[Sequence[Exit], Sequence[Exit]]] = []
    for count in range(len(rest) + 1):
        first = {way.to for way in by_odds[:count]}
        ways = [way for way in rest if way.to in first]
        others = [way for way in rest if way.to not in first]
        for split in ((ways, others), (others, ways)):
            if split not in splits:
                splits.append(split)
    return splits
