"""Can a rule's conditions be met at all, and does it conclude all that is asked of its kind?

Codes: KB611 a condition that can't be used; KB612 a conclusion with a number or a truth that is
none; KB613 answers of a test that can't be told apart or belong to nothing; KB620 a conclusion that
lacks a field.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from kb.language import bounds
from kb.language.knowledge import Knowledge
from kb.language.schema import Rule
from kb.trouble import Trouble

MOST_CONDITIONS = 15
MOST_APART = 7
"""Groups of conditions without a variable in common; shipped rules have six at most."""
ANSWERS = "answers"
"""What a test is concluded with beside its fields: no rule can ask for a list."""
_COUNTS = frozenset({"share", "strength", "cases"})
"""Numbers that count cases or part them: none is under 0."""
_ANSWER = frozenset({"outcome", "says", "for", "below", "at_least", "at_most", "short"})
_BAND = re.compile(r"\[([a-z][a-z-]*)\]")


def check(rule: Rule, knowledge: Knowledge) -> Iterator[Trouble]:
    """Every trouble of one rule."""
    place = knowledge.place("rules", rule.id)
    for why in _unusable(rule):
        yield Trouble(
            "KB611", place, f"A condition of rule '{rule.id}' can't be used: {why}",
            "Ask for a value, a variable, any: [...], not: a value or variable, above: or below: a "
            "number",
        )  # fmt: skip
    for clause in rule.then:
        for kind, fields in clause.items():
            for name in _needs(kind, knowledge):
                if name not in fields:
                    yield Trouble(
                        "KB620", place,
                        f"Rule '{rule.id}' concludes a '{kind}' without its field '{name}' "
                        f"({_meaning(kind, name, knowledge)})",
                        _mend(kind, name, knowledge),
                    )  # fmt: skip
            for why in _of_another_sort(rule, kind, fields, knowledge):
                yield Trouble(
                    "KB612", place, f"Rule '{rule.id}' concludes a '{kind}' {why}",
                    "Write it as the other rules of this kind do",
                )  # fmt: skip
            if kind == "test":
                for why in _answers(fields, knowledge):
                    yield Trouble(
                        "KB613", place, f"The answers of rule '{rule.id}' can't be used: {why}",
                        "List at least two answers, each with outcome, says and for, and below "
                        "where it is measured",
                    )  # fmt: skip


def _unusable(rule: Rule) -> Iterator[str]:
    clauses = len(rule.when) + len(rule.unless)
    if clauses > MOST_CONDITIONS:
        yield f"there are {clauses}, and at most {MOST_CONDITIONS} can be joined; part the rule"
    if (apart := _unbound(rule)) > MOST_APART:
        yield (
            f"{apart} share no variable with the others, and each would be tried with all that "
            f"meets the rest; at most {MOST_APART} can be, so bind them to each other"
        )
    variables: set[str] = set()
    for number, clause in enumerate((*rule.when, *rule.unless)):
        for fields in clause.values():
            here = {pattern for pattern in fields.values() if _is_variable(pattern)}
            for name, pattern in fields.items():
                yield from _field(name, pattern, variables | here)
            if number < len(rule.when):
                variables |= here


def _unbound(rule: Rule) -> int:
    """How many groups of conditions there are that no variable joins; what names all of its values
    is met by few facts, and is none."""
    groups: list[set[str]] = []
    for clause in rule.when:
        for fields in clause.values():
            own = {pattern for pattern in fields.values() if _is_variable(pattern)}
            if not own and any(_is_plain(pattern) for pattern in fields.values()):
                continue
            neighbours = [group for group in groups if group & own]
            groups = [group for group in groups if not group & own]
            groups.append(own.union(*neighbours))
    return len(groups)


def _field(name: str, pattern: Any, variables: set[str]) -> Iterator[str]:
    if not isinstance(pattern, Mapping):
        if not _is_plain(pattern):
            yield f"'{name}' is neither a word, a number nor a truth value"
        return
    for word, operand in pattern.items():
        if word == "any":
            is_list = isinstance(operand, (list, tuple)) and len(operand) > 0
            if not is_list or not all(_is_plain(o) and not _is_variable(o) for o in operand):
                yield f"'{name}: any' wants a list of plain values"
        elif word in ("above", "below"):
            if not _is_number(operand):
                yield f"'{name}: {word}' wants a number"
        elif word == "not":
            if not _is_plain(operand):
                yield f"'{name}: not' wants one value"
            elif _is_variable(operand) and operand not in variables:
                yield f"'{name}: not' asks for {operand} before anything binds it"


def _needs(kind: str, knowledge: Knowledge) -> tuple[str, ...]:
    """The fields that a conclusion of this kind gives; none for a kind that nobody knows."""
    if kind in knowledge.quantities:
        return ("at", "is")
    needs = knowledge.facts[kind].needs if kind in knowledge.facts else ()
    return (*needs, ANSWERS) if kind == "test" else needs


def _meaning(kind: str, name: str, knowledge: Knowledge) -> str:
    if kind in knowledge.quantities:
        return {"at": "of what it is claimed", "is": "its value"}[name]
    return knowledge.facts[kind].fields.get(name, "what it can answer")


def _mend(kind: str, name: str, knowledge: Knowledge) -> str:
    mend = f"Write `{name}:` into that conclusion, as the other rules of this kind do"
    if ("facts", kind) in knowledge.own:
        mend += f"; or, where it may be left out, list it under `optional` of the fact '{kind}'"
    return mend


def _of_another_sort(
    rule: Rule, kind: str, fields: Mapping[str, Any], knowledge: Knowledge
) -> Iterator[str]:
    """Each number or truth that is written as something else, or bound to a field of texts."""
    words = knowledge.facts.get(kind)
    if words is None:
        return
    sorts = {**dict.fromkeys(words.numbers, _NUMBER), **dict.fromkeys(words.truths, _TRUTH)}
    bound = dict(_bound_sorts(rule, knowledge))
    for name in sorted(sorts.keys() & fields.keys()):
        pattern, (is_such, says) = fields[name], sorts[name]
        if _is_variable(pattern):
            field = bound.get(pattern)
            if field is not None and field[1] not in (sorts[name], _ANY):
                yield f"whose '{name}' is {says}: {pattern} is bound to '{field[0]}'"
        elif not is_such(pattern):
            yield f"whose '{name}' is {says}: {pattern!r}"
        elif name in _COUNTS and _is_number(pattern) and pattern < 0:
            yield f"whose '{name}' is under 0: {pattern!r}"


def _bound_sorts(rule: Rule, knowledge: Knowledge) -> Iterator[tuple[str, tuple[str, _Sort]]]:
    """Of each variable the field that its first condition binds it to, and that field's sort."""
    for clause in reversed(rule.when):
        for kind, fields in clause.items():
            words = knowledge.facts.get(kind)
            for name, pattern in fields.items():
                if _is_variable(pattern):
                    is_number = words is not None and name in words.numbers
                    is_truth = words is not None and name in words.truths
                    # a shop's own kind need not say of what sort its fields are
                    is_own = ("facts", kind) in knowledge.own
                    plain = _ANY if is_own else _TEXT
                    yield pattern, (name, _NUMBER if is_number else _TRUTH if is_truth else plain)


def _answers(fields: Mapping[str, Any], knowledge: Knowledge) -> Iterator[str]:
    answers = fields.get(ANSWERS)
    if answers is None:
        return
    if not isinstance(answers, (list, tuple)) or len(answers) < 2:
        yield "there are fewer than two"
        return
    looks_at = str(fields.get("looks_at"))
    looked_at = knowledge.quantities.get(looks_at)
    if looked_at is None and not _is_variable(looks_at):
        yield f"the test looks at '{looks_at}', which is no quantity"
    outcomes: set[str] = set()
    for answer in answers:
        if not isinstance(answer, Mapping) or not {"outcome", "says", "for"} <= set(answer):
            yield "one has no outcome, says or for"
            continue
        if not set(answer) <= _ANSWER:
            yield f"'{answer['outcome']}' has an unknown word"
        if not isinstance(answer.get("short", False), bool):
            yield f"'{answer['outcome']}' says neither true nor false for short"
        if str(answer["outcome"]) in outcomes:
            yield f"'{answer['outcome']}' stands twice"
        outcomes.add(str(answer["outcome"]))
        values = answer["for"] if isinstance(answer["for"], (list, tuple)) else [answer["for"]]
        if {"at_least", "at_most"} & set(answer) and "below" not in answer:
            yield f"'{answer['outcome']}' has a limit for its cut point, but no cut point"
        unknown = [str(v) for v in values if looked_at is not None and v not in looked_at.values]
        if unknown:
            yield f"'{answer['outcome']}' is for {', '.join(unknown)}, which is no value of it"
    for name in ("says", "how", "good"):
        for word in _BAND.findall(str(fields.get(name, ""))):
            if word not in outcomes:
                yield f"its '{name}' tells the band of '{word}', which is no answer"


def _is_variable(value: object) -> bool:
    return isinstance(value, str) and value[:1] == "$"


def _is_number(value: object) -> bool:
    return bounds.is_number(value)


def _is_plain(value: object) -> bool:
    return isinstance(value, (str, bool)) or bounds.is_number(value)


_Sort = tuple[Callable[[Any], bool], str]
_NUMBER: _Sort = (lambda pattern: _is_number(pattern) or str(pattern).startswith("= "), "no number")
_TRUTH: _Sort = (lambda pattern: isinstance(pattern, bool), "neither true nor false")
_TEXT: _Sort = (lambda pattern: isinstance(pattern, str), "no text")
_ANY: _Sort = (lambda pattern: True, "")
