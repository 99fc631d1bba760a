"""What the person who drafts should know of the draft: what was put in, and what it leans on."""

from __future__ import annotations

import math
from collections.abc import Iterator

from engine.deduce.composition import NON_ISOLATED, Bench, compose
from engine.deduce.exposure import Exposure
from kb.language.knowledge import Knowledge
from kb.language.schema import PartFact, Topology

_BENCH = Bench(230, 50)  # how a unit is put together is the same at any mains


def remarks(wish: Topology, draft: Topology, knowledge: Knowledge) -> tuple[str, ...]:
    """Sentences on the finished `draft`; `wish` is what of it the person named.

    Parts that were put in, parts alongside of which nobody said what they lie across, whether the
    unit counts as live against what was said, and what stages behind an isolating part assume of
    what feeds them.
    """
    return (
        *_fillings(wish, draft), *_beside_nothing(draft, knowledge), *_isolation(draft, knowledge)
    )  # fmt: skip


def _fillings(wish: Topology, draft: Topology) -> Iterator[str]:
    """What stands in a stage that nobody named, as known units have it."""
    own = {name for stage in wish.stages.values() for name in stage.parts}
    new = [
        f"{name} {_words(part)} in {stage}"
        for stage, fact in draft.stages.items()
        for name, part in fact.parts.items()
        if name not in own
    ]
    if new:
        yield f"put in, as known units have it: {', '.join(new)}; mend what is otherwise"


def _beside_nothing(draft: Topology, knowledge: Knowledge) -> Iterator[str]:
    """Parts alongside without `parallel_to`: rules see what they do only where it stands."""
    for stage, fact in draft.stages.items():
        across = [
            name for name, part in fact.parts.items()
            if knowledge.place_words[part.place].lies == "in-line"
        ]  # fmt: skip
        for name, part in fact.parts.items():
            if part.place == "alongside" and part.parallel_to is None:
                choices = f" ({' or '.join(across)})" if across else ""
                yield (
                    f"{name} in {stage} lies alongside, and nobody said of what: write "
                    f"`parallel_to:` and the part in line{choices} at it, in the file"
                )


def _words(part: PartFact) -> str:
    return " ".join(word for word in (part.kind, part.value) if word)


def _isolation(draft: Topology, knowledge: Knowledge) -> Iterator[str]:
    exposure = Exposure(
        draft, knowledge.place_words, knowledge.parts, compose(knowledge, draft, _BENCH),
        _BENCH.volts * math.sqrt(2),
    )  # fmt: skip
    borders = exposure.borders
    if not exposure.is_isolated:
        if NON_ISOLATED not in draft.traits:
            yield _live_all_the_same(borders)
        return
    yield from _assumptions(draft, knowledge, borders)


def _live_all_the_same(borders: tuple[str, ...]) -> str:
    why = f"{' and '.join(borders)} stands there" if borders else "there is none"
    return (
        "it counts as live all the same: only a transformer with nothing in front of it but fuse "
        f"and wires isolates, and {why}"
    )


def _assumptions(draft: Topology, knowledge: Knowledge, borders: tuple[str, ...]) -> Iterator[str]:
    """What each kind of stage behind the transformer assumes, since most were made for mains."""
    names = list(draft.stages)
    last = max(n for n, name in enumerate(names) if set(borders) & set(draft.stages[name].parts))
    says = []
    for name in names[last + 1 :]:
        kind = knowledge.stages[draft.stages[name].kind]
        says.append(f"{name} assumes {kind.assumes_before or 'what nobody has written down'}")
    if says:
        yield f"behind {' and '.join(borders)}, {'; '.join(says)}: see that it holds"
