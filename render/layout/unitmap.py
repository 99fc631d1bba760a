"""What feeds and what governs what, made ready for a drawing in ranks.

The stages of the model document become a graph without circles in which every line leads from one
rank to the next: a line that would skip ranks passes through bare way-points. O(stages + lines).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

Document = Mapping[str, Any]
SOURCE = "mains"
OUTSIDE = "outside"


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage as it is drawn; `inlet` and `outlet` are its points on the line, `inner` others."""

    id: str
    says: str
    parts: tuple[str, ...] = ()
    outside: bool = False
    inlet: tuple[str, ...] = ()
    outlet: tuple[str, ...] = ()
    inner: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class UnitMap:
    """Stages with their lines. `feeds` has what the document says, `entry` the lines from the
    mains into the unit; `backward` are feeds that lead back to an earlier rank."""

    stages: tuple[Stage, ...]
    feeds: tuple[tuple[str, str], ...]
    entry: tuple[tuple[str, str], ...]
    controls: tuple[tuple[str, str], ...]
    backward: tuple[tuple[str, str], ...]
    mains: str

    @property
    def forward(self) -> tuple[tuple[str, str], ...]:
        """The lines that make the ranks, the way that leads farthest first at each stage."""
        lines = [line for line in (*self.entry, *self.feeds) if line not in self.backward]
        reach = _reach(lines)
        order = {stage.id: n for n, stage in enumerate(self.stages)}
        return tuple(
            sorted(lines, key=lambda line: (order[line[0]], -reach[line[1]], order[line[1]]))
        )

    def ranks(self) -> dict[str, int]:
        """The rank of each stage: the longest way to it."""
        back = _reach([(head, tail) for tail, head in self.forward])
        return {stage.id: back[stage.id] for stage in self.stages}

    def main_way(self) -> frozenset[str]:
        """The longest way through the unit."""
        ahead: dict[str, str] = {}
        for tail, head in self.forward:
            ahead.setdefault(tail, head)
        reach = _reach(self.forward)
        here: str | None = max(
            (stage.id for stage in self.stages), key=lambda s: reach[s], default=None
        )
        way = []
        while here is not None:
            way.append(here)
            here = ahead.get(here)
        return frozenset(way)


def unit_map(model: Document) -> UnitMap:
    """The map of a model document; names that no stage answers to are left out."""
    notes = list(model.get("stages") or ())
    ids = {str(note["id"]) for note in notes}
    sides = {str(p["id"]): str(p.get("side", "")) for p in model.get("points") or ()}
    stages = [_stage(note, sides) for note in notes]
    feeds = _lines(notes, "feeds", ids)
    heads = {head for _, head in feeds}
    outside = [stage.id for stage in stages if stage.outside]
    if not outside and stages:
        stages.insert(0, Stage(SOURCE, "", outside=True))
        outside = [SOURCE]
    roots = [s.id for s in stages if not s.outside and s.id not in heads]
    backward = _backward([s.id for s in stages], feeds)
    if not roots:
        roots = [s.id for s in stages if not s.outside][:1]
    return UnitMap(
        stages=tuple(stages),
        feeds=feeds,
        entry=tuple((outside[0], root) for root in roots),
        controls=_lines(notes, "controls", ids),
        backward=backward,
        mains=f"{model['mains']['volts']:g} V",
    )


def _stage(note: Document, sides: Mapping[str, str]) -> Stage:
    points = [str(point) for point in note.get("points", ())]
    # A point of which nothing more is known is looked for at the stage's output.
    lies = {point: sides.get(point, "out") for point in points}
    return Stage(
        id=str(note["id"]),
        says=str(note.get("says") or note["id"]),
        parts=tuple(str(part) for part in note.get("parts") or ()),
        outside=note.get("family") == OUTSIDE,
        inlet=tuple(p for p in points if lies[p] == "in"),
        outlet=tuple(p for p in points if lies[p] == "out"),
        inner=tuple(p for p in points if lies[p] not in ("in", "out")),
    )


def _lines(notes: Sequence[Document], key: str, ids: set[str]) -> tuple[tuple[str, str], ...]:
    lines = [
        (str(note["id"]), str(other))
        for note in notes
        for other in note.get(key) or ()
        if other in ids and other != note["id"]
    ]
    return tuple(dict.fromkeys(lines))


def _backward(
    names: Sequence[str], feeds: Sequence[tuple[str, str]]
) -> tuple[tuple[str, str], ...]:
    """Lines that close a circle, found depth first in the stages' own order."""
    ahead: dict[str, list[str]] = defaultdict(list)
    for tail, head in feeds:
        ahead[tail].append(head)
    open_, finish, closing = set[str](), set[str](), []
    for first in names:
        stack = [(first, False)]
        while stack:
            here, leaving = stack.pop()
            if leaving:
                open_.discard(here)
                finish.add(here)
                continue
            if here in finish or here in open_:
                continue
            open_.add(here)
            stack.append((here, True))
            for head in reversed(ahead[here]):
                if head in open_:
                    closing.append((here, head))
                elif head not in finish:
                    stack.append((head, False))
    return tuple(closing)


def _reach(lines: Sequence[tuple[str, str]]) -> dict[str, int]:
    """How many lines the longest way from each name is; 0 for one that leads nowhere."""
    ahead: dict[str, list[str]] = defaultdict(list)
    for tail, head in lines:
        ahead[tail].append(head)

    @cache
    def longest(name: str) -> int:
        return max((1 + longest(head) for head in ahead.get(name, ())), default=0)

    lengths = defaultdict(int)
    for line in lines:
        for name in line:
            lengths[name] = longest(name)
    return lengths
