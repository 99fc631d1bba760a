"""Checks of knowledge that need no deduction: do rules, kinds and words fit together?

Codes: KB601 unknown kind of fact; KB602 unknown field; KB603 variable never bound; KB604 unknown
step; KB605 unknown value of a quantity; KB606 negation of what the same step concludes; KB607
unknown word; KB608 hazard without a caution; KB609 shares of a part kind over 1; KB610 unknown
place; KB611 to KB613 and KB620 see `kb.language.conditions`, KB614 to KB616 `kb.language.guards`,
KB618 and KB619 `kb.language.references`, KB621 and KB622 `kb.language.spelling`,
KB624 and KB625 `kb.language.appearances`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from kb.language import appearances, conditions, guards, references, spelling
from kb.language.knowledge import Knowledge
from kb.language.nearest import mend
from kb.language.schema import Rule
from kb.trouble import Trouble

STEPS = ("survey", "offer", "suppose", "conclude")
_COMPARISONS = frozenset({"any", "not", "above", "below"})
_IN_TEXT = re.compile(r"\{(\w+)")
_WORKED_OUT = re.compile(r"\{= *([^{}:]+)")
_NAME = re.compile(r"\b([A-Za-z_]\w*)\b(?!\()")
_IN_EXPRESSION = re.compile(r"\$(\w+)")


def lint(knowledge: Knowledge) -> Iterator[Trouble]:
    """Every trouble found, in the order of the entries."""
    for rule in knowledge.rules.values():
        yield from _rule(rule, knowledge)
        yield from conditions.check(rule, knowledge)
    yield from _doubts(knowledge)
    yield from _negations(knowledge)
    yield from _kinds(knowledge)
    yield from _hazards(knowledge)
    yield from guards.check(knowledge)
    yield from references.check(knowledge)
    yield from spelling.check(knowledge)
    yield from appearances.check(knowledge)


def _rule(rule: Rule, knowledge: Knowledge) -> Iterator[Trouble]:
    place = knowledge.place("rules", rule.id)
    if rule.step not in STEPS:
        yield Trouble(
            "KB604", place, f"Rule '{rule.id}' belongs to the unknown step '{rule.step}'",
            mend(rule.step, STEPS),
        )
    variables: set[str] = set()
    for clause in (*rule.when, *rule.unless):
        for kind, fields in clause.items():
            yield from _names(rule, kind, fields, knowledge)
            variables.update(
                pattern[1:] for pattern in fields.values()
                if isinstance(pattern, str) and pattern.startswith("$") and clause in rule.when
            )
            yield from _conditions(rule, kind, fields, knowledge)
    for clause in rule.then:
        for kind, fields in clause.items():
            yield from _names(rule, kind, fields, knowledge, answers=kind == "test")
            for unknown in sorted(set(_variables(fields)) - variables):
                yield Trouble(
                    "KB603", place,
                    f"Rule '{rule.id}' uses ${unknown} in its '{kind}', but no condition binds it",
                    f"Add a condition with `...: ${unknown}`, or respell it",
                )


def _doubts(knowledge: Knowledge) -> Iterator[Trouble]:
    """A doubt asks as a rule does, and concludes nothing."""
    for name, doubt in knowledge.doubts.items():
        asks = Rule.model_construct(
            id=name, step="conclude", when=doubt.when, unless=doubt.unless, then=()
        )
        place = knowledge.place("doubts", name)
        for trouble in (*_rule(asks, knowledge), *conditions.check(asks, knowledge)):
            yield replace(trouble, place=place)
        uses = set(_variables([doubt.says, doubt.at, doubt.over]))
        for unknown in sorted(uses - _variables_of(asks)):
            yield Trouble(
                "KB603", place, f"Doubt '{name}' uses ${unknown}, but no condition binds it",
                f"Add a condition with `...: ${unknown}`, or respell it",
            )


def _variables_of(rule: Rule) -> set[str]:
    """The variables that the conditions of a rule bind."""
    return {
        pattern[1:]
        for clause in rule.when
        for fields in clause.values()
        for pattern in fields.values()
        if isinstance(pattern, str) and pattern.startswith("$")
    }


def _names(
    rule: Rule, kind: str, fields: Mapping[str, Any], knowledge: Knowledge, answers: bool = False
) -> Iterator[Trouble]:
    place = knowledge.place("rules", rule.id)
    if kind in knowledge.quantities:
        choices = {"at", "is"}
        value = fields.get("is")
        values = knowledge.quantities[kind].values
        if isinstance(value, str) and not value.startswith("$") and value not in values:
            yield _unknown_value(rule, kind, value, knowledge)
    elif kind in knowledge.facts:
        choices = set(knowledge.facts[kind].fields)
        if answers:
            choices.add(conditions.ANSWERS)
    else:
        yield Trouble(
            "KB601", place, f"Rule '{rule.id}' names '{kind}', which is no kind of fact",
            mend(kind, (*knowledge.facts, *knowledge.quantities), "add it under `facts`"),
        )
        return
    for name in fields:
        if name not in choices:
            yield Trouble(
                "KB602", place,
                f"Rule '{rule.id}' names the field '{name}', which a '{kind}' has not",
                mend(name, sorted(choices)),
            )


def _conditions(
    rule: Rule, kind: str, fields: Mapping[str, Any], knowledge: Knowledge
) -> Iterator[Trouble]:
    for name, pattern in fields.items():
        if not isinstance(pattern, Mapping):
            continue
        for word, value in pattern.items():
            if word not in _COMPARISONS:
                yield Trouble(
                    "KB607", knowledge.place("rules", rule.id),
                    f"Rule '{rule.id}' compares '{name}' by the unknown word '{word}'",
                    f"Write one of: {', '.join(sorted(_COMPARISONS))}",
                )
            choices = value if isinstance(value, (list, tuple)) else [value]
            if kind in knowledge.quantities and name == "is":
                for choice in choices:
                    if choice not in knowledge.quantities[kind].values:
                        yield _unknown_value(rule, kind, str(choice), knowledge)


def _unknown_value(rule: Rule, quantity: str, value: str, knowledge: Knowledge) -> Trouble:
    return Trouble(
        "KB605", knowledge.place("rules", rule.id),
        f"Rule '{rule.id}' names '{value}', which is no value of '{quantity}'",
        mend(value, knowledge.quantities[quantity].values),
    )


def _variables(template: Any) -> Iterator[str]:
    """Variables that a template uses."""
    if isinstance(template, str):
        if template.startswith("= "):
            yield from _IN_EXPRESSION.findall(template)
        elif template.startswith("$"):
            yield template[1:]
        else:
            yield from _IN_TEXT.findall(template)
            for expression in _WORKED_OUT.findall(template):
                yield from _NAME.findall(expression)
    elif isinstance(template, Mapping):
        for inner in template.values():
            yield from _variables(inner)
    elif isinstance(template, (list, tuple)):
        for inner in template:
            yield from _variables(inner)


def _negations(knowledge: Knowledge) -> Iterator[Trouble]:
    conclusions: dict[str, set[str]] = {step: set() for step in STEPS}
    for rule in knowledge.rules.values():
        for clause in rule.then:
            conclusions.setdefault(rule.step, set()).update(clause)
    for rule in knowledge.rules.values():
        for clause in rule.unless:
            for kind in clause:
                if kind in conclusions.get(rule.step, set()):
                    yield Trouble(
                        "KB606", knowledge.place("rules", rule.id),
                        f"Rule '{rule.id}' has `unless: {kind}`, which rules of the same step "
                        f"'{rule.step}' conclude, so it could fire before they do",
                        "Negate only what stands before the step begins",
                    )


def _kinds(knowledge: Knowledge) -> Iterator[Trouble]:
    for name, kind in knowledge.parts.items():
        place = knowledge.place("parts", name)
        total = sum(mode.share for mode in kind.modes.values())
        if total > 1.011:  # the handbook's own table holds a row that sums to 1.01
            yield Trouble(
                "KB609", place, f"The shares of the failure modes of '{name}' sum to {total:.2f}",
                "Let them sum to 1 at most; what is left goes to modes not listed",
            )
        for mode_name, mode in kind.modes.items():
            variants = sum(variant.share for variant in mode.variants.values())
            if mode.variants and abs(variants - 1) > 1e-6:
                yield Trouble(
                    "KB609", place,
                    f"The variants of '{name}' {mode_name} sum to {variants:.3f}, not 1",
                    "Let the shares of a mode's variants sum to 1",
                )
    for name, stage in knowledge.stages.items():
        yield from _unknown_places(name, (*stage.places, *stage.needs), knowledge)


def _unknown_places(
    stage: str, places: Iterable[str], knowledge: Knowledge
) -> Iterator[Trouble]:
    for word in places:
        if word not in knowledge.place_words:
            yield Trouble(
                "KB610", knowledge.place("stages", stage),
                f"Stage kind '{stage}' has the unknown place '{word}'",
                mend(word, knowledge.place_words, "add it under `places`"),
            )


def _hazards(knowledge: Knowledge) -> Iterator[Trouble]:
    hazards = {caution.hazard for caution in knowledge.cautions.values()}
    for rule in knowledge.rules.values():
        for clause in rule.then:
            hazard = clause.get("hazard", {}).get("is")
            if isinstance(hazard, str) and not hazard.startswith("$") and hazard not in hazards:
                yield Trouble(
                    "KB608", knowledge.place("rules", rule.id),
                    f"Rule '{rule.id}' finds the hazard '{hazard}', for which no caution stands",
                    mend(hazard, sorted(hazards), "add a caution with that hazard"),
                )
    for name, topology in knowledge.topologies.items():
        for opening in topology.openings.values():
            for hazard in opening.hazards:
                if hazard not in hazards:
                    yield Trouble(
                        "KB608", knowledge.place("topologies", name),
                        f"An opening has the hazard '{hazard}', for which no caution stands",
                        mend(hazard, sorted(hazards), "add a caution with that hazard"),
                    )
