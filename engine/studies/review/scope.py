"""What a review looks at: everything shipped, or what a folder of one's own brings and may change.

A folder can change a shipped topology only through what that topology has: a part kind or stage
kind that it uses, or a rule whose conditions on the given structure it can meet. The others are
left in peace, so that a folder with one lamp deduces that lamp.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from engine.deduce.composition import Bench, compose
from engine.deduce.facts import Fact
from engine.deduce.grounding import concluded_kinds
from engine.deduce.matching import take_apart
from kb.language.knowledge import Knowledge
from kb.language.schema import Clause, Rule
from kb.trouble import TroubleError

Entry = tuple[str, str]
_CHANGE_EVERYTHING = frozenset({"cautions", "arrangements"})
"""Sections whose new entries reach units by themselves; those of others wait to be named."""


@dataclass(frozen=True, slots=True)
class Scope:
    """The knowledge under review. `own` are the entries that the folder brings, None for all."""

    knowledge: Knowledge
    folder: Path | None
    own: frozenset[Entry] | None

    @classmethod
    def of(cls, knowledge: Knowledge, folder: Path | None) -> Scope:
        """The scope of a folder, or of all that is shipped."""
        if folder is None:
            return cls(knowledge, None, None)
        inside = f"{folder}/"
        own = frozenset(
            entry for entry, place in knowledge.places.items() if place.source.startswith(inside)
        )
        return cls(knowledge, folder, own)

    def has(self, section: str, name: str) -> bool:
        """Whether an entry is under review."""
        return self.own is None or (section, name) in self.own

    def any_rule(self, names: Iterable[str]) -> bool:
        """Whether one of these rules is under review."""
        return any(self.has("rules", name) for name in names)

    def topologies(self) -> tuple[str, ...]:
        """The topologies that the review deduces, its own first."""
        if self.own is None:
            return tuple(self.knowledge.topologies)
        first = [name for name in self.knowledge.topologies if self.has("topologies", name)]
        rest = [name for name in self.knowledge.topologies if name not in first]
        return (*first, *(name for name in rest if self._has_changed(name)))

    def _has_changed(self, topology: str) -> bool:
        assert self.own is not None
        stages = self.knowledge.topologies[topology].stages.values()
        uses = {
            "parts": {part.kind for stage in stages for part in stage.parts.values()},
            "stages": {stage.kind for stage in stages},
        }
        replacements = {(o.section, o.name) for o in self.knowledge.overridden}
        for section, name in self.own:
            if section == "topologies":
                continue
            if section in uses:
                if name in uses[section]:
                    return True
            elif section == "rules":
                if (section, name) in replacements or self._can_fire(name, topology):
                    return True
            elif section in _CHANGE_EVERYTHING or (section, name) in replacements:
                return True
        return False

    def _can_fire(self, rule: str, topology: str) -> bool:
        """Whether a unit's given facts meet every condition that asks for given facts only."""
        candidate = self.knowledge.rules[rule]
        facts = self._facts(topology)
        if facts is None:
            return True
        conclusions = concluded_kinds(self.knowledge.rules.values())
        conclusions |= set(self.knowledge.quantities)
        given_only = [
            c for c in candidate.when if next(iter(c)) in facts and not set(c) & conclusions
        ]
        acts = self._acts(facts)
        return all(_passes(clause, facts, candidate) for clause in given_only) and all(
            clause["condition"].get("acts") in acts
            for clause in candidate.when
            if isinstance(clause.get("condition", {}).get("acts"), str)
            and not clause["condition"]["acts"].startswith("$")
        )

    def _acts(self, facts: Mapping[str, list[Fact]]) -> set[str]:
        """How parts of a unit can act: by their modes, or by what rules make of these."""
        acts = {"healthy", *(mode.text("acts") for mode in facts.get("mode", ()))}
        for rule in self.knowledge.rules.values():
            for clause in rule.then:
                act = str(clause.get("condition", {}).get("acts", ""))
                acts |= {act} if act else set()
        return acts

    def _facts(self, topology: str) -> Mapping[str, list[Fact]] | None:
        by_kind: dict[str, list[Fact]] = {kind: [] for kind in ("part", "trait", "stage", "point")}
        for bench in (Bench(230.0, 50.0), Bench(120.0, 60.0)):
            try:
                facts = compose(self.knowledge, self.knowledge.topologies[topology], bench)
            except TroubleError:
                return None
            for fact in facts:
                by_kind.setdefault(fact.kind, []).append(fact)
        return by_kind


def _passes(clause: Clause, facts: Mapping[str, list[Fact]], rule: Rule) -> bool:
    """Whether some fact passes what a condition asks of it alone; its variables may be anything."""
    variables = frozenset(
        value[1:]
        for other in rule.when
        for fields in other.values()
        for value in fields.values()
        if isinstance(value, str) and value.startswith("$")
    )
    condition = take_apart(clause, {}, variables)
    return any(condition.met_alone(fact) for fact in facts[condition.kind])
