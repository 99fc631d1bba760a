"""A reviewer of knowledge: what a folder does, where it is weak, and what can't be right.

`review` reads the shipped knowledge and a folder of one's own, collects every trouble of the files
(`kb.language.loader`, `kb.language.lint`) and, where they hold together, deduces what the folder
can have changed and looks at the outcome. Errors keep knowledge from being used; notes are a
reviewer's remarks. Each check is a function from a unit, or from all knowledge, to troubles with
stable codes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from engine.studies.review import blindness, circuits, firing, offering, safety
from engine.studies.review.scope import Scope
from engine.studies.review.trying import Tell, Unit, Workshop
from kb.language import benchfile, loader
from kb.language.knowledge import Knowledge
from kb.language.lint import lint
from kb.language.review import review as read_through
from kb.language.silence import silent
from kb.trouble import Trouble, TroubleError

__all__ = ["TOPICS", "Review", "review"]

TOPICS: Mapping[str, tuple[str, ...]] = {
    "safety and soundness": ("KB814", "KB815"),
    "faults nobody finds": ("KB806", "KB807", "KB818", "KB819"),
    "tests": ("KB804", "KB805", "KB810", "KB811"),
    "rules": ("KB801", "KB802", "KB803", "KB818"),
    "rules against circuits": ("KB817", "CI401", "CI402", "CI403"),
    "sources and shares": ("KB812", "KB813"),
    "words and units": ("KB808", "KB809"),
    "what replaces what": ("KB816",),
}
"""Codes by topic, the topics in the order in which a reviewer minds them."""

_Check = Callable[[Scope, Unit], Iterator[Trouble]]
_OF_A_UNIT: tuple[_Check, ...] = (
    safety.breaches,
    safety.doubts,
    blindness.left_out,
    blindness.unseen,
    blindness.impossible,
    offering.offer_troubles,
    offering.reachable,
    circuits.agreement,
)


@dataclass(frozen=True, slots=True)
class Review:
    """What was found, each trouble once, and what was looked at: entries read, units deduced."""

    troubles: tuple[Trouble, ...]
    entries: int
    topologies: tuple[str, ...]

    @property
    def grave(self) -> tuple[Trouble, ...]:
        """The errors."""
        return tuple(trouble for trouble in self.troubles if trouble.grave)

    def by_topic(self) -> tuple[tuple[str, tuple[Trouble, ...]], ...]:
        """Errors first, then notes by topic; a topic without any is left out."""
        groups: dict[str, list[Trouble]] = {"errors": [], **{topic: [] for topic in TOPICS}}
        topic_of = {code: topic for topic, codes in TOPICS.items() for code in codes}
        for trouble in self.troubles:
            topic = "errors" if trouble.grave else topic_of.get(trouble.code, "other notes")
            groups.setdefault(topic, []).append(trouble)
        return tuple((topic, tuple(troubles)) for topic, troubles in groups.items() if troubles)


def review(folder: Path | None = None, tell: Tell = lambda words: None) -> Review:
    """Review the shipped knowledge, or a folder of one's own on top of it.

    `tell` gets a few words about what is being done. Deduces each unit that the folder can have
    changed, at both mains; keeps that in the cache.
    """
    tell("reading")
    try:
        knowledge = loader.read((folder,) if folder is not None else ())
    except TroubleError as error:
        return Review(error.troubles, 0, ())
    scope = Scope.of(knowledge, folder)
    entries = sum(1 for _, name in scope.own or knowledge.places if "/" not in name)
    troubles = [*_bench(folder, knowledge), *lint(knowledge)]
    troubles.extend(t for section, name, t in read_through(knowledge) if scope.has(section, name))
    troubles.extend(silent(knowledge))
    if any(trouble.grave for trouble in troubles):
        return Review(tuple(dict.fromkeys(troubles)), entries, ())
    workshop = Workshop(scope, tell)
    tell("looking how units are put together")
    misbuilt = workshop.misbuilt()
    if any(trouble.grave for trouble in misbuilt):
        return Review(_once([*troubles, *misbuilt]), entries, ())
    units = workshop.units()
    troubles.extend(workshop.troubles)
    troubles.extend(firing.never(workshop))
    troubles.extend(firing.alike(scope))
    troubles.extend(firing.again(scope, units))
    for unit in units:
        tell(f"reviewing {unit.topology} at {unit.mains}")
        for check in _OF_A_UNIT:
            troubles.extend(check(scope, unit))
    return Review(_once(troubles), entries, scope.topologies())


def _bench(folder: Path | None, knowledge: Knowledge) -> Iterator[Trouble]:
    """What is wrong with the bench file of the folder, if it has one."""
    try:
        file = benchfile.of(folder)
    except TroubleError as error:
        yield from error.troubles
    else:
        yield from benchfile.troubles(file, knowledge) if file is not None else ()


def _once(troubles: list[Trouble]) -> tuple[Trouble, ...]:
    """Each trouble once, though it was met at both mains and in several units."""
    by_key: dict[tuple[object, ...], Trouble] = {}
    for trouble in troubles:
        by_key.setdefault((trouble.code, trouble.place, trouble.what), trouble)
    return tuple(by_key.values())
