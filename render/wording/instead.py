"""What comes where a step can't be done, in words: another check, or a remedy, and its minutes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

_NEXT_TO_NOTHING = 0.5
_ELSEWHERE = "how, and what could hurt: nextprobe walk"


def words(model: Mapping[str, Any], node: Mapping[str, Any], steps: Mapping[str, str]) -> str:
    """What a chart's test node says under `instead`, without a stop at the end; empty where it says
    nothing.

    `model` is the model document; `steps` names the step of the chart that does a test, by test: a
    check that none of them does has its how and cautions elsewhere, which is said. KeyError where
    the model lacks what is named.
    """
    way = node.get("instead")
    if not way:
        return ""
    kind, name = ("tests", way.get("test")) if way.get("test") else ("remedies", way["remedy"])
    found = {item["id"]: item for item in model[kind]}[name]
    says = str(found.get("says") or name).strip().rstrip(".")
    where = "" if kind == "remedies" else f"; {steps.get(name, _ELSEWHERE)}"
    return f"{says} ({more_words(float(way['minutes']))}{where})"


def steps_by_test(chart: Mapping[str, Any], labels: Mapping[str, str]) -> dict[str, str]:
    """For each test of a chart document how its first step is referred to, by the nodes' labels."""
    steps: dict[str, str] = {}
    for name, node in chart["nodes"].items():
        if node["kind"] == "test" and name in labels:
            steps.setdefault(node["test"], f"as {labels[name]}")
    return steps


def more_words(minutes: float) -> str:
    """What a way on costs, in words."""
    return "no longer" if minutes < _NEXT_TO_NOTHING else f"{minutes:.0f} min more"
