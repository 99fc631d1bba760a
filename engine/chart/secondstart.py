"""The second START of a chart: the plan for a unit after a bang, a smell, a trip or damage.

It is a chart of its own, made from a model of its own, that stands inside the first one's document
under `second`: what the START `says`, and the `chart`, its nodes named apart from the first one's.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from engine.documents.chart import SecondStart, Start, led_by, read_chart

KEY = "second"
LETTER = "b"
"""What the names of its nodes begin with, where the first chart's begin with n."""

Document = dict[str, Any]


def join(chart: Mapping[str, Any], says: str, second: Mapping[str, Any]) -> Document:
    """The chart document with the other one as its second START, for units of which is said what
    it `says`."""
    return {**chart, KEY: SecondStart(says=says, chart=_rename(read_chart(second))).plain()}


def second_of(chart: Mapping[str, Any]) -> tuple[str, Mapping[str, Any]] | None:
    """What the second START of a chart document says, and its chart; None where it has none."""
    inner = chart.get(KEY)
    return (str(inner["says"]), inner["chart"]) if inner else None


def _rename(chart: Start) -> Start:
    names = {name: f"{LETTER}{n}" for n, name in enumerate(chart.nodes, start=1)}
    nodes = {names[name]: led_by(names, node) for name, node in chart.nodes.items()}
    return chart.model_copy(update={"root": names[chart.root], "nodes": nodes})
