"""Whether a chart document hangs together: keys, pointers, names, branches, circles.

Which keys there must be is read off the records of the document. What they must say is not: that
stands in the audit alone.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from typing import Any, get_origin

from engine.audit.bench import Bench, Document
from engine.audit.breach import Breach
from engine.documents.chart import (
    FORMAT,
    RecheckNode,
    SetupNode,
    Start,
    TestNode,
    VerdictNode,
)
from engine.documents.record import Record
from engine.model.file import read_model
from engine.model.records import document, document_sha256
from kb.trouble import TroubleError

_RECORDS: Mapping[str, type[Record]] = {
    "setup": SetupNode,
    "test": TestNode,
    "verdict": VerdictNode,
    "recheck": RecheckNode,
}
_JSON: Mapping[Any, type | tuple[type, ...]] = {
    float: (int, float),
    int: (int, float),
    tuple: list,
    Mapping: dict,
}
"""How the values of a record stand in decoded JSON; others as they are."""


def _mandatory_keys(record: type[Record]) -> dict[str, type | tuple[type, ...]]:
    """The keys that a record can't do without, and what their values are in decoded JSON."""
    kinds: dict[str, Any] = {
        key: get_origin(field.annotation) or field.annotation
        for key, field in record.model_fields.items()
        if field.is_required()
    }
    return {key: _JSON.get(kind, kind) for key, kind in kinds.items()}


_KEYS = {
    kind: {key: json for key, json in _mandatory_keys(record).items() if key != "kind"}
    for kind, record in _RECORDS.items()
}
_START = _mandatory_keys(Start)
_FIGURES = tuple(key for key, kind in _START.items() if kind == (int, float))
_HEADER = tuple(key for key in _START if key not in (*_FIGURES, "format", "nodes"))


def header_breaches(model: Document, chart: Document) -> Iterator[Breach]:
    """Header keys that are missing or that name another model."""
    if chart.get("format") != FORMAT:
        yield Breach("AU101", "", f"the format is {chart.get('format')!r}, not {FORMAT!r}")
    for key in _HEADER:
        if key not in chart:
            yield Breach("AU101", "", f"the chart lacks {key!r}")
    for key in _FIGURES:
        if not _is_number(chart.get(key)):
            yield Breach("AU101", "", f"the chart lacks a number {key!r}")
    for key in ("topology", "mains", "depth", "complaint"):
        if key in chart and chart[key] != model.get(key):
            yield Breach(
                "AU101", "", f"{key!r} is {chart[key]!r}, the model has {model.get(key)!r}"
            )


def as_carried(model: Document, other: Document) -> tuple[Document, tuple[Breach, ...]]:
    """The form of a model document that a chart or walk was made from, by the hash it carries; and
    the breach where that is the hash of another model.

    It is the document as given, or as printed again by who read it: with every default written
    out, and a document from elsewhere held to the laws of `engine.model.file`.
    """
    carried_hash = other.get("model_sha256")
    if carried_hash is None or carried_hash == document_sha256(model):
        return model, ()
    another = Breach("AU101", "", "the model's hash is not the one carried: it is another model")
    try:
        again = document(read_model(json.dumps(model), "model"))
    except TroubleError:
        return model, (another,)
    return (again, ()) if carried_hash == document_sha256(again) else (model, (another,))


def shape_breaches(bench: Bench, chart: Document) -> Iterator[Breach]:
    """Breaches that make reckoning with the chart pointless."""
    nodes = chart.get("nodes")
    if not isinstance(nodes, Mapping) or chart.get("root") not in nodes:
        yield Breach("AU103", "", "the root is not among the nodes")
        return
    misshapen = tuple(_node_breaches(nodes))
    yield from misshapen
    if misshapen:
        return
    for name, node in nodes.items():
        yield from _names(bench, name, node)
        yield from _comparison(bench, name, node)
    order = in_order(chart)
    if order is None:
        yield Breach("AU104", "", "the nodes run in a circle")
        return
    for name in nodes.keys() - set(order):
        yield Breach("AU105", name, "no path leads here")


def following(node: Document) -> tuple[str, ...]:
    """The nodes a node points to."""
    if node["kind"] == "setup":
        return (str(node["next"]),)
    return tuple(node["branches"].values()) if node["kind"] == "test" else ()


def in_order(chart: Document) -> tuple[str, ...] | None:
    """Nodes reachable from the root, each after all that point to it; None if they circle.

    Depth-first search, reversed finishing order (Cormen et al., topological sort); linear.
    """
    nodes: Mapping[str, Any] = chart["nodes"]
    order: list[str] = []
    state: dict[str, bool] = {chart["root"]: False}
    stack = [(chart["root"], iter(following(nodes[chart["root"]])))]
    while stack:
        name, ahead = stack[-1]
        for follower in ahead:
            if follower not in state:
                state[follower] = False
                stack.append((follower, iter(following(nodes[follower]))))
                break
            if not state[follower]:
                return None
        else:
            state[name] = True
            order.append(name)
            stack.pop()
    return tuple(reversed(order))


def _is_number(value: object) -> bool:
    usable = isinstance(value, (int, float)) and not isinstance(value, bool)
    return usable and math.isfinite(value)  # type: ignore[arg-type]


def _node_breaches(nodes: Mapping[str, Any]) -> Iterator[Breach]:
    for name, node in nodes.items():
        keys = _KEYS.get(str(node.get("kind"))) if isinstance(node, Mapping) else None
        if keys is None:
            yield Breach("AU102", name, "the node is of no known kind")
            continue
        lacking = [key for key, kind in keys.items() if not isinstance(node.get(key), kind)]
        for key in lacking:
            yield Breach("AU102", name, f"{key!r} is missing or of the wrong kind")
        if lacking:
            continue
        for follower in following(node):
            if follower not in nodes:
                yield Breach("AU103", name, f"points to {follower!r}, which is not there")


def _comparison(bench: Bench, name: str, node: Document) -> Iterator[Breach]:
    """A test node says that its bands are one make's where the model does, and only there."""
    test = bench.tests.get(str(node.get("test"))) if node.get("kind") == "test" else None
    if test is not None and bool(node.get("compare")) != bool(test.get("compare")):
        yield Breach("AU213", name, "what it says of comparing with a good unit is not the model's")


def _names(bench: Bench, name: str, node: Document) -> Iterator[Breach]:
    """Names at a node that the model does not have, and branches that are not its outcomes."""
    mentions: list[tuple[str, str, Mapping[str, Any]]] = [
        ("caution", caution, bench.cautions) for caution in node.get("cautions", ())
    ]
    if node["kind"] == "setup":
        mentions += [("opening", opening, bench.openings) for opening in node["open"]]
        mentions += [
            ("supply", node["supply"], bench.arrangements),
            ("rig", node["rig"], bench.rigs),
        ]
    elif node["kind"] == "test":
        mentions.append(("test", node["test"], bench.tests))
    elif node["kind"] == "verdict":
        mentions.append(("remedy", node["remedy"], bench.remedies))
        faults = dict.fromkeys(bench.faults)
        mentions += [("fault", fault["id"], faults) for fault in node["faults"]]
    unknown = [(kind, word) for kind, word, names in mentions if word not in names]
    for kind, word in unknown:
        yield Breach("AU106", name, f"the model has no {kind} {word!r}")
    if node["kind"] == "test" and not unknown:
        outcomes = bench.odds[node["test"]].keys()
        if node["branches"].keys() != outcomes:
            yield Breach("AU107", name, f"branches are not the outcomes {', '.join(outcomes)}")
