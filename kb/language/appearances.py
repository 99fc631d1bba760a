"""Do the entries of an unopened unit fit together? A look that nobody knows would never be asked,
odds that don't sum to 1 would say what nobody meant.

Codes: KB624 a name or an answer that there is none of; KB625 odds that don't sum to 1.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping

from kb.language.knowledge import Knowledge
from kb.language.nearest import mend
from kb.language.schema.unopened import Odds
from kb.trouble import Trouble

_ROUNDING = 1e-6
"""How far from 1 a sum of odds may be, as they are written."""
_UNIT = "of"


def check(knowledge: Knowledge) -> Iterator[Trouble]:
    """Every trouble found, in the order of the entries."""
    for name, look in knowledge.looks.items():
        yield from _unknown(knowledge, "looks", name, (_UNIT,), look.of, knowledge.unopened)
        yield from _once(knowledge, "looks", (name,), look.once)
    for name, unit in knowledge.unopened.items():
        for test, own in unit.apart.items():
            yield from _once(knowledge, "unopened", (name, "apart", test), own.once)
            path = (name, "apart", test, "inside")
            yield from _odds(knowledge, "unopened", path, own.inside, own.answers)
    for name in knowledge.outer:
        yield from _outer(knowledge, name)
    for name in knowledge.appearances:
        yield from _appearance(knowledge, name)


def _outer(knowledge: Knowledge, name: str) -> Iterator[Trouble]:
    one = knowledge.outer[name]
    yield from _unknown(knowledge, "outer", name, (_UNIT,), one.of, knowledge.unopened)
    for complaint in one.complaints:
        at = ("complaints", complaint)
        yield from _unknown(knowledge, "outer", name, at, complaint, knowledge.complaints)
    yield from _looks(knowledge, "outer", name, one.looks)
    unit = knowledge.unopened.get(one.of)
    for test, odds in one.shows.items():
        answers = unit.apart[test].answers if unit and test in unit.apart else odds
        yield from _odds(knowledge, "outer", (name, "shows", test), odds, answers)


def _appearance(knowledge: Knowledge, name: str) -> Iterator[Trouble]:
    page, section = knowledge.appearances[name], "appearances"
    yield from _unknown(knowledge, section, name, (_UNIT,), page.of, knowledge.unopened)
    yield from _unknown(knowledge, section, name, ("appearance",), name, knowledge.topologies)
    yield from _looks(knowledge, section, name, page.looks)
    for look, entry in knowledge.looks.items():
        if entry.of == page.of and look not in page.looks:
            yield Trouble(
                "KB625", knowledge.at(section, name, "looks"),
                f"The appearance of '{name}' says nothing of the look '{look}'",
                f"Write the odds of its answers: {', '.join(entry.answers)}",
            )  # fmt: skip


def _looks(
    knowledge: Knowledge, section: str, name: str, looks: Mapping[str, Odds]
) -> Iterator[Trouble]:
    for look, odds in looks.items():
        yield from _unknown(knowledge, section, name, ("looks", look), look, knowledge.looks)
        if look in knowledge.looks:
            answers = knowledge.looks[look].answers
            yield from _odds(knowledge, section, (name, "looks", look), odds, answers)


def _once(
    knowledge: Knowledge, section: str, path: tuple[str, ...], once: Mapping[str, Collection[str]]
) -> Iterator[Trouble]:
    name, *inner = path
    for look, answers in once.items():
        at = (*inner, "once", look)
        yield from _unknown(knowledge, section, name, at, look, knowledge.looks)
        if look in knowledge.looks:
            for answer in answers:
                choices = knowledge.looks[look].answers
                yield from _unknown(knowledge, section, name, at, answer, choices)


def _odds(
    knowledge: Knowledge,
    section: str,
    path: tuple[str, ...],
    odds: Odds,
    answers: Collection[str],
) -> Iterator[Trouble]:
    name, *inner = path
    for answer in odds:
        at = (*inner, answer)
        yield from _unknown(knowledge, section, name, at, answer, answers)
    total = math.fsum(odds.values())
    if abs(total - 1.0) > _ROUNDING:
        yield Trouble(
            "KB625", knowledge.at(section, name, *inner),
            f"The odds of '{inner[-1]}' of '{name}' sum to {total:g}, not to 1",
            "Share 1 out among its answers; one that is left out has none",
        )  # fmt: skip


def _unknown(
    knowledge: Knowledge,
    section: str,
    name: str,
    path: tuple[str, ...],
    word: str,
    words: Collection[str],
) -> Iterator[Trouble]:
    if word not in words:
        yield Trouble(
            "KB624", knowledge.at(section, name, *path),
            f"'{name}' names '{word}', which there is none of here", mend(word, words),
        )  # fmt: skip
