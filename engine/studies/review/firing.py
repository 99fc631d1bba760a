"""Rules that never fire, that say the same twice, or that fire several times for one conclusion.

Codes: KB801 never fires; KB802 two rules alike; KB803 fires again for what it has concluded.
"""

from __future__ import annotations

import json
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from engine.deduce.facts import Fact
from engine.deduce.grounding import ground
from engine.studies.review.scope import Scope
from engine.studies.review.trying import Unit, Workshop
from kb.language.schema import Clause, Rule
from kb.trouble import Trouble

_BEFORE_SUPPOSING = ("survey", "offer")


def never(workshop: Workshop) -> Iterator[Trouble]:
    """Rules that fired in no unit, at no mains, for no complaint."""
    count = len(workshop.scope.topologies())
    for rule in workshop.silent_rules():
        yield Trouble(
            "KB801",
            workshop.scope.knowledge.place("rules", rule.id),
            f"Rule '{rule.id}' never fires: none of the {count} topologies tried meets its "
            "conditions",
            "Compare its `when` and `unless` with the facts of a unit it is meant for, or add one",
            grave=False,
        )


def alike(scope: Scope) -> Iterator[Trouble]:
    """Rules of one step with the same conditions, their variables renamed, and one conclusion."""
    first: dict[str, str] = {}
    for rule in scope.knowledge.rules.values():
        conditions, names = _rename(rule)
        for clause in rule.then:
            key = json.dumps([rule.step, conditions, _substitute(clause, names)], sort_keys=True)
            other = first.setdefault(key, rule.id)
            if other != rule.id and scope.any_rule((rule.id, other)):
                yield Trouble(
                    "KB802",
                    scope.knowledge.place("rules", rule.id),
                    f"Rule '{rule.id}' concludes '{next(iter(clause))}' from the same conditions "
                    f"as rule '{other}'",
                    "Keep one of the two",
                    grave=False,
                )


def again(scope: Scope, units: Iterable[Unit]) -> Iterator[Trouble]:
    """Rules of the steps before supposing that conclude the same again for other facts."""
    ids: set[str] = set()
    for unit in units:
        for rule in scope.knowledge.rules.values():
            if rule.step not in _BEFORE_SUPPOSING or rule.id in ids:
                continue
            if not scope.has("rules", rule.id):
                continue
            times = _times(rule, unit.deduction.unit)
            if times > 1:
                ids.add(rule.id)
                yield Trouble(
                    "KB803",
                    scope.knowledge.place("rules", rule.id),
                    f"Rule '{rule.id}' fires {times} times in {unit.topology} for one and the same "
                    "conclusion",
                    "Tie its conditions together by a variable, or drop one that nothing uses",
                    grave=False,
                )


def _times(rule: Rule, standing: tuple[Fact, ...]) -> int:
    """How often the rule concludes the same for different values of a variable that it never uses.

    A condition that binds nothing only asks whether something is there, however often; and several
    causes may well raise one question.
    """
    uses = Counter(v for clause in (*rule.when, *rule.unless) for v in _variables(clause))
    conclusion = json.dumps(rule.then)
    loose = {
        v[1:] for v, times in uses.items() if times == 1 and not re.search(_uses(v), conclusion)
    }
    values_of: defaultdict[str, set[str]] = defaultdict(set)
    for instance in ground((rule,), standing, frozenset()) if loose else ():
        rest = {name: value for name, value in instance.values.items() if name not in loose}
        own = {name: instance.values[name] for name in loose}
        values_of[json.dumps(rest, sort_keys=True)].add(json.dumps(own, sort_keys=True))
    return max((len(values) for values in values_of.values()), default=0)


def _uses(variable: str) -> str:
    """How a variable may stand in a template."""
    return rf"\b{re.escape(variable[1:])}\b"


def _rename(rule: Rule) -> tuple[list[str], Mapping[str, str]]:
    """The conditions in an order of their own, with variables numbered as they are met."""
    names: dict[str, str] = {}
    for clause in (*rule.when, *rule.unless):
        for variable in _variables(clause):
            names.setdefault(variable, f"$v{len(names)}")
    when = sorted(json.dumps(_substitute(clause, names), sort_keys=True) for clause in rule.when)
    unless = sorted(
        json.dumps(_substitute(clause, names), sort_keys=True) for clause in rule.unless
    )
    return [*when, "unless", *unless], names


def _variables(clause: Clause) -> Iterator[str]:
    for fields in clause.values():
        for name in sorted(fields):
            pattern = fields[name]
            inner = pattern.values() if isinstance(pattern, Mapping) else (pattern,)
            yield from (w for w in inner if isinstance(w, str) and w.startswith("$"))


def _substitute(pattern: Any, names: Mapping[str, str]) -> Any:
    """The clause with its variables renamed, in templates, too."""
    if isinstance(pattern, str):
        if pattern in names:
            return names[pattern]
        for variable, name in names.items():
            pattern = pattern.replace("{" + variable[1:] + "}", "{" + name[1:] + "}")
        return pattern
    if isinstance(pattern, Mapping):
        return {str(key): _substitute(inner, names) for key, inner in pattern.items()}
    if isinstance(pattern, (list, tuple)):
        return [_substitute(inner, names) for inner in pattern]
    return pattern
