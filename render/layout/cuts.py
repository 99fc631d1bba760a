"""Where a plan is cut into pieces that are drawn apart and joined by connectors.

Two reasons to cut: a piece must fit its sheet, and a branch lifted out may save paper. For the
first, bottom-up, the largest branch of a step is cut off as long as what is left is too large;
for sizes that add up that gives the fewest pieces (Kundu and Misra, SIAM J. Comput. 6, 1977).
Pieces are whole sub-plans: everything that hangs on the step they begin with, less later cuts.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from render.layout.boughs import Packer
from render.layout.fronts import Front
from render.wording.script import Script


def homes(script: Script) -> dict[tuple[str, str], bool]:
    """For each way between steps, whether the later step is drawn there: at its likeliest use."""
    ways: dict[str, list[tuple[float, str]]] = {}
    for step in script.steps.values():
        for way in step.exits:
            ways.setdefault(way.to, []).append((step.reach, step.id))
    answers: dict[tuple[str, str], bool] = {}
    for to, users in ways.items():
        first = max(users, key=lambda user: (user[0], user[1]))[1]
        answers.update({(user, to): user == first for _, user in users})
    return answers


def least_area(front: Front) -> float:
    """The least area in mm² of the sizes of a front; endless for none."""
    return min((size.w * size.h for size in front), default=math.inf)


def to_fit(packer: Packer, most_area: float) -> Packer | None:
    """Cuts until every piece fits the packer's sheet and takes `most_area` mm² if it can.

    None if a single step is larger than the sheet.
    """
    current = packer
    for step in _bottom_up(packer.script):
        while least_area(current.front(step)) > most_area:
            smaller = _cut_below(current, step)
            if smaller is None:
                break
            current = smaller
        if not current.front(step):
            return None
    return current


def _cut_below(packer: Packer, step: str) -> Packer | None:
    """The largest branch below the step cut off; where there is but one, the next fork's.

    None where nothing is left to cut.
    """
    at, fallback = step, None
    while branches := _drawn_branches(packer, at):
        largest = max(branches, key=lambda b: (least_area(packer.front(b)), b))
        trial = packer.lifting((largest,))
        if trial.front(largest):
            if len(branches) > 1:
                return trial
            fallback = fallback or trial
        at = largest
    return fallback


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


def ink(packer: Packer) -> float:
    """The area in mm² that the steps' own symbols and the branches' labels take at least."""
    return sum(
        min(stack.w * stack.h for stack in packer.stacks(step))
        + sum(packer.least_label(way) for way in packer.script.steps[step].exits)
        for step in packer.script.steps
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
