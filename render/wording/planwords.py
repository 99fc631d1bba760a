"""What a plan costs, how well that is known, and how large it is, in words."""

from __future__ import annotations

from collections import Counter

from render.wording.script import Document

_SURE = "proved least"
_BOUND = "least possible {:.1f}"
_STURDY = "proved within {:.2f} min of the least"


def proof(sure: bool, lower_bound: float) -> str:
    """How well the least cost of a plan is known; `lower_bound` in minutes."""
    return _SURE if sure else _BOUND.format(lower_bound)


def proof_of(chart: Document) -> str:
    """How well it is known that a chart document's plan is the cheapest, or near it."""
    sturdy = chart.get("sturdy") or {}
    if sturdy.get("changed") and sturdy["optimum_proved"]:
        return _STURDY.format(sturdy["gap_minutes"])
    return proof(bool(chart.get("proved_optimal")), float(chart["lower_bound"]))


def figures(
    minutes: float, cost: float, proof_words: str, checks: int, verdicts: int
) -> tuple[str, str, str]:
    """Minutes to a verdict, cost in minutes with how well it is known, and size of a plan."""
    return (
        f"{minutes:.1f} min to a verdict, on average",
        f"{cost:.1f} min with repair and risk, {proof_words}",
        f"{checks} checks, {verdicts} verdicts",
    )


def figures_of(chart: Document) -> tuple[str, str, str]:
    """The figures of a chart document's plan."""
    kinds = Counter(node["kind"] for node in chart["nodes"].values())
    minutes, cost = chart["expected_minutes"], chart["expected_cost"]
    return figures(minutes, cost, proof_of(chart), kinds["test"], kinds["verdict"])


def line(chart: Document) -> str:
    """The same in one line, for a title block."""
    minutes, cost = chart["expected_minutes"], chart["expected_cost"]
    return f"tests {minutes:.1f} min; with repair, risk {cost:.1f} min, {proof_of(chart)}"
