"""A forward chainer so plain that it can be trusted by reading: the yardstick for the real one.

It tries every rule on every combination of known facts, over and over, until nothing new follows.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from engine.deduce.facts import Fact, Scalar
from engine.deduce.templates import fill
from kb.language.schema import Clause, Rule

Known = Mapping[tuple[object, ...], Sequence[Fact]]
Values = dict[str, Scalar]


def follows(rules: Iterable[Rule], given: Iterable[Fact]) -> set[Fact]:
    """All facts that follow from the given ones, those included."""
    rules, facts = list(rules), set(given)
    while True:
        known = indexed(facts)
        new = {fact for rule in rules for fact in conclusions(rule, known)} - facts
        if not new:
            return facts
        facts |= new


def indexed(facts: Iterable[Fact]) -> Known:
    """Facts by kind, and by kind and the value of each field."""
    known: defaultdict[tuple[object, ...], list[Fact]] = defaultdict(list)
    for fact in facts:
        known[fact.kind,].append(fact)
        for name, value in fact.fields:
            known[fact.kind, name, _sort(value), value].append(fact)
    return known


def conclusions(rule: Rule, known: Known) -> Iterator[Fact]:
    """What one rule concludes from what is known now."""
    for values in _matches(rule.when, known, {}):
        if not any(next(_matches([clause], known, values), None) for clause in rule.unless):
            for clause in rule.then:
                for kind, template in clause.items():
                    filled = [(name, fill(wanted, values)) for name, wanted in template.items()]
                    fields = [pair for pair in filled if not isinstance(pair[1], (list, dict))]
                    yield Fact(kind, tuple(fields))


def _matches(clauses: Sequence[Clause], known: Known, values: Values) -> Iterator[Values]:
    if not clauses:
        yield {"": "met", **values}
        return
    for kind, fields in clauses[0].items():
        for fact in _candidates(kind, fields, known, values):
            wider = meets(dict(fact.fields), fields, values)
            if wider is not None:
                yield from _matches(clauses[1:], known, wider)


def _candidates(
    kind: str, fields: Mapping[str, Any], known: Known, values: Values
) -> Sequence[Fact]:
    found = known.get((kind,), ())
    for name, wanted in fields.items():
        if isinstance(wanted, str) and wanted[:1] == "$":
            wanted = values.get(wanted[1:])
        if wanted is not None and not isinstance(wanted, Mapping):
            found = min(found, known.get((kind, name, _sort(wanted), wanted), ()), key=len)
    return found


def meets(own: Mapping[str, Scalar], fields: Mapping[str, Any], values: Values) -> Values | None:
    """The variables, with those that a fact's fields bind; None if it does not meet the clause."""
    wider = dict(values)
    if any(name not in own for name in fields):
        return None
    variables = {n: w[1:] for n, w in fields.items() if isinstance(w, str) and w[:1] == "$"}
    for name, variable in variables.items():
        if not same(wider.setdefault(variable, own[name]), own[name]):
            return None
    for name, wanted in fields.items():
        if name in variables:
            continue
        tests = wanted if isinstance(wanted, Mapping) else {"is": wanted}
        if not all(_passes(own[name], word, operand, wider) for word, operand in tests.items()):
            return None
    return wider


def _passes(value: Scalar, word: str, operand: Any, values: Values) -> bool:
    if word == "any":
        return any(same(value, choice) for choice in operand)
    if word in ("above", "below"):
        number = isinstance(value, (int, float)) and not isinstance(value, bool)
        return number and (value > operand if word == "above" else value < operand)
    if isinstance(operand, str) and operand.startswith("$"):
        operand = values[operand[1:]]
    return same(value, operand) == (word == "is")


def same(one: Scalar, other: Scalar) -> bool:
    """Equal, and of the same sort: text, number or truth value."""
    return _sort(one) == _sort(other) and one == other


def _sort(value: Scalar) -> type:
    return float if type(value) is int else type(value)
