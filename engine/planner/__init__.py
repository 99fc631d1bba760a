"""The planner: the plan of least expected bench minutes, proved.

(The full page of theory follows with the bounds of the second stage.)
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from engine.model import Model
from engine.plan import Plan, State
from engine.planner._kernel import search
from engine.planner.bounds import ALL, Bound
from engine.planner.reduction import belief_of, reduce
from engine.planner.tree import grow
from engine.setup import start

__all__ = ["ALL", "Bound", "plan"]

MEMORY_BYTES = 512 * 2**20
FOREVER = 1e12

Progress = Callable[[float, float, int], None]


def plan(
    model: Model,
    *,
    belief: Mapping[str, float] | None = None,
    state: State | None = None,
    withdrawn: frozenset[str] = frozenset(),
    bounds: Bound = ALL,
    seconds: float | None = None,
    tests_done: frozenset[str] = frozenset(),
    on_progress: Progress | None = None,
) -> Plan:
    """The plan of least expected cost from `belief` (default: the priors) and `state`.

    `withdrawn` tests can't be done, `tests_done` ones tell nothing more. With `seconds` the search
    stops in time and the plan carries the bound proved so far. `on_progress` gets the bound, the
    best cost and the nodes expanded, about ten times a second.
    Raises TroubleError for a model or belief that can't be planned.
    """
    believed = belief_of(model, belief)
    reduction = reduce(model, believed, state or start(model), withdrawn | tests_done, bounds)
    problem = reduction.problem
    certain = reduction.certain_cost

    def tell(lower: float, upper: float, expanded: int) -> None:
        if on_progress is not None:
            on_progress(certain + lower, certain + upper, expanded)

    found = search(
        problem,
        reduction.opened_bits(reduction.state.opened),
        0,
        FOREVER if seconds is None else max(0.0, seconds),
        float(MEMORY_BYTES),
        None if on_progress is None else tell,
    )
    return grow(model, reduction, found)
