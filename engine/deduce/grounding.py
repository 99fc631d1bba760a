"""Meets beforehand those conditions of rules that the same facts meet in every run.

Thousands of suppositions are made about one unit, and its structure stands in all of them. Each
rule is joined once with the standing facts; what is left of it are instances that wait only for
what a supposition moves. This is partial evaluation of the rules for one unit (Jones, Gomard and
Sestoft, Partial Evaluation and Automatic Program Generation, 1993, ch. 1): the conclusions and
their causes are those of the whole rules. A rule with s standing conditions over n facts of their
kinds takes at most n^s steps.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from engine.deduce.facts import Fact, Scalar
from engine.deduce.matching import IS, NOT, field_tests, take_apart
from kb.language.schema import Clause, Rule

Values = Mapping[str, Scalar]


@dataclass(frozen=True, slots=True)
class Instance:
    """A rule with some conditions met: `matches` has a fact for each of them, None for an open one.

    `values` are the variables that the met conditions bind; `unless` what still must not stand.
    """

    rule: Rule
    values: Values
    matches: tuple[Fact | None, ...]
    unless: tuple[Clause, ...]


def whole(rule: Rule) -> Instance:
    """The rule with all its conditions open."""
    return Instance(rule, {}, (None,) * len(rule.when), rule.unless)


def ground(
    rules: Iterable[Rule], standing: Iterable[Fact], moving: frozenset[str]
) -> tuple[Instance, ...]:
    """Every instance of the rules over the standing facts; kinds in `moving` stay open."""
    by_kind: defaultdict[str, list[Fact]] = defaultdict(list)
    for fact in standing:
        by_kind[fact.kind].append(fact)
    return tuple(
        instance for rule in rules for instance in _instances(rule, by_kind, moving)
    )


def is_met(rule: Rule, standing: Iterable[Fact], moving: frozenset[str]) -> bool:
    """Whether standing facts meet all conditions of a rule but those over kinds in `moving`."""
    by_kind: defaultdict[str, list[Fact]] = defaultdict(list)
    for fact in standing:
        by_kind[fact.kind].append(fact)
    return next(_instances(rule, by_kind, moving), None) is not None


def _instances(
    rule: Rule, by_kind: Mapping[str, list[Fact]], moving: frozenset[str]
) -> Iterator[Instance]:
    numbers = _static_conditions(rule, moving)
    late = _variables(clause for number, clause in enumerate(rule.when) if number not in numbers)
    for values, facts in _join([rule.when[n] for n in numbers], by_kind, {}):
        matches: list[Fact | None] = [None] * len(rule.when)
        for number, fact in zip(numbers, facts, strict=True):
            matches[number] = fact
        waits = late - values.keys()
        exclusions = [
            clause for clause in rule.unless
            if _kind(clause) not in moving and not waits & _variables((clause,))
        ]
        if not any(_stands(clause, values, by_kind) for clause in exclusions):
            unless = tuple(clause for clause in rule.unless if clause not in exclusions)
            yield Instance(rule, values, tuple(matches), unless)


def _static_conditions(rule: Rule, moving: frozenset[str]) -> list[int]:
    """Which conditions standing facts can meet, none asking to differ from what is still open."""
    numbers: list[int] = []
    variables: set[str] = set()
    for number, clause in enumerate(rule.when):
        if _kind(clause) not in moving and _variables((clause,), NOT) <= variables | _variables(
            (clause,), IS
        ):
            numbers.append(number)
            variables |= _variables((clause,), IS)
    return numbers


def _kind(clause: Clause) -> str:
    return next(iter(clause))


def _join(
    clauses: list[Clause], by_kind: Mapping[str, list[Fact]], values: Values
) -> Iterator[tuple[Values, tuple[Fact, ...]]]:
    """Every way in which standing facts meet the clauses, one after the other."""
    if not clauses:
        yield values, ()
        return
    for fact, wider in _meeting(clauses[0], by_kind, values):
        for all_values, rest in _join(clauses[1:], by_kind, wider):
            yield all_values, (fact, *rest)


def _meeting(
    clause: Clause, by_kind: Mapping[str, list[Fact]], values: Values
) -> Iterator[tuple[Fact, Values]]:
    condition = take_apart(clause, values, frozenset())
    for fact in by_kind.get(condition.kind, ()):
        if condition.met_alone(fact):
            yield fact, {**values, **{var: fact[name] for name, var in condition.binds}}


def _variables(clauses: Iterable[Clause], *words: str) -> set[str]:
    """The variables that clauses use, of `words` only where any are given."""
    return {
        operand[1:]
        for clause in clauses
        for _, word, operand in field_tests(clause[_kind(clause)])
        if isinstance(operand, str) and operand[:1] == "$" and word in (words or (IS, NOT))
    }


def _stands(clause: Clause, values: Values, by_kind: Mapping[str, list[Fact]]) -> bool:
    return next(_meeting(clause, by_kind, values), None) is not None


def concluded_kinds(rules: Iterable[Rule]) -> frozenset[str]:
    """The kinds of fact that rules conclude."""
    return frozenset(_kind(clause) for rule in rules for clause in rule.then)



def relevant_kinds(rules: Iterable[Rule], goals: Iterable[str]) -> frozenset[str]:
    """The kinds of fact that those sought can depend on, themselves included."""
    dependencies = [
        (concluded_kinds((rule,)), {_kind(clause) for clause in (*rule.when, *rule.unless)})
        for rule in rules
    ]
    kinds = set(goals)
    while True:
        more = {kind for concludes, asks in dependencies if concludes & kinds for kind in asks}
        if more <= kinds:
            return frozenset(kinds)
        kinds |= more
