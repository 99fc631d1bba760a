"""Confirm steps of a chart document: each a small chart of its own between an ask and a verdict.

Checked like the rest: pointers, set-up minutes, the state of the repeated test, safety. Their costs
under misreads are taken as told, but for their order.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from engine.audit.arrival import Arrival, Standing, arrivals, nodes_of
from engine.audit.bench import Bench, Document
from engine.audit.breach import TOLERANCE, Breach, near
from engine.audit.cost import setup_breaches, state_breaches
from engine.audit.safety import safety_breaches
from engine.audit.shape import shape_breaches


def confirm_breaches(
    bench: Bench, chart: Document, came: Mapping[str, Arrival]
) -> Iterator[Breach]:
    """Breaches of the confirm steps, if the chart has any; node names are theirs."""
    steps = chart.get("confirm", [])
    if not steps:
        return
    without = float(chart.get("expected_cost_with_misreads", "nan"))
    cost = float(chart.get("expected_cost_with_confirm", "nan"))
    if not cost <= without + TOLERANCE:
        yield Breach("AU502", "", f"confirmed it costs {cost:g}, without {without:g}")
    for step in steps:
        misplacements = tuple(_place_breaches(bench, chart, step, came))
        yield from misplacements
        if not misplacements:
            yield from _step_breaches(bench, step, chart["nodes"][step["at"]], came[step["at"]])


def _place_breaches(
    bench: Bench, chart: Document, step: Mapping[str, Any], came: Mapping[str, Arrival]
) -> Iterator[Breach]:
    """The step stands on a line to a verdict and repeats a test done on the way."""
    root = str(step.get("root"))
    at, back = chart["nodes"].get(step.get("at")), chart["nodes"].get(step.get("back"))
    if not at or not back or at["kind"] != "test" or back["kind"] != "test":
        yield Breach("AU501", root, "it stands at no test, or leads back to none")
        return
    if at["branches"].get(step.get("outcome")) != step.get("to"):
        yield Breach("AU501", root, "it is not on the line it names")
    tests = came[step["at"]].done | {at["test"]}
    if back["test"] != step.get("test") or step.get("test") not in tests:
        yield Breach("AU501", root, f"{step.get('test')!r} was not done on this path")
    for breach in shape_breaches(bench, _small(step)):
        yield Breach("AU501", breach.node or root, breach.what)


def _small(step: Mapping[str, Any]) -> dict[str, Any]:
    """The step as a chart; what comes after it is left open."""
    end = {"kind": "recheck", "says": "the chart goes on"}
    return {"root": step["root"], "nodes": {**step["nodes"], step["to"]: end}}


def _step_breaches(
    bench: Bench, step: Mapping[str, Any], at: Document, before: Arrival
) -> Iterator[Breach]:
    small = _small(step)
    cautions = frozenset(at["cautions"])
    first = frozenset(
        replace(s, since=s.now, minutes=0.0, cautions=s.cautions | cautions)
        for s in before.standings
    )
    came = arrivals(bench, small, first)
    for name, node, here in nodes_of(small, came, "setup"):
        yield from setup_breaches(bench, name, node, here)
    for name, node, here in nodes_of(small, came, "test"):
        yield from state_breaches(bench, name, node, here)
        if node["test"] != step["test"]:
            yield Breach("AU501", name, f"repeats {node['test']!r}, not {step['test']!r}")
        for standing in here.standings:
            yield from _minutes(bench, step, standing)
    yield from safety_breaches(bench, small, came)


def _minutes(bench: Bench, step: Mapping[str, Any], standing: Standing) -> Iterator[Breach]:
    minutes = float(bench.tests[step["test"]]["minutes"]) + standing.minutes
    if not near(float(step["minutes"]), minutes):
        what = f"says {step['minutes']} minutes, recomputed {minutes:g}"
        yield Breach("AU502", step["root"], what)
