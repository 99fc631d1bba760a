"""What few units come to, left to the booklet: the wall shows where most jobs go.

Sheets go to branches that hardly a unit takes. Steps come to more seldom than some share of units
are not drawn; the way to them ends in a symbol that says so, at the number of its question. The
share is the largest at which all such ways together stay within what may be left out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from render.drawing.bench_marks import LIVE, LIVE_CLOSED, LOW
from render.drawing.typeset import Run, fine
from render.wording import fixedwords
from render.wording.passage import Passage
from render.wording.phrasing import Phrasing
from render.wording.script import Document, Exit, Paragraph, Part, Script, Step

KIND = "seldom"
_SWITCHING_OFF = {LIVE: "unplug; ", LIVE_CLOSED: "unplug; ", LOW: "source off; "}


def left_to_booklet(script: Script, most: float) -> Script:
    """The script without its most seldom ways, which together no more than the share `most` of all
    units takes. A verdict that alone would go from its question stays: it takes no more room than
    the words in its place. O(steps²)."""
    passage = Passage.of(script)
    steps = _common(script, passage, most)
    if len(steps) == len(script.steps):
        return script
    trimming = _Trimming(script, passage, frozenset(steps))
    left = {step: trimming.step(script.steps[step]) for step in steps}
    left.update(trimming.ends)
    return replace(script, steps=_within_reach(script.root, left), seldom=trimming.share)


def _common(script: Script, passage: Passage, most: float) -> list[str]:
    """The steps that enough units come to."""
    steps = sorted(script.steps, key=lambda step: passage.arrivals[step])
    best = 0
    for place, step in enumerate(steps):
        if place and passage.arrivals[steps[place - 1]] == passage.arrivals[step]:
            continue
        rare = frozenset(steps[:place])
        if _share(passage, rare) > most:
            break
        best = place
    rare = _with_idle(script, frozenset(steps[:best]))
    return [step for step in script.steps if step not in rare]


def _with_idle(script: Script, rare: frozenset[str]) -> frozenset[str]:
    """Those steps and all that lead nowhere else: what nobody reads on from is not asked. No more
    units are left out by it."""
    while True:
        idle = {
            name
            for name, step in script.steps.items()
            if step.exits and name not in rare and all(way.to in rare for way in step.exits)
        }
        if not idle:
            return rare
        rare |= idle


def _share(passage: Passage, rare: frozenset[str]) -> float:
    """The odds of coming to any of those steps from one that is none of them."""
    return sum(
        odds for (step, to), odds in passage.ways.items() if step not in rare and to in rare
    )


def _within_reach(root: str, steps: Mapping[str, Step]) -> dict[str, Step]:
    """The steps that the root leads to, in the order given, each with its ways in."""
    reach, todo = {root}, [root]
    while todo:
        ahead = {way.to for way in steps[todo.pop()].exits} - reach
        reach |= ahead
        todo.extend(ahead)
    ways_in = Counter(way.to for name in reach for way in steps[name].exits)
    return {
        name: replace(step, shared=ways_in[name] > 1, ways_in=max(1, ways_in[name]))
        for name, step in steps.items()
        if name in reach
    }


@dataclass(slots=True)
class _Trimming:
    """Takes the seldom ways of each step together; `ends` are the symbols in their place."""

    script: Script
    passage: Passage
    common: frozenset[str]
    ends: dict[str, Step]
    share: float

    def __init__(self, script: Script, passage: Passage, common: frozenset[str]) -> None:
        self.script, self.passage, self.common = script, passage, common
        self.ends, self.share = {}, 0.0

    def step(self, step: Step) -> Step:
        """The step with its seldom ways led to one end."""
        rare = [way for way in step.exits if way.to not in self.common]
        if len(rare) == 1 and not self.script.steps[rare[0].to].exits:
            self.ends[rare[0].to] = self.script.steps[rare[0].to]
            return step
        if not rare or not step.asks:
            return step
        odds = sum(self.passage.ways[step.id, way.to] for way in rare)
        self.share += odds
        end = f"{KIND}:{step.id}"
        self.ends[end] = _end(end, step, odds)
        outcomes = tuple(outcome for way in rare for outcome in way.outcomes)
        together = Exit(outcomes, self._label(step, outcomes), end, sum(w.odds for w in rare))
        return replace(step, exits=tuple(_instead_of(step.exits, rare, together)))

    def _label(self, step: Step, outcomes: tuple[str, ...]) -> str:
        node: Document = self.script.chart["nodes"][step.parts[-1].node]
        test = next(t for t in self.script.model["tests"] if t["id"] == node["test"])
        by_id = {outcome["id"]: outcome for outcome in test["outcomes"]}
        words = [by_id[outcome] for outcome in outcomes]
        return Phrasing(self.script.wording).branch(words, f"outcomes of {node['test']}")


def _instead_of(exits: tuple[Exit, ...], rare: list[Exit], together: Exit) -> Iterator[Exit]:
    for way in exits:
        if way not in rare:
            yield way
        elif way is rare[0]:
            yield together


def _end(name: str, step: Step, odds: float) -> Step:
    """The symbol where seldom ways end: what makes the bench safe, and where to read on."""
    mark = step.parts[-1].mark
    off = _SWITCHING_OFF.get(mark, "") if mark else ""
    words = fine(fixedwords.SELDOM.format(off=off, number=step.number), name)
    head, _, rest = words.partition(" ")
    part = Part(name, KIND, (Paragraph((Run(head, bold=True), Run(" " + rest))),))
    return Step(name, (part,), (), "", odds, shared=False)
