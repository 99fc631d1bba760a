"""The checker that is not the maker: plan and walk documents recomputed from the model document.

It works on the two plain JSON documents alone and knows nothing of planner, set-up module or chart
writer; what it recomputes, a third party can recompute the same way.

| code | breach | code | breach |
|---|---|---|---|
| AU101 | header: key missing, differs from the model | AU206 | reach, or reaches not summing to 1 |
| AU102 | node of unknown kind or without a key | AU207 | expected minutes |
| AU103 | pointer to a node that is not there | AU208 | expected cost |
| AU104 | circle of nodes | AU209 | lower bound above cost, or a proof with a gap |
| AU105 | node nobody can reach | AU210 | a cheaper remedy for these odds |
| AU106 | name the model does not have | AU211 | set-up by a detour |
| AU107 | branches are not the test's outcomes | AU301 | hands-on where hands may not touch |
| AU108 | test twice on one path | AU302 | touchable above 60 V DC, or on mains |
| AU109 | recheck for what can be, or none for what can't | AU303 | opened on a closed-only supply |
| AU201 | set-up minutes | AU304 | opening or hands-on rig not at the dead supply |
| AU202 | set-up that changes nothing, or opens anew | AU305 | store not measured when due |
| AU203 | test outside its state | AU306 | hazard or step without its caution |
| AU204 | fault arrives at a verdict that hides it | AU307 | live LED board unsaid |
| AU205 | odds at a verdict | AU308 | repair without proofs, or not closed up last |
| AU401 | walk: shape and names | AU309 | proof against the supply rules |
| AU402 | walk: minutes | AU310 | opening before what it needs |
| AU403 | walk: openings undone | AU404 | walk: verdict |
| AU405 | walk: belief after an answer | AU406 | walk: factors of a reading |
| AU407 | walk: factors that the readings don't give | AU501 | confirm step: place and pointers |
| AU502 | confirm step: minutes and costs | AU311 | limit or volts of a store |
| AU312 | store asked for out of reach | AU313 | a short that was found is energised |
| AU314 | caution said to stand, not told | AU408 | walk: on from a bench that was left |
| AU315 | remedy before what it requires | AU316 | test before what it requires |
| AU212 | what a node says of going on | AU409 | walk: unit said to be unlike those known |
| AU213 | what a node says of comparing with a good unit | | |

Numbers agree within 1e-6. Time: nodes x faults for the arrivals, nodes x (states a node is reached
in) for the rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from engine.audit.arrival import arrivals
from engine.audit.bench import Bench
from engine.audit.breach import Breach
from engine.audit.confirm import confirm_breaches
from engine.audit.cost import cost_breaches
from engine.audit.onward import onward_breaches
from engine.audit.readings import reading_breaches
from engine.audit.requisites import requirement_breaches
from engine.audit.safety import proof_breaches, safety_breaches, supply_breaches
from engine.audit.shape import as_carried, header_breaches, shape_breaches
from engine.audit.steps import walk_breaches

__all__ = ["Breach", "audit", "audit_walk"]


def audit(
    model_document: Mapping[str, Any],
    chart_document: Mapping[str, Any],
    second_model: Mapping[str, Any] | None = None,
) -> tuple[Breach, ...]:
    """All breaches of a chart document against its model document; empty when all is well.

    A chart with a second START is held against the model documents of both; that of the second is
    `second_model`. Model documents are taken as valid (`engine.model.file` sees to that). A chart
    whose nodes do not hang together is not reckoned with: only that is reported.
    """
    breaches = _chart_breaches(model_document, chart_document)
    inner = chart_document.get("second")
    if inner is None:
        return breaches
    if second_model is None or not isinstance(inner, Mapping) or "chart" not in inner:
        what = "a second START without a chart, or without the model document that it is made from"
        return (*breaches, Breach("AU101", "", what))
    return (*breaches, *_second(chart_document, inner["chart"], second_model))


def _second(
    first: Mapping[str, Any], chart: Mapping[str, Any], model: Mapping[str, Any]
) -> Iterator[Breach]:
    """Breaches of a second START: its own, and where it is none of the first one's unit."""
    for key in ("topology", "mains", "knowledge"):
        if chart.get(key) != first.get(key):
            yield Breach("AU101", "", f"the second START is of another {key} than the first")
    if set(chart["nodes"]) & set(first["nodes"]):
        yield Breach("AU101", "", "both STARTs have nodes of one name")
    yield from _chart_breaches(model, chart)


def _chart_breaches(
    model_document: Mapping[str, Any], chart_document: Mapping[str, Any]
) -> tuple[Breach, ...]:
    model_document, another_model = as_carried(model_document, chart_document)
    bench = Bench.of(model_document)
    shape = tuple(shape_breaches(bench, chart_document))
    header = (*header_breaches(model_document, chart_document), *another_model)
    if shape or any(breach.what.startswith("the chart lacks") for breach in header):
        return (*header, *shape)
    came = arrivals(bench, chart_document)
    return (
        *header,
        *cost_breaches(bench, chart_document, came),
        *supply_breaches(bench),
        *safety_breaches(bench, chart_document, came),
        *requirement_breaches(bench, chart_document),
        *onward_breaches(bench, chart_document),
        *proof_breaches(bench, chart_document),
        *confirm_breaches(bench, chart_document, came),
    )


def audit_walk(
    model_document: Mapping[str, Any],
    walk_document: Mapping[str, Any],
    readings_document: Mapping[str, Any] | None = None,
    beyond: Sequence[Mapping[str, Any]] = (),
) -> tuple[Breach, ...]:
    """All breaches of a walk document against its model document; empty when all is well.

    With a readings document (`kb/readings`) the factors of its readings are recomputed, too, but
    for cells that `beyond` (pairs of `faults` and `tests`, of the circuit's data) argues away.
    Breach.node is the number of the step, from 1, or empty.
    """
    model_document, another_model = as_carried(model_document, walk_document)
    bench = Bench.of(model_document)
    breaches = (*another_model, *walk_breaches(bench, walk_document))
    if readings_document is None or any(breach.code == "AU401" for breach in breaches):
        return breaches
    return (*breaches, *reading_breaches(bench, walk_document, readings_document, beyond))
