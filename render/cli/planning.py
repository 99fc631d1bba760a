"""Planning for the command line, with a line that says how far it is."""

from __future__ import annotations

from engine.model.plan import Plan
from engine.model.records import Model
from engine.planner import plan
from render.cli.waiting import status


def plan_of(model: Model, seconds: float) -> Plan:
    """The best plan within the time; at a terminal its bounds are shown as they close in."""
    with status("planning") as tell:
        if tell is None:
            return plan(model, seconds=seconds)

        def progress(lower: float, upper: float, nodes: int) -> None:
            tell(f"planning: between {lower:.1f} and {upper:.1f} min, {nodes} looked at")

        return plan(model, seconds=seconds, on_progress=progress)
