"""Do the JSON Schemas say what the program takes, and does every file name its own?

The judge is the library jsonschema, which knows nothing of our classes.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from kb.language import formats
from tests.docs.printouts import documents
from tests.docs.schemas import bound, line_of, made

FILES = [pytest.param(path, schema, id=path.name) for path, schema in bound()]
TOPOLOGY: dict[str, Any] = {
    "topology": "porch-lamp",
    "says": "Porch lamp",
    "source": "made up for a test",
    "stages": {
        "leds": {"kind": "led-string", "parts": {"LED": {"kind": "led-package", "place": "lights"}}}
    },
}  # fmt: skip
RULE = {"id": "r", "says": "A sentence.", "step": "offer", "source": "made up",
        "when": [{"head": {"of": "unit"}}],
        "then": [{"volts": {"at": "n0", "is": "none"}}]}  # fmt: skip


def kept(name: str) -> Any:
    """A schema as it is committed."""
    return json.loads((formats.FOLDER / name).read_text(encoding="utf-8"))


def wrong(name: str, content: Any) -> list[str]:
    """Where a schema refuses a document."""
    found = Draft202012Validator(kept(name)).iter_errors(content)
    return sorted({"/".join(str(step) for step in error.path) for error in found})


def test_each_schema_is_as_the_classes_and_the_knowledge_make_it() -> None:
    """`python -m tests.docs.refresh` writes them anew."""
    on_disk = {path.name: path.read_text("utf-8") for path in formats.FOLDER.glob("*.json")}
    assert on_disk == {name: formats.text(schema) for name, schema in made().items()}


@pytest.mark.parametrize("name", sorted(made()))
def test_each_schema_is_one(name: str) -> None:
    """By the meta-schema of the draft."""
    Draft202012Validator.check_schema(kept(name))
    assert kept(name)["$schema"] == formats.DIALECT


@pytest.mark.parametrize(("path", "schema"), FILES)
def test_each_file_names_its_schema_in_its_first_line(path: Path, schema: str) -> None:
    """By a way that leads there."""
    first = path.read_text(encoding="utf-8").splitlines()[0]
    assert first == line_of(path, schema)
    assert (path.parent / first.partition("$schema=")[2]).resolve() == formats.FOLDER / schema


@pytest.mark.parametrize(("path", "schema"), FILES)
def test_each_shipped_file_keeps_to_its_schema(path: Path, schema: str) -> None:
    """As an editor would see it."""
    assert wrong(schema, YAML(typ="safe").load(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize(
    ("at", "change"),
    [
        ("stages/leds", {"stages": {"leds": {"kind": "led-string"}}}),
        ("", {"stagse": {}}),
        ("unit_minutes", {"unit_minutes": "ninety"}),
        ("points/TP1/side", {"points": {"TP1": {"stage": "leds", "side": "left", "says": "here"}}}),
        (
            "openings/lid/minutes",
            {"openings": {"lid": {"minutes": -1, "says": "lift", "how": "up."}}},
        ),
    ],
)  # fmt: skip
def test_a_bad_topology_is_refused_where_it_is_bad(at: str, change: dict[str, Any]) -> None:
    """A lacking word, an unknown one, text for a number, an unknown side, minutes below zero."""
    assert wrong("topology.json", TOPOLOGY) == []
    assert wrong("topology.json", {**TOPOLOGY, **change}) == [at]


@pytest.mark.parametrize(
    ("at", "rule"),
    [
        ("rules/0", {key: value for key, value in RULE.items() if key != "source"}),
        ("rules/0/step", {**RULE, "step": "later"}),
        ("rules/0/when/0", {**RULE, "when": [{"head": {}, "point": {}}]}),
        ("rules/0/when", {**RULE, "when": []}),
        ("rules/0", {**RULE, "because": "so"}),
    ],
)
def test_a_bad_rule_is_refused_where_it_is_bad(at: str, rule: dict[str, Any]) -> None:
    """No source, no known step, two facts in one line, no condition, an unknown word."""
    assert wrong("knowledge.json", {"rules": [RULE]}) == []
    assert wrong("knowledge.json", {"rules": [rule]}) == [at]


def test_a_word_of_ones_own_is_as_welcome_as_a_shipped_one() -> None:
    """Kinds are proposed, never prescribed."""
    part = {"kind": "own", "place": "own"}
    own = {"stages": {"leds": {"kind": "own-stage", "parts": {"X": part}}}}
    assert wrong("topology.json", {**TOPOLOGY, **own}) == []
    rule = {**RULE, "when": [{"own-fact": {"of": "$x"}}]}
    assert wrong("knowledge.json", {"rules": [rule]}) == []


@pytest.fixture(scope="module")
def printed() -> dict[str, Any]:
    """The three documents, printed once."""
    return documents()


@pytest.mark.parametrize("kind", ["model", "chart", "walk"])
def test_a_printed_document_keeps_to_its_schema(printed: dict[str, Any], kind: str) -> None:
    """Every key of it."""
    assert wrong(f"{kind}.json", printed[kind]) == []


@pytest.mark.parametrize(
    ("kind", "key", "value"),
    [
        ("model", "format", "nextprobe-model/9"),
        ("model", "tests", [{"id": "only-a-name"}]),
        ("chart", "nodes", {"n1": {"kind": "rest", "says": "sit down"}}),
        ("walk", "verdict", {"remedy": "scrap"}),
    ],
)
def test_a_document_of_another_shape_is_refused(
    printed: dict[str, Any], kind: str, key: str, value: Any
) -> None:
    """Another format, a test that is only a name, a node of no kind, a verdict without odds."""
    assert wrong(f"{kind}.json", {**printed[kind], key: value})
