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
from engine.chart.confirm import Confirm, Confirmation, confirms
from engine.documents.chart import Chart, ChartNode, ConfirmStep, RecheckNode, led_by
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


def confirm_keys(
    model: Model, plan: Plan, confirmation: Confirmation, chart: Document
) -> dict[str, Any]:
    """The keys that confirm steps add to the chart document drawn from the plan."""
    places = _places(plan, chart)
    first = 1
    steps: list[ConfirmStep] = []
    for confirm in confirmation.confirms:
        step = _step(model, plan, confirm, chart, places, first)
        first += len(step.nodes)
        steps.append(step)
    return {
        "expected_cost_with_misreads": confirmation.expected_cost_with_misreads,
        "expected_cost_with_confirm": confirmation.expected_cost_with_confirm,
        "confirm": [step.plain() for step in steps],
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
) -> ConfirmStep:
    """One step as a small chart of its own: set-ups, the test, and what to do if told otherwise."""
    ask = plan.nodes[confirm.ask]
    assert isinstance(ask, Ask)
    here = chart["nodes"][places[confirm.ask]]
    back, verdict = places[confirm.back], here["branches"][confirm.outcome]
    says = (
        f"Told otherwise than before: do it a third time. What came twice counts: "
        f"{confirm.first}, go to {verdict}; else go on from {back} by what came twice."
    )
    branches = {
        outcome.id: _AGREED if outcome.id == confirm.first else _OTHERWISE
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
    root, nodes = _rename(drawing.draw_up(model, small, outset), verdict, first)
    return ConfirmStep(
        at=places[confirm.ask],
        outcome=confirm.outcome,
        to=verdict,
        back=back,
        test=confirm.test,
        minutes=confirm.minutes,
        saves=confirm.saves,
        root=root,
        nodes=nodes,
    )


def _rename(small: Chart, verdict: str, first: int) -> tuple[str, dict[str, ChartNode]]:
    """Root and nodes of a small chart with names of their own; agreement leads to the verdict."""
    agreement = {
        name
        for name, node in small.nodes.items()
        if isinstance(node, RecheckNode) and node.says == _AGREED
    }
    others = [name for name in small.nodes if name not in agreement]
    names = {name: f"c{number}" for number, name in enumerate(others, start=first)}
    names |= dict.fromkeys(agreement, verdict)
    return names[small.root], {names[name]: led_by(names, small.nodes[name]) for name in others}
