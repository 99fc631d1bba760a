"""Plans that several tests ask for, made once."""

from __future__ import annotations

from collections.abc import Mapping

from engine.model.plan import Plan, State
from engine.model.records import Model
from engine.planner import plan
from engine.planner.planning import EFFORT

Question = tuple[
    tuple[tuple[str, float], ...] | None, State | None, frozenset[str], frozenset[str],
    tuple[tuple[str, str], ...],
]  # fmt: skip


class Remembering:
    """The planner of one model, in so many seconds a plan, or as long as it takes (None), or with
    so much `effort` and no clock at all (0.0), the same on every machine; what was asked before is
    remembered.

    Walks of one unit share their beginnings, and whether a test is worth doing again is asked at
    each of their steps.
    """

    def __init__(self, seconds: float | None, effort: float = EFFORT) -> None:
        self._seconds, self._effort = seconds, effort
        self._model: Model | None = None
        self._plans: dict[Question, Plan] = {}

    def __call__(
        self,
        model: Model,
        /,
        *,
        belief: Mapping[str, float] | None = None,
        state: State | None = None,
        withdrawn: frozenset[str] = frozenset(),
        tests_done: frozenset[str] = frozenset(),
        answers: tuple[tuple[str, str], ...] = (),
    ) -> Plan:
        """As `engine.planner.plan`."""
        if model is not self._model:
            self._model, self._plans = model, {}
        odds = None if belief is None else tuple(belief.items())
        question = (odds, state, withdrawn, tests_done, answers)
        if question not in self._plans:
            self._plans[question] = plan(
                model, belief=belief, state=state, withdrawn=withdrawn, tests_done=tests_done,
                answers=answers, seconds=self._seconds, effort=self._effort,
            )  # fmt: skip
        return self._plans[question]
