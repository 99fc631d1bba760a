"""Planning: from a model to its plan of least expected cost."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from engine.model.plan import Plan, State
from engine.model.records import Model
from engine.model.requirements import Answers
from engine.model.setup import start
from engine.planner._kernel import clock, rank, search
from engine.planner.bounds import ALL, Bound
from engine.planner.reduction import Reduction, belief_of, reduce
from engine.planner.tree import grow

MEMORY_BYTES = 384.0 * 2**20
"""What the search's tables may take of memory; of the algorithm."""
FOREVER = 1e12
"""Seconds of a search without limit; of the algorithm."""
EFFORT = 2e8
"""What is done though time is up: sub-problems looked at by greedy plans, times tests and classes;
bounds count as several of them. Some tenth of a second, wherever in a walk. On a slow or busy
machine a plan is worth more than its time; stopping at once is none. Of the algorithm."""

Progress = Callable[[float, float, int], None]


@dataclass(frozen=True, slots=True)
class RunnerUp:
    """A test that could be done now: the cost of the best plan that begins with it.

    `extra_minutes` is what that costs more than the best plan, in expectation.
    """

    test: str
    expected_cost: float
    extra_minutes: float


def plan(
    model: Model,
    *,
    belief: Mapping[str, float] | None = None,
    state: State | None = None,
    withdrawn: frozenset[str] = frozenset(),
    bounds: Bound = ALL,
    seconds: float | None = None,
    effort: float = EFFORT,
    tests_done: frozenset[str] = frozenset(),
    answers: Answers = (),
    on_progress: Progress | None = None,
) -> Plan:
    """The plan of least expected cost from `belief` (default: the priors) and `state`.

    `withdrawn` tests can't be done, `tests_done` ones tell nothing more; `answers`, pairs of test
    and outcome, are those given so far that meet requirements. With `seconds` the search
    stops in time and the plan carries the bound proved so far, but not before it has made `effort`:
    with no seconds at all, that alone decides, and the plan is the same on every machine.
    `on_progress` gets the bound, the best cost and the nodes expanded, about ten times a second.
    Raises TroubleError for a model or belief that can't be planned.
    """
    began = clock()
    reduction = _reduction(model, belief, state, withdrawn | tests_done, bounds, answers)
    certain = reduction.certain_cost

    def tell(lower: float, upper: float, nodes: int) -> None:
        if on_progress is not None:
            on_progress(certain + lower, certain + upper, nodes)

    solution = search(
        reduction.problem,
        reduction.opened_bits(reduction.state.opened),
        0,
        0,
        _left(began, seconds),
        effort,
        MEMORY_BYTES,
        None if on_progress is None else tell,
        0,
    )
    return grow(model, reduction, solution)


def runners_up(
    model: Model,
    *,
    belief: Mapping[str, float] | None = None,
    state: State | None = None,
    withdrawn: frozenset[str] = frozenset(),
    tests_done: frozenset[str] = frozenset(),
    answers: Answers = (),
    many: int = 4,
    seconds: float | None = None,
) -> tuple[RunnerUp, ...]:
    """The `many` best tests to do first from here, best first, each followed by its best plan.

    Of tests with the same rows and needs only the quickest is ranked. With `seconds`, those not
    priced in time are missing. Costs as much as planning each of them.
    """
    began = clock()
    reduction = _reduction(model, belief, state, withdrawn | tests_done, ALL, answers)
    ranking = rank(
        reduction.problem,
        reduction.opened_bits(reduction.state.opened),
        0,
        0,
        _left(began, seconds),
        0.0,
        MEMORY_BYTES,
        None,
        many,
    )
    certain = reduction.certain_cost
    least = min((cost for _, cost in ranking), default=0.0)
    return tuple(
        RunnerUp(reduction.tests[test].id, certain + cost, cost - least) for test, cost in ranking
    )


def cost_without(
    model: Model,
    test: str,
    *,
    belief: Mapping[str, float] | None = None,
    state: State | None = None,
    withdrawn: frozenset[str] = frozenset(),
    tests_done: frozenset[str] = frozenset(),
    answers: Answers = (),
    seconds: float | None = None,
) -> float:
    """Expected minutes that a "can't do that" to `test` adds from here; 0 for one not needed."""
    with_it = plan(
        model,
        belief=belief,
        state=state,
        withdrawn=withdrawn,
        tests_done=tests_done,
        answers=answers,
        seconds=seconds,
    )
    without = plan(
        model,
        belief=belief,
        state=state,
        withdrawn=withdrawn | {test},
        tests_done=tests_done,
        answers=answers,
        seconds=seconds,
    )
    return max(0.0, without.proof.expected_cost - with_it.proof.expected_cost)


def _left(began: float, seconds: float | None) -> float:
    """Seconds left for the search: what the reduction took is of the time allowed, too."""
    return FOREVER if seconds is None else max(0.0, seconds - (clock() - began))


def _reduction(
    model: Model,
    belief: Mapping[str, float] | None,
    state: State | None,
    without: frozenset[str],
    bounds: Bound,
    answers: Answers,
) -> Reduction:
    return reduce(model, belief_of(model, belief), state or start(model), without, bounds, answers)
