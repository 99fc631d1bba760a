"""Confirm steps of a chart document on the page: tests done once more on the line to a verdict.

The plan's own nodes stay; a line that has a confirm step leads to its first node instead. What such
a step shows has no odds of its own: by true readings it shows the same again.
"""

from __future__ import annotations

from collections.abc import Mapping

from engine.audit.arrival import Arrival, arrivals
from engine.audit.bench import Bench, Document, Floats

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


def arrived(
    bench: Bench, chart: Document, came: Mapping[str, Arrival]
) -> Mapping[str, tuple[Arrival, Floats]]:
    """What arrives at each node of the confirm steps, with the odds of each fault on its line."""
    found: dict[str, tuple[Arrival, Floats]] = {}
    for step in chart.get("confirm") or ():
        at = chart["nodes"][step["at"]]
        line = came[step["at"]].weights * bench.odds[at["test"]][step["outcome"]]
        end = {"kind": "recheck", "says": ""}
        small = {"root": step["root"], "nodes": {**step["nodes"], step["to"]: end}}
        here = arrivals(bench, small, frozenset(came[step["at"]].standings))
        found.update({name: (here[name], line) for name in step["nodes"]})
    return found
