"""What comes to the nodes of confirm steps, of which no odds of the plan tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from engine.chart import ways
from engine.chart.ways import Coming, Document, Odds


def comings(
    odds: Odds, chart: Document, came: Mapping[str, Coming]
) -> Mapping[str, Coming]:
    """What comes to each node of the confirm steps, with the odds of each fault on its line."""
    arrivals: dict[str, Coming] = {}
    for step in chart.get("confirm") or ():
        at = chart["nodes"][step["at"]]
        line = came[step["at"]].weights * odds.rows[at["test"]][step["outcome"]]
        end = {"kind": "recheck", "says": ""}
        small = {"root": step["root"], "nodes": {**step["nodes"], step["to"]: end}}
        here = ways.comings(odds, small, replace(came[step["at"]], weights=line))
        arrivals.update({name: replace(here[name], weights=line) for name in step["nodes"]})
    return arrivals
