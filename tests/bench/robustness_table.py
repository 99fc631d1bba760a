"""How shipped charts fare when readings are mistaken and priors are wrong.

    python -m tests.bench robustness

For each topology and depth: the proved cost for true readings, then accuracy, bench minutes and
cost of the printed chart, of the chart with its confirm steps (both exact) and of the walk that
weighs its verdict again and plans on (simulated, seeded), with every reading mistaken three times
in a hundred. In brackets: least to greatest over 200 worlds whose priors are Dirichlet draws worth
50 cases around the model's.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

from engine import library
from engine.model.records import Mains
from engine.planner import plan
from engine.studies.trial import Fare, Robustness, robustness
from tests.safety.shop_models import mistaken

RATE = 0.03


def report(topology: str, depth: str, units: int) -> Robustness:
    """The robustness report of one shipped topology at 230 V."""
    model = library.model(topology, mains=Mains(230.0, 50.0), depth=depth)
    model = mistaken(model, RATE)
    made = plan(model, seconds=20)
    return robustness(model, made, partial(plan, seconds=0.3), seed=1, units=units)


def line(name: str, fare: Fare) -> str:
    """One way of working as a line of the table."""
    right, minutes, cost = fare.accuracy, fare.minutes, fare.cost
    return (
        f"    {name:20s} right {right.own:6.1%} [{right.least:.1%} to {right.greatest:.1%}]"
        f"  minutes {minutes.own:5.1f}"
        f"  cost {cost.own:5.1f} [{cost.least:.1f} to {cost.greatest:.1f}]"
    )


def lines(depths: Sequence[str], units: int) -> Iterator[str]:
    """Three ways of working for each topology and depth."""
    for topology in library.topologies():
        for depth in depths:
            found = report(topology.id, depth, units)
            steps = len(found.confirmed.confirms)
            yield f"  {topology.id}, {depth}: proved cost {found.proved_cost:.2f}, {steps} confirms"
            yield line("chart", found.chart)
            yield line("chart with confirm", found.chart_with_confirm)
            yield line(f"walk ({found.units} units)", found.replanning)
