"""Confirm steps written out for a chart document, as set-ups and tests of their own.

`confirm_keys` gives the keys to put into a document `nextprobe-chart/1`. The proved plan's nodes
stay as they are; each step says on which line it comes in:

    "expected_cost_with_misreads": 12.0, "expected_cost_with_confirm": 8.86,
    "confirm": [{"at": "n8", "outcome": "dark", "to": "n13", "back": "n8",
                 "minutes": 2.0, "saves": 0.4, "root": "c1",
                 "nodes": {"c1": {"kind": "test", "test": "...", "cautions": [],
                                  "branches": {"dark": "n13", "lit": "c2"}},
                           "c2": {"kind": "recheck", "says": "..."}}}]
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from engine.chart import drawing
from engine.chart.confirm import Confirm, Confirmed, confirms
from engine.model import makesafe
from engine.model.plan import Ask, Plan, Recheck
from engine.model.records import Model
from engine.model.setup import reach

Document = Mapping[str, Any]

_AGREED = "agreed"
_OTHERWISE = "otherwise"


def document_with_confirm(model: Model, plan: Plan) -> dict[str, Any]:
    """The chart document of a plan with the confirm steps that pay, from the model's start."""
    chart = drawing.document(drawing.draw_up(model, plan))
    return chart | confirm_keys(model, plan, confirms(model, plan), chart)


def confirm_keys(model: Model, plan: Plan, outlook: Confirmed, chart: Document) -> dict[str, Any]:
    """The keys that confirm steps add to the chart document drawn from the plan."""
    places = _places(plan, chart)
    first = 1
    steps = []
    for confirm in outlook.confirms:
        step = _step(model, plan, confirm, chart, places, first)
        first += len(step["nodes"])
        steps.append(step)
    return {
        "expected_cost_with_misreads": outlook.expected_cost_with_misreads,
        "expected_cost_with_confirm": outlook.expected_cost_with_confirm,
        "confirm": steps,
    }


def _places(plan: Plan, chart: Document) -> dict[str, str]:
    """The chart node of each plan node: both are walked side by side, set-ups passed over."""
    places: dict[str, str] = {}
    ahead = [(plan.root, str(chart["root"]))]
    while ahead:
        name, place = ahead.pop()
        while chart["nodes"][place]["kind"] == "setup":
            place = chart["nodes"][place]["next"]
        if name in places:
            continue
        places[name] = place
        node = plan.nodes[name]
        if isinstance(node, Ask):
            branches = chart["nodes"][place]["branches"]
            ahead.extend((follower, branches[o]) for o, follower in node.branches.items())
    return places


def _step(
    model: Model,
    plan: Plan,
    confirm: Confirm,
    chart: Document,
    places: Mapping[str, str],
    first: int,
) -> dict[str, Any]:
    """One step as a small chart of its own: set-ups, the test, and what to do if told otherwise."""
    ask = plan.nodes[confirm.ask]
    assert isinstance(ask, Ask)
    here = chart["nodes"][places[confirm.ask]]
    back, verdict = places[confirm.back], here["branches"][confirm.outcome]
    says = (
        f"Told otherwise than before: do it a third time. What came twice counts: "
        f"{confirm.told}, go to {verdict}; else go on from {back} by what came twice."
    )
    branches = {
        outcome.id: _AGREED if outcome.id == confirm.told else _OTHERWISE
        for outcome in model.test(confirm.test).outcomes
    }
    again = Ask(confirm.test, reach(model, ask.state, model.test(confirm.test)), branches)
    small = Plan(
        "again",
        {"again": again, _AGREED: Recheck(_AGREED), _OTHERWISE: Recheck(says)},
        plan.proof,
    )
    outset = drawing.Outset(
        ask.state,
        makesafe.known_at(model, ask.state),
        frozenset((*here["cautions"], *here["standing"])),
    )
    small_chart = drawing.document(drawing.draw_up(model, small, outset))
    keys = _rename(small_chart, verdict, first)
    return {
        "at": places[confirm.ask],
        "outcome": confirm.outcome,
        "to": verdict,
        "back": back,
        "test": confirm.test,
        "minutes": confirm.minutes,
        "saves": confirm.saves,
        **keys,
    }


def _rename(small_chart: Document, verdict: str, first: int) -> dict[str, Any]:
    """Root and nodes of a small chart with names of their own; agreement leads to the verdict."""
    agreements = {
        name for name, node in small_chart["nodes"].items() if node.get("says") == _AGREED
    }
    others = [name for name in small_chart["nodes"] if name not in agreements]
    names = {name: f"c{number}" for number, name in enumerate(others, start=first)}
    names |= dict.fromkeys(agreements, verdict)
    nodes = {}
    for name in others:
        node = dict(small_chart["nodes"][name])
        if "next" in node:
            node["next"] = names[node["next"]]
        if "branches" in node:
            node["branches"] = {o: names[to] for o, to in node["branches"].items()}
        nodes[names[name]] = node
    return {"root": names[small_chart["root"]], "nodes": nodes}
