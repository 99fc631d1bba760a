"""Knowledge and program keep apart: rules name no unit, topologies no odds, Python no parts."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from kb.language import loader

ROOT = Path(loader.SHIPPED).parent
DESIGNATOR = re.compile(r"\b(?:BR|RV|TP|[RCDQULJ])\d+[A-Z]?\b")
ODDS = {"share", "odds", "by", "prior", "weight", "probability", "likelihood", "proneness"}
# Fields of facts that name a hypothesis, a test, a remedy or a part: rules may only hand them on.
NAMING = {
    ("fault", "name"), ("fault", "part"), ("test", "name"), ("test", "on"), ("pair", "fault"),
    ("in-use", "fault"), ("weigh", "fault"), ("cures", "fault"), ("errs", "test"),
    ("handled", "test"), ("part", "name"), ("condition", "part"), ("way", "part"),
    ("hangs", "part"), ("passes", "part"), ("mode", "part"), ("stage", "name"), ("point", "name"),
}  # fmt: skip


@cache
def knowledge():
    return loader.read()


RULES = list(knowledge().rules.values())
TOPOLOGIES = sorted((loader.SHIPPED / "topologies").glob("*.yaml"))


def constants(value):
    """Every text in a rule's clause that is neither a variable nor an expression."""
    if isinstance(value, str):
        if value[:1] != "$" and not value.startswith("= "):
            yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from constants(inner)
    elif isinstance(value, (list, tuple)):
        for inner in value:
            yield from constants(inner)


def texts(rule):
    return [text for part in (rule.when, rule.unless, rule.then) for text in constants(list(part))]


def asked(rule):
    """What a rule's conditions ask for: (kind, field, constants)."""
    for clause in (*rule.when, *rule.unless):
        for kind, fields in clause.items():
            for name, wanted in fields.items():
                yield kind, name, list(constants(wanted))


def test_no_rule_names_a_topology():
    known = set(knowledge().topologies)
    assert [rule.id for rule in RULES if known & set(texts(rule))] == []


def test_no_rule_names_a_part_or_test_point_of_a_unit():
    assert [(r.id, t) for r in RULES for t in texts(r) if DESIGNATOR.search(t)] == []


def test_no_rule_asks_for_a_stage_of_a_unit():
    """But for kinds of stage, which some units call their stages by."""
    stages = {name for topology in knowledge().topologies.values() for name in topology.stages}
    named = stages - set(knowledge().stages)
    assert [
        (rule.id, kind, name) for rule in RULES for kind, name, told in asked(rule)
        if name in ("stage", "other", "next") and named & set(told)
    ] == []  # fmt: skip


def test_no_rule_asks_for_a_fault_test_or_part_by_name():
    """Only a rule that offers a thing may name it; what it asks for it asks by nature."""
    assert [
        (rule.id, kind, name) for rule in RULES for kind, name, told in asked(rule)
        if (kind, name) in NAMING and told not in ([], ["none"])
    ] == []  # fmt: skip


def test_no_rule_ties_a_fault_to_a_test():
    """A fault-by-test table could hide in conclusions that name both."""
    assert [
        (rule.id, kind) for rule in RULES for clause in rule.then for kind, told in clause.items()
        if {"test", "fault"} <= set(told)
    ] == []  # fmt: skip


@pytest.mark.parametrize("path", TOPOLOGIES, ids=lambda path: path.stem)
def test_a_topology_holds_no_odds(path):
    def words(node):
        if isinstance(node, dict):
            for key, inner in node.items():
                yield str(key)
                if key != "found":  # how a part is found on its board has a `by` of its own
                    yield from words(inner)
        elif isinstance(node, list):
            for inner in node:
                yield from words(inner)

    assert not ODDS & set(words(YAML(typ="safe").load(path.read_text(encoding="utf-8"))))


def test_everything_said_to_be_so_has_a_source():
    known = knowledge()
    sources = {f"rule {rule.id}": rule.source for rule in RULES}
    sources |= {f"caution {c.id}": c.source for c in known.cautions.values()}
    sources |= {f"number {n.number}": n.source for n in known.numbers.values()}
    sources |= {f"topology {t.topology}": t.source for t in known.topologies.values()}
    for kind in known.parts.values():
        sources[f"part {kind.kind}"] = kind.proneness_source
        sources |= {f"mode {kind.kind} {n}": mode.source for n, mode in kind.modes.items()}
    assert [name for name, source in sources.items() if len(source) < 5] == []


def odds_of(rule):
    return [
        name for clause in rule.then for fields in clause.values() for name in fields
        if name in ("odds", "share", "by")
    ]  # fmt: skip


def test_odds_in_a_rule_say_where_they_come_from_or_that_they_have_no_source():
    assert [rule.id for rule in RULES if odds_of(rule) and rule.source == "common practice"] == []


def literals(path):
    """Text constants of a module that are neither docstrings nor parts of f-strings."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    docstrings = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef))
        and node.body and isinstance(node.body[0], ast.Expr)
    }  # fmt: skip
    for node in ast.walk(tree):
        text = isinstance(node, ast.Constant) and isinstance(node.value, str)
        if text and id(node) not in docstrings:
            yield node.value


# Plain words of the program that some kind happens to share: a joint hypothesis names two parts.
SHARED_WORDS = {"joint"}
PYTHON = [
    path for path in sorted((ROOT / "engine").rglob("*.py"))
    if path.relative_to(ROOT).parts[1] not in ("calc", "electrics")
]  # fmt: skip


def test_python_names_no_kind_topology_or_rule():
    """But for the reckoning of circuits, which is told what a thing is by whoever asks."""
    known = knowledge()
    names = {*known.parts, *known.stages, *known.topologies, *known.rules} - SHARED_WORDS
    assert [(path.name, names & set(literals(path))) for path in PYTHON
            if names & set(literals(path))] == []  # fmt: skip
