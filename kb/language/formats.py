"""The shape of the knowledge files as JSON Schema, for editors that complete and check in typing.

The schemas come from the pydantic classes of `kb.language.schema` and `kb.language.circuit`, and
the words that the shipped knowledge knows (kinds, places, facts with their fields) are put in as
proposals: an editor offers them, and a word of one's own is as welcome. JSON Schema, draft 2020-12
(json-schema.org/draft/2020-12). Each YAML file names its schema in its first line, in the comment
`yaml-language-server: $schema=...` that editors with a YAML language server read.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, TypeAdapter

from kb.language import descriptions
from kb.language.benchfile import ShopBench
from kb.language.circuit import Bench, CircuitData, Device
from kb.language.knowledge import Knowledge
from kb.language.loader import SECTIONS, SHIPPED
from kb.language.schema import Topology

DIALECT = "https://json-schema.org/draft/2020-12/schema"
FOLDER = SHIPPED / "schema"
_STEPS = ("survey", "offer", "suppose", "conclude")
_Plain = dict[str, Any]


def schemas(knowledge: Knowledge) -> Mapping[str, _Plain]:
    """Each kind of YAML file's schema, by the file name it is kept under."""
    return {
        "knowledge.json": _sections(knowledge),
        "topology.json": _topology(knowledge),
        "circuit.json": _of(CircuitData, "A circuit beside its netlist", "kb/circuits"),
        "devices.json": _of(
            dict[str, Device], "Kinds of part in a circuit", "kb/circuits", "devices"
        ),
        "bench.json": _of(Bench, "The bench around a circuit", "kb/circuits"),
        "answers.json": _answers(),
        "shop-bench.json": _shop_bench(knowledge),
    }


def text(schema: Mapping[str, Any]) -> str:
    """The schema as it is kept: indented, keys in the order made, one line feed at the end."""
    return json.dumps(schema, ensure_ascii=False, indent=1) + "\n"


def modeline(schema: str) -> str:
    """The first line that binds a YAML file to its schema, a path from the file's own folder."""
    return f"# yaml-language-server: $schema={schema}"


def _schema(shape: type[BaseModel]) -> _Plain:
    """The schema of a shape, with what each word says for the editor to show."""
    schema = TypeAdapter(shape).json_schema()
    for inner in descriptions.shapes_within(shape):
        record = schema if inner is shape else schema["$defs"][inner.__name__]
        for name, says in descriptions.of_words(inner).items():
            record["properties"][name]["description"] = says
    return schema


def _of(shape: Any, title: str, where: str, under: str = "") -> _Plain:
    schema = TypeAdapter(shape).json_schema(by_alias=True)
    if under:
        defs = schema.pop("$defs", {})
        schema = {
            "type": "object", "properties": {under: schema}, "required": [under],
            "additionalProperties": False, "$defs": defs,
        }  # fmt: skip
    return _with_head(schema, title, f"A file of {where}.")


def _with_head(schema: _Plain, title: str, description: str) -> _Plain:
    defs = schema.pop("$defs", {})
    schema.pop("title", None)
    schema.pop("description", None)
    head = {"$schema": DIALECT, "title": title, "description": description}
    return {**head, **schema, **({"$defs": defs} if defs else {})}


def _topology(knowledge: Knowledge) -> _Plain:
    schema = _schema(Topology)
    defs = schema["$defs"]
    _propose(defs["PartFact"], "kind", _words(knowledge.parts))
    _propose(defs["PartFact"], "place", _words(knowledge.place_words))
    _propose(defs["StageFact"], "kind", _words(knowledge.stages))
    hazards = {caution.hazard: caution.says for caution in knowledge.cautions.values()}
    _propose(defs["OpeningFact"]["properties"]["hazards"], "items", hazards)
    says = "One unit: stages, parts, openings, boards, test points."
    return _with_head(schema, "A topology", says)


def _sections(knowledge: Knowledge) -> _Plain:
    properties: _Plain = {
        "step": {"enum": list(_STEPS), "description": "the step of all rules of this file"}
    }
    defs: _Plain = {}
    for section, (_, entry) in SECTIONS.items():
        if section == "topologies":
            continue
        schema = _schema(entry)
        defs.update(schema.pop("$defs", {}))
        defs[entry.__name__] = schema
        properties[section] = {
            "type": "array",
            "items": {"$ref": f"#/$defs/{entry.__name__}"},
            "description": " ".join(descriptions.of_shape(entry).split()),
        }
    _rules(defs["Rule"], knowledge)
    defs["Clause"] = _clause(knowledge)
    places = _words(knowledge.place_words)
    defs["StageKind"]["properties"]["needs"]["items"] = _proposing(places)
    acts = sorted({mode.acts for kind in knowledge.parts.values() for mode in kind.modes.values()})
    _propose(defs["Mode"], "acts", dict.fromkeys(acts, ""))
    schema = {
        "type": "object", "properties": properties, "additionalProperties": False, "$defs": defs,
        "minProperties": 1,
    }  # fmt: skip
    return _with_head(schema, "Knowledge", "Sections of knowledge, each a list of entries.")


def _rules(rule: _Plain, knowledge: Knowledge) -> None:
    for name in ("when", "unless", "then"):
        rule["properties"][name]["items"] = {"$ref": "#/$defs/Clause"}
    rule["properties"]["step"] = {"enum": list(_STEPS), **_annotations(rule["properties"]["step"])}
    # the file may give the step for all its rules
    rule["required"] = [name for name in rule["required"] if name != "step"]


def _clause(knowledge: Knowledge) -> _Plain:
    kinds: _Plain = {}
    for name, kind in knowledge.facts.items():
        fields = {field: {"description": says} for field, says in kind.fields.items()}
        kinds[name] = {"type": "object", "description": kind.says, "properties": fields}
    for name, quantity in knowledge.quantities.items():
        texts = (f"{value}: {says}" for value, says in quantity.values.items())
        value = {"description": "; ".join(texts)}
        fields = {"at": {"description": "of what"}, "is": value}
        kinds[name] = {"type": "object", "description": quantity.says, "properties": fields}
    return {
        "type": "object", "minProperties": 1, "maxProperties": 1, "properties": kinds,
        "additionalProperties": {"type": "object"},
        "description": "one kind of fact or quantity, and those of its fields that matter",
    }  # fmt: skip


def _answers() -> _Plain:
    value = {"type": ["string", "number", "boolean"]}
    schema = {"type": "object", "additionalProperties": value}
    says = "Test or entry question, and the answer or reading it got."
    return _with_head(schema, "Answers", says)


def _shop_bench(knowledge: Knowledge) -> _Plain:
    schema = _schema(ShopBench)
    kinds = (knowledge.arrangements, knowledge.instruments)
    things = {name: says for kind in kinds for name, says in _words(kind).items()}
    for name in ("has", "lacks"):
        _propose(schema["properties"][name], "items", things)
    says = "What the bench of a shop has and lacks, its minutes, spares, and what they are worth."
    return _with_head(schema, "A shop's bench", says)


def _words(kinds: Mapping[str, Any]) -> dict[str, str]:
    return {name: kind.says for name, kind in kinds.items()}


def _propose(record: _Plain, name: str, words: Mapping[str, str]) -> None:
    """Let an editor offer these words for a property; others stay allowed."""
    holder = record if name == "items" else record["properties"]
    holder[name] = {**_proposing(words), **_annotations(holder[name])}


def _proposing(words: Mapping[str, str]) -> _Plain:
    choices = [
        {"const": word, **({"description": says} if says else {})} for word, says in words.items()
    ]
    return {"anyOf": [*choices, {"type": "string", "pattern": "^[A-Za-z0-9][A-Za-z0-9_.-]*$"}]}


def _annotations(schema: Mapping[str, Any]) -> _Plain:
    return {key: value for key, value in schema.items() if key in ("default", "description")}
