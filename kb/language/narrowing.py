"""Shipped rules narrowed, extended or answered otherwise for one unit, without a copy of them.

A narrowing names a rule and says what is asked on top (`when`, `unless`), in which units, what is
concluded `instead`, or under which other conditions the same follows (`also_when`). It is put into
the rules once all folders are read. Codes: KB109 a safety rule would be narrowed; KB623 a narrowing
of no rule, or one that changes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from kb.language import guards
from kb.language.nearest import mend
from kb.language.schema import Narrowing, Rule
from kb.trouble import Place, Trouble

_Places = Mapping[tuple[str, str], Place]


@dataclass(slots=True)
class Ruleset:
    """The rules as narrowed; `places` and `own` of those that a narrowing made or changed."""

    rules: dict[str, Rule]
    places: dict[tuple[str, str], Place] = field(default_factory=dict)
    troubles: list[Trouble] = field(default_factory=list)


def narrow(
    rules: Mapping[str, Rule], narrowings: Mapping[str, Narrowing], places: _Places
) -> Ruleset:
    """The rules with all narrowings put in, in their order; troubles at the narrowing's line."""
    result = Ruleset(dict(rules))
    for name, narrowing in narrowings.items():
        place = places.get(("narrowings", name), Place("narrowings"))
        rule = result.rules.get(narrowing.rule)
        trouble = _objection(narrowing, rule, tuple(rules), place)
        if trouble is not None:
            result.troubles.append(trouble)
        elif rule is not None:
            for variant in _variants(rule, narrowing):
                result.rules[variant.id] = variant
                result.places["rules", variant.id] = place
    return result


def _objection(
    narrowing: Narrowing, rule: Rule | None, names: tuple[str, ...], place: Place
) -> Trouble | None:
    if rule is None:
        return Trouble(
            "KB623", place,
            f"'{narrowing.narrowing}' narrows '{narrowing.rule}', which is no rule",
            mend(narrowing.rule, names) if len(names) < 40 else _nearest(narrowing.rule, names),
        )
    changes = narrowing.when or narrowing.unless or narrowing.instead
    if not changes and not narrowing.also_when:
        return Trouble(
            "KB623", place, f"'{narrowing.narrowing}' changes nothing of '{narrowing.rule}'",
            "Give it `when`, `unless`, `instead` or `also_when`",
        )
    if changes and (reason := guards.safeguard("rules", rule)):
        return Trouble(
            "KB109", place, f"'{narrowing.narrowing}' would narrow {reason}, '{narrowing.rule}'",
            "Add a rule of your own: one's own knowledge can add to safety, never take from it",
        )
    return None


def _nearest(name: str, names: tuple[str, ...]) -> str:
    says = mend(name, names)
    return says if says.startswith("Write '") else "Write the id of a rule, as --explain tells it"


def _variants(rule: Rule, narrowing: Narrowing) -> list[Rule]:
    """The rules that stand in place of one, and beside it."""
    more = {"when": (*rule.when, *narrowing.when), "unless": (*rule.unless, *narrowing.unless)}
    then = narrowing.instead or rule.then
    words = {"says": narrowing.says, "source": narrowing.source}
    name = f"{rule.id}.{narrowing.narrowing}"
    results = []
    if narrowing.units:
        here = {"unit": {"name": {"any": list(narrowing.units)}}}
        results.append(rule.model_copy(update={"unless": (*rule.unless, here)}))
        more["when"] = (*more["when"], here)
        results.append(rule.model_copy(update={**more, **words, "id": name, "then": then}))
    elif narrowing.when or narrowing.unless or narrowing.instead:
        results.append(rule.model_copy(update={**more, "then": then}))
    if narrowing.also_when:
        also = {"when": narrowing.also_when, "id": f"{name}-also", "then": then, **words}
        results.append(rule.model_copy(update=also))
    return results
