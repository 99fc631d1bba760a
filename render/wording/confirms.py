"""Confirm steps of a chart document on their lines: tests done once more on the way to a verdict.

The plan's own nodes stay; a line that has a confirm step leads to its first node instead. What such
a step shows has no odds of its own: by true readings it shows the same again.
"""

from __future__ import annotations

from collections.abc import Mapping

from engine.chart.ways import Document

THIRD, CONFIRM = "third", "confirm"


def with_confirms(chart: Document) -> dict[str, Document]:
    """The chart's nodes with those of its confirm steps, each step on its line.

    A test done once more says with `again` which node it repeats. What is left when it was told
    otherwise becomes a node of kind `third`, with `told` (the outcomes that agree with the
    verdict), `to` (the verdict), `back` (the node repeated) and `test`.
    """
    nodes: dict[str, Document] = dict(chart["nodes"])
    for step in chart.get("confirm") or ():
        at = nodes[step["at"]]
        nodes[step["at"]] = {**at, "branches": {**at["branches"], step["outcome"]: step["root"]}}
        nodes.update({name: _on_its_line(node, step) for name, node in step["nodes"].items()})
    return nodes


def _on_its_line(node: Document, step: Document) -> Document:
    if node["kind"] == "test":
        return {**node, "again": step["back"]}
    if node["kind"] != "recheck":
        return node
    tests = [one for one in step["nodes"].values() if one["kind"] == "test"]
    agreeing = tuple(
        outcome
        for test in tests
        for outcome, to in test["branches"].items()
        if to == step["to"]
    )
    third = {"test": tests[0]["test"], "to": step["to"], "back": step["back"]}
    return {**node, "kind": THIRD, "told": agreeing, **third}


def confirms_folded(nodes: Mapping[str, Document]) -> dict[str, Document]:
    """Each test done once more as one symbol with what follows where it is told otherwise.

    It becomes a node of kind `confirm`: `told` are the outcomes that agree with the verdict `next`,
    `back` is the test where to go on from if another came twice.
    """
    symbols: dict[str, Document] = {}
    for name, node in nodes.items():
        if "again" in node:
            third = next(
                nodes[to] for to in node["branches"].values() if nodes[to]["kind"] == THIRD
            )
            bare = {key: node[key] for key in node if key not in ("branches", "again")}
            step = {"told": third["told"], "next": third["to"], "back": third["back"]}
            symbols[name] = {**bare, "kind": CONFIRM, **step}
        elif node["kind"] != THIRD:
            symbols[name] = node
    return symbols
