"""Can a rule's conditions be met at all, and does it conclude all that is asked of its kind?

Codes: KB611 a condition that can't be used; KB612 a conclusion that lacks a field or has a number
that is none; KB613 answers of a test that can't be told apart or belong to nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from kb.language import bounds
from kb.language.knowledge import Knowledge
from kb.language.schema import Rule
from kb.trouble import Trouble

MOST_CONDITIONS = 15
_NEEDED: Mapping[str, tuple[str, ...]] = {
    "test": (
        "name", "action", "says", "minutes", "supply", "rig", "behind", "looks_at", "at", "answers"
    ),
    "rig": ("name", "does", "on", "minutes", "hands_on", "says"),
    "errs": ("test", "really", "read", "odds"),
    "blurs": ("of", "at", "is", "shows", "odds"),
    "brings": ("part", "mode", "acts", "odds", "says"),
    "fault": ("name", "part", "stage", "acts", "joint"),
    "remedy": ("name", "says", "kind", "minutes", "level"),
    "renews": ("remedy", "part"),
    "cures": ("remedy", "fault"),
    "companion": ("remedy", "says"),
    "proof": ("name", "says", "supply", "limit", "minutes", "closed", "rank"),
    "proves": ("remedy", "proof"),
    "hazard": ("of", "is"),
    "slice": ("family", "share"),
    "counted": ("family", "cases", "book"),
    "counts-in": ("part", "family"),
    "weigh": ("fault", "by"),
    "store": ("part", "max_volts", "point"),
    "use": ("as", "of", "at", "energy", "scene"),
}  # fmt: skip
_NUMBERS = frozenset(
    {"minutes", "odds", "share", "by", "max_volts", "rank", "strength", "cases"}
)
_COUNTS = frozenset({"share", "strength", "cases"})
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
            for why in _incomplete(kind, fields, knowledge):
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
    variables: set[str] = set()
    for number, clause in enumerate((*rule.when, *rule.unless)):
        for fields in clause.values():
            here = {pattern for pattern in fields.values() if _is_variable(pattern)}
            for name, pattern in fields.items():
                yield from _field(name, pattern, variables | here)
            if number < len(rule.when):
                variables |= here


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


def _incomplete(kind: str, fields: Mapping[str, Any], knowledge: Knowledge) -> Iterator[str]:
    needs = ("at", "is") if kind in knowledge.quantities else _NEEDED.get(kind, ())
    lacking = [name for name in needs if name not in fields]
    if lacking:
        yield f"without: {', '.join(lacking)}"
    for name in sorted(_NUMBERS & set(fields)):
        pattern = fields[name]
        text = isinstance(pattern, str) and (_is_variable(pattern) or pattern.startswith("= "))
        if not text and not _is_number(pattern):
            yield f"whose '{name}' is no number: {pattern!r}"
        elif not text and name in _COUNTS and pattern < 0:
            yield f"whose '{name}' is under 0: {pattern!r}"


def _answers(fields: Mapping[str, Any], knowledge: Knowledge) -> Iterator[str]:
    answers = fields.get("answers")
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
