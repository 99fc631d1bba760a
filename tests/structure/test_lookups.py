"""Is a fact's field read through its view, never looked up by a bare string?

A misspelt attribute of a view fails in the type check; a misspelt string fails at somebody's bench.
Where views are made names of fields stand as strings, and what is generic (matching, joining,
firing) takes them out of rules.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from kb.language.loader import as_shipped

ROOT = Path(__file__).parents[2]
MADE_HERE = {"facts.py", "anatomy.py", "offers.py"}
GENERIC = {"chaining.py", "matching.py", "grounding.py"}
"""They handle facts of any kind: the fields' names come from rules."""
LOOKUPS = {"text", "number", "of", "get", "__getitem__"}
NO_FACTS = {"numbers", "reaches"}
"""Sections of the knowledge that are looked up by the name of an entry."""
PATHS = sorted(p for room in ("deduce", "assembly") for p in (ROOT / "engine" / room).glob("*.py"))
READERS = [path for path in PATHS if path.name not in MADE_HERE]
WORDS = {*as_shipped().facts, *(name for k in as_shipped().facts.values() for name in k.fields)}


def is_word(node: ast.expr) -> bool:
    """Whether an expression is a bare string that names a kind of fact or a field of one."""
    return isinstance(node, ast.Constant) and node.value in WORDS


def lookups(text: str, *, is_generic: bool = False) -> Iterator[str]:
    """Each look-up of a fact's field or kind by its bare name, as written."""
    for node in ast.walk(ast.parse(text)):
        match node:
            case ast.Call(func=ast.Attribute(attr=attr), args=[first, *_]) if attr in LOOKUPS:
                if is_word(first):
                    yield ast.unparse(node)
            case ast.Subscript(value=base, slice=index) if is_word(index):
                if getattr(base, "attr", "") not in NO_FACTS:
                    yield ast.unparse(node)
            case ast.Compare(left=ast.Attribute(attr="kind"), comparators=others):
                if any(is_word(other) for other in others):
                    yield ast.unparse(node)
            case ast.Attribute(attr="fields" | "detail") if not is_generic:
                yield ast.unparse(node)


@pytest.mark.parametrize("path", READERS, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_no_field_is_looked_up_by_a_bare_string(path):
    text = path.read_text(encoding="utf-8")
    assert list(lookups(text, is_generic=path.name in GENERIC)) == []


def test_what_makes_or_matches_facts_is_there():
    """A module that is let off and gone would let off another of its name."""
    assert {path.name for path in PATHS} >= MADE_HERE | GENERIC


@pytest.mark.parametrize(
    "text",
    [
        "test.text('minutes')", "part.number('value')", "findings.of('part')", "fact['name']",
        "dict(fact.fields)['name']", "fields.get('how', '')", "fact.kind == 'part'", "fact.fields",
        "test.detail['answers']", "store['max_volts'] > 0",
    ],
)  # fmt: skip
def test_a_look_up_is_told_from_what_is_none(text):
    assert list(lookups(text))


@pytest.mark.parametrize(
    "text",
    [
        "knowledge.numbers['touch-volts'].value", "fact('part', name=name)", "part.name",
        "self._chainers['survey']", "words.get(name)", "unit.knowledge.reaches['stage']",
        "mend.replace('name', 'x')", "place('rules', rule)",
    ],
)  # fmt: skip
def test_what_names_no_field_of_a_fact_is_none(text):
    assert list(lookups(text)) == []
