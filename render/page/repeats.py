"""Confirm steps of a chart document on the page: tests done once more on the line to a verdict.

The plan's own nodes stay; a line that has a confirm step leads to its first node instead. What such
a step shows has no odds of its own: by true readings it shows the same again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from engine.chart import ways
from engine.chart.ways import Coming, Document, Odds

KIND = "third"


def laid_in(chart: Document) -> dict[str, Document]:
    """The chart's nodes with those of its confirm steps, each on its line.

    What is left when the test was told otherwise becomes a node of kind `third`, with `told` (the
    outcome that agrees with the verdict), `to`, `back` and `test`.
    """
    nodes: dict[str, Document] = dict(chart["nodes"])
    for step in chart.get("confirm") or ():
        at = nodes[step["at"]]
        nodes[step["at"]] = {**at, "branches": {**at["branches"], step["outcome"]: step["root"]}}
        nodes.update({name: _placed(node, step) for name, node in step["nodes"].items()})
    return nodes


def _placed(node: Document, step: Document) -> Document:
    if node["kind"] != "recheck":
        return {**node, "again": step["back"]}
    told = next(
        outcome
        for asked in step["nodes"].values()
        if asked["kind"] == "test"
        for outcome, to in asked["branches"].items()
        if to == step["to"]
    )
    return {**node, "kind": KIND, "told": told, **{k: step[k] for k in ("to", "back", "test")}}


def comings(
    odds: Odds, chart: Document, came: Mapping[str, Coming]
) -> Mapping[str, Coming]:
    """What comes to each node of the confirm steps, with the odds of each fault on its line."""
    found: dict[str, Coming] = {}
    for step in chart.get("confirm") or ():
        at = chart["nodes"][step["at"]]
        line = came[step["at"]].weights * odds.rows[at["test"]][step["outcome"]]
        end = {"kind": "recheck", "says": ""}
        small = {"root": step["root"], "nodes": {**step["nodes"], step["to"]: end}}
        here = ways.comings(odds, small, replace(came[step["at"]], weights=line))
        found.update({name: replace(here[name], weights=line) for name in step["nodes"]})
    return found
