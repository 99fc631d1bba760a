"""Which parts of a netlist probably form which stage.

Parts are put in the order in which power meets them: by their distance, in parts, from the source
or the first part, over all nets but the common one (breadth first, linear in legs). The row is then
cut where the pieces resemble stages of known units most: a piece and a stage are compared as bags
of part kinds (Jaccard, the share of what they have in common, Bull. Soc. vaudoise Sci. nat. 37
(1901)), and the best cut of the whole row is found by dynamic programming, in the order of
n^2 stages for n parts. It is a proposal: the person has the last word.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from engine.schematic.guesses import Guess
from kb.language.knowledge import Knowledge

_LEAST_ALIKE = 0.34
"""Below a third in common a row of parts resembles no kind of stage. Our choice."""
_LONGEST = 16
"""Parts of the longest stage looked for; of the algorithm."""
Bag = Counter[str]


@dataclass(frozen=True, slots=True)
class Group:
    """Parts that may form a stage, and the kind of stage they resemble; empty if none."""

    name: str
    kind: str
    parts: tuple[str, ...]


def propose(guesses: Sequence[Guess], common: str, knowledge: Knowledge) -> tuple[Group, ...]:
    """Stages in the order in which power meets them; parts that resemble none are left out."""
    row = order_parts(guesses, common)
    examples = _examples(knowledge)
    best: list[tuple[float, tuple[tuple[int, str], ...]]] = [(0.0, ())]
    for end in range(1, len(row) + 1):
        choices = [(best[end - 1][0], (*best[end - 1][1], (end, "")))]
        for begin in range(max(0, end - _LONGEST), end):
            bag = Counter(guess.kind for guess in row[begin:end])
            kind, alike = _likest(bag, examples)
            if alike >= _LEAST_ALIKE:
                score = best[begin][0] + alike * (end - begin)
                choices.append((score, (*best[begin][1], (end, kind))))
        best.append(max(choices, key=lambda choice: choice[0]))
    return tuple(_groups(row, best[-1][1]))


def order_parts(guesses: Sequence[Guess], common: str) -> tuple[Guess, ...]:
    """Parts by distance from the source; one that hangs at a net before those leaving it."""
    distance = _distances(guesses, common)
    far = len(guesses) + 1

    def rank(guess: Guess) -> tuple[int, int, int]:
        nets = [distance.get(net, far) for net in guess.component.nets if net != common]
        return min(nets, default=far), max(nets, default=far), guesses.index(guess)

    return tuple(sorted((guess for guess in guesses if not guess.source), key=rank))


def likeness(kinds: Iterable[str], knowledge: Knowledge) -> str:
    """The kind of stage that a bag of part kinds is likest; empty if it is like none."""
    kind, alike = _likest(Counter(kinds), _examples(knowledge))
    return kind if alike > 0 else ""


def _distances(guesses: Sequence[Guess], common: str) -> dict[str, int]:
    begin = [guess for guess in guesses if guess.source] or list(guesses[:1])
    distance = {net: 0 for guess in begin for net in guess.component.nets if net != common}
    waiting = deque(distance)
    while waiting:
        net = waiting.popleft()
        for guess in guesses:
            if net in guess.component.nets and not guess.source:
                for other in guess.component.nets:
                    if other != common and other not in distance:
                        distance[other] = distance[net] + 1
                        waiting.append(other)
    return distance


def _examples(knowledge: Knowledge) -> tuple[tuple[str, Bag], ...]:
    return tuple(
        (stage.kind, Counter(part.kind for part in stage.parts.values()))
        for topology in knowledge.topologies.values()
        for stage in topology.stages.values()
        if knowledge.stages[stage.kind].family != "outside"
    )


def _likest(bag: Bag, examples: Sequence[tuple[str, Bag]]) -> tuple[str, float]:
    likest = max(((_alike(bag, example), kind) for kind, example in examples), default=(0.0, ""))
    return likest[1], likest[0]


def _alike(one: Bag, other: Bag) -> float:
    return (one & other).total() / max(1, (one | other).total())


def _groups(row: Sequence[Guess], cuts: Iterable[tuple[int, str]]) -> Iterable[Group]:
    begin = 0
    counts: Counter[str] = Counter()
    for end, kind in cuts:
        if kind:
            counts[kind] += 1
            name = kind if counts[kind] == 1 else f"{kind}-{counts[kind]}"
            parts = tuple(guess.component.name for guess in row[begin:end])
            yield Group(name, kind, parts)
        begin = end


def candidates(stage_kind: str, part_kind: str, knowledge: Knowledge) -> tuple[str, ...]:
    """The places of a stage in which known units, or its kind, have such a part; needed first."""
    kind = knowledge.stages[stage_kind]
    order = [*kind.needs, *(place for place in kind.places if place not in kind.needs)]
    usual_places = {place for place, usual in kind.usual.items() if usual == part_kind}
    usual_places |= {
        part.place
        for topology in knowledge.topologies.values()
        for stage in topology.stages.values()
        if stage.kind == stage_kind
        for part in stage.parts.values()
        if part.kind == part_kind
    }
    return tuple(place for place in order if place in usual_places)


def places(stage_kind: str, parts: Mapping[str, str], knowledge: Knowledge) -> dict[str, str]:
    """A place of the stage for each part (name to kind), as known units have it; fewest twice.

    Parts that no known unit has in such a stage get none. Needed places are filled first.
    """
    fill: Counter[str] = Counter()
    place_of: dict[str, str] = {}
    for name, part_kind in parts.items():
        fit = candidates(stage_kind, part_kind, knowledge)
        if fit:
            place_of[name] = min(fit, key=lambda place: fill[place])
            fill[place_of[name]] += 1
    return place_of
