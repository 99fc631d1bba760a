"""Which failures of parts in line no rule speaks of: power then ends there without a word.

Power runs through a part in line only if some rule lets it. Where no rule of step suppose says what
a part does that acts in a certain way at a certain place, a unit with that failure shows as dark,
which may be right or may be an oversight; `check` tells it (KB818). Rules that only tell what the
part itself reads don't count. O(parts x modes x rules).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from kb.language.knowledge import Knowledge
from kb.language.schema import PartFact, Rule
from kb.trouble import Trouble

_IN_LINE = "in-line"


def silent(knowledge: Knowledge) -> Iterator[Trouble]:
    """A note for each part in line that can act as no rule foresees at its place."""
    rules = [rule for rule in knowledge.rules.values() if rule.step == "suppose"]
    for name, topology in knowledge.topologies.items():
        for stage in topology.stages.values():
            for designator, part in stage.parts.items():
                place = knowledge.place_words.get(part.place)
                if part.kind not in knowledge.parts or place is None or place.lies != _IN_LINE:
                    continue
                for acts in _unforeseen(rules, part, knowledge):
                    yield Trouble(
                        "KB818", knowledge.place("topologies", name),
                        f"No rule says what {designator} does to the power where it stands "
                        f"({place.says}) when it acts '{acts}': the unit shows as dark",
                        "Let a rule of step suppose say it, or choose a word that rules know",
                        grave=False,
                    )  # fmt: skip


def _unforeseen(rules: Iterable[Rule], part: PartFact, knowledge: Knowledge) -> Iterator[str]:
    """How the part can act without a rule that follows it up."""
    kind = knowledge.parts[part.kind]
    manners = {acts for mode in kind.modes.values() for acts in _acts(mode)}
    for acts in sorted(manners):
        words = _widen(rules, acts)
        if not any(_follows(rule, words, part, knowledge) for rule in rules):
            yield acts


def _acts(mode: Any) -> Iterator[str]:
    yield from (variant.acts for variant in mode.variants.values())
    if not mode.variants:
        yield mode.acts


def _widen(rules: Iterable[Rule], acts: str) -> frozenset[str]:
    """The word and those that rules make of it: what dried out and bulged is dried out."""
    words = {acts}
    for rule in rules:
        conclusions = [clause["condition"] for clause in rule.then if "condition" in clause]
        if conclusions and any(
            _meets(pattern, word) for _, pattern in _conditions(rule) for word in words
        ):
            words.update(str(fields.get("acts")) for fields in conclusions)
    return frozenset(words)


def _conditions(rule: Rule) -> Iterator[tuple[str, Any]]:
    """The variable and the wanted words of each condition that says how a part acts."""
    for clause in rule.when:
        fields = clause.get("condition", {})
        pattern = fields.get("acts")
        if isinstance(pattern, Mapping):
            names = "any" in pattern
        else:
            names = str(pattern)[:1] not in ("", "$")
        if pattern is not None and names:
            yield str(fields.get("part", "")), pattern


def _follows(rule: Rule, words: frozenset[str], part: PartFact, knowledge: Knowledge) -> bool:
    traits = frozenset(knowledge.parts[part.kind].traits)
    return any(
        any(_meets(pattern, word) for word in words)
        and _fits(rule, variable, part, traits)
        and _tells_of_more(rule, variable, knowledge)
        for variable, pattern in _conditions(rule)
    )


def _fits(rule: Rule, variable: str, part: PartFact, traits: frozenset[str]) -> bool:
    """Whether what the rule asks of the part's kind and place can be met by this part."""
    for clause in rule.when:
        for kind, fields in clause.items():
            if kind == "hangs" and fields.get("part") == variable:
                return False
            if kind == "alongside" and variable in fields.values():
                return False  # it tells what its neighbour reads, nothing of the power
            of_it = kind == "trait" and fields.get("of") == variable
            if of_it and not any(_meets(fields.get("is"), trait) for trait in traits):
                return False
            name = fields.get("name") if kind == "part" else fields.get("part")
            if kind in ("part", "way") and name == variable:
                if not _meets(fields.get("place", "$any"), part.place):
                    return False
                if kind == "part" and not _meets(fields.get("kind", "$any"), part.kind):
                    return False
    return True


def _tells_of_more(rule: Rule, variable: str, knowledge: Knowledge) -> bool:
    """Whether it concludes that power passes, or more than what the part itself reads."""
    return any(
        kind == "passes" or (kind in knowledge.quantities and fields.get("at") != variable)
        for clause in rule.then for kind, fields in clause.items()
    )  # fmt: skip


def _meets(pattern: Any, value: str) -> bool:
    """Whether a field with this value can meet the condition; a variable meets anything."""
    if isinstance(pattern, Mapping):
        choices = pattern.get("any")
        exclusions = pattern.get("not")
        exclusions = exclusions if isinstance(exclusions, (list, tuple)) else [exclusions]
        return (choices is None or value in choices) and value not in exclusions
    return pattern is None or str(pattern).startswith("$") or pattern == value
