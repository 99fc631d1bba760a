"""How likely each way through the chart is taken: from the model's own odds, exactly.

Tests are independent given the fault, so the odds of coming to a step with each fault add up over
the ways that lead there; a branch takes of them what its outcomes have. A document without odds for
a test has its arrivals parted by the reach of its branches.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from engine.chart.traversal import topological
from render.wording.script import Exit, Script, Step

_Weights = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Passage:
    """Odds of taking each way between two steps, and of coming to each step; the root has 1."""

    ways: Mapping[tuple[str, str], float]
    arrivals: Mapping[str, float]

    @staticmethod
    def of(script: Script) -> Passage:
        """The odds of all ways of a script."""
        def below(step: str) -> tuple[str, ...]:
            return tuple(way.to for way in script.steps[step].exits)

        weights: dict[str, dict[str, float]] = {
            script.root: {str(f["id"]): float(f["prior"]) for f in script.model["faults"]}
        }
        total = sum(weights[script.root].values()) or 1.0
        ways: dict[tuple[str, str], float] = {}
        for name in topological(script.root, below):
            step = script.steps[name]
            for way, share in _shares(script, step, weights.get(name, {})):
                ways[name, way.to] = sum(share.values()) / total
                onward = weights.setdefault(way.to, defaultdict(float))
                for fault, weight in share.items():
                    onward[fault] = onward.get(fault, 0.0) + weight
        arrivals = {name: sum(here.values()) / total for name, here in weights.items()}
        return Passage(ways, arrivals)


def _shares(
    script: Script, step: Step, weights: _Weights
) -> Iterable[tuple[Exit, dict[str, float]]]:
    """The weights that each branch of a step takes."""
    if not step.asks:
        for way in step.exits:
            yield way, dict(weights)
        return
    node = script.chart["nodes"][step.parts[-1].node]
    rows = script.model["likelihood"].get(node["test"])
    if rows:
        for way in step.exits:
            yield way, {
                fault: weight * sum(float(rows.get(fault, {}).get(o, 0.0)) for o in way.outcomes)
                for fault, weight in weights.items()
            }
        return
    total = sum(way.odds for way in step.exits) or 1.0
    for way in step.exits:
        yield way, {fault: weight * way.odds / total for fault, weight in weights.items()}
