"""Where a plan is cut into pieces that are drawn apart and joined by connectors.

A branch lifted out of a chart on one sheet may save paper. Pieces are whole sub-plans: everything
that hangs on the step they begin with, less later cuts. A shared step is drawn where it is
likeliest come to from, and the path of most reach is the trunk.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from render.drawing.outlines import Type
from render.drawing.typeset import LEADING, width
from render.layout.boughs import Packer
from render.layout.fronts import Front
from render.wording.passage import Passage
from render.wording.script import Script


def homes(script: Script, passage: Passage) -> dict[tuple[str, str], bool]:
    """For each way between steps, whether the later step is drawn there: where it is likeliest
    come to from."""
    ways: dict[str, list[tuple[float, str]]] = {}
    for (step, to), odds in passage.ways.items():
        ways.setdefault(to, []).append((odds, step))
    answers: dict[tuple[str, str], bool] = {}
    for to, users in ways.items():
        first = max(users)[1]
        answers.update({(user, to): user == first for _, user in users})
    return answers


def trunk(script: Script, passage: Passage, begin: str) -> dict[str, str]:
    """The path of most reach from a step to its verdict: each of its steps with the next."""
    path: dict[str, str] = {}
    step = script.steps[begin]
    while step.exits:
        ahead = max(step.exits, key=lambda way: (passage.ways[step.id, way.to], way.to)).to
        path[step.id] = ahead
        step = script.steps[ahead]
    return path


def least_area(front: Front) -> float:
    """The least area in mm² of the sizes of a front; endless for none."""
    return min((size.w * size.h for size in front), default=math.inf)


def lift(packer: Packer, price: float) -> Packer:
    """Cuts wherever one saves more than `price` mm² of paper; bottom-up, the largest first."""
    if math.isinf(price):
        return packer
    current = packer
    for step in _bottom_up(packer.script):
        if step == packer.script.root:
            continue
        branches = [b for b in _drawn_branches(current, step) if packer.script.steps[b].exits]
        for branch in sorted(branches, key=lambda b: (-least_area(current.front(b)), b)):
            trial = current.lifting((branch,))
            rest, alone = least_area(trial.front(step)), least_area(trial.front(branch))
            if rest + alone + price < least_area(current.front(step)):
                current = trial
    return current


def _drawn_branches(packer: Packer, step: str) -> list[str]:
    return [
        way.to
        for way in packer.script.steps[step].exits
        if way.to not in packer.cut and packer.homes.get((step, way.to), True)
    ]


def words_area(script: Script, type_: Type) -> float:
    """The area in mm² that the steps' own words take if no line had an end: quick, and below
    `ink`."""
    return sum(
        width(paragraph.runs, type_.family, size) * size * LEADING
        for step in script.steps.values()
        for part in step.parts
        for paragraph in part.paragraphs
        for size in (type_.hands if paragraph.hands else type_.body,)
    )


def ink(packer: Packer) -> float:
    """The area in mm² that the steps' own symbols and the branches' labels take at least."""
    return sum(ink_of(packer, step) for step in packer.script.steps)


def ink_of(packer: Packer, step: str) -> float:
    """The area in mm² that one step's symbols and its branches' labels take at least."""
    return min(stack.w * stack.h for stack in packer.stacks(step)) + sum(
        packer.least_label(way) for way in packer.script.steps[step].exits
    )


def _bottom_up(script: Script) -> Iterator[str]:
    visits: set[str] = set()
    stack: list[tuple[str, bool]] = [(script.root, False)]
    while stack:
        step, leaving = stack.pop()
        if leaving:
            yield step
        elif step not in visits:
            visits.add(step)
            stack.append((step, True))
            stack.extend((way.to, False) for way in script.steps[step].exits)
