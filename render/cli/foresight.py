"""Planning ahead: while the person still answers the entry check, so that the first question is
there; and once for all benches that come to the same point with the same kind of unit."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from concurrent.futures import Future
from pathlib import Path

from engine import safetygate
from engine.model.plan import Plan, Planner, State
from engine.model.records import Model
from engine.planner import plan
from render.cli import leaving


def patient(seconds: float, kb: Path | None = None, source: Path | None = None) -> Planner:
    """A planner that never keeps a person waiting: the best plan within `seconds`, and within a
    tenth of them when the rest is planned anew between two questions.

    Each plan passes the gate: TroubleError AU... where the audit's laws of safety reject it, at the
    rules of `kb` or the model document `source`.
    """

    def planner(
        model: Model,
        *,
        belief: Mapping[str, float] | None,
        state: State | None,
        withdrawn: frozenset[str],
        tests_done: frozenset[str],
        answers: tuple[tuple[str, str], ...],
    ) -> Plan:
        return plan(
            model,
            belief=belief,
            state=state,
            withdrawn=withdrawn,
            tests_done=tests_done,
            answers=answers,
            seconds=seconds if belief is None else seconds / 10,
        )

    return safetygate.guard(planner, kb=kb, source=source)


class KeptPlans:
    """Plans that were made, for whoever stands where another stood: units of one kind come in with
    the same complaint and show the same at first. Those used last longest ago go."""

    def __init__(self, most: int = 64) -> None:
        self._most = most
        self._plans: OrderedDict[tuple[object, ...], tuple[Model, Plan]] = OrderedDict()
        self._guard = threading.Lock()

    def kept(self, planner: Planner) -> Planner:
        """As `planner`, but that what is asked again is answered as before."""

        def recalling(
            model: Model,
            *,
            belief: Mapping[str, float] | None,
            state: State | None,
            withdrawn: frozenset[str],
            tests_done: frozenset[str],
            answers: tuple[tuple[str, str], ...],
        ) -> Plan:
            odds = None if belief is None else tuple(sorted(belief.items()))
            key = (model.topology, odds, state, withdrawn, tests_done, answers)
            before = self._recall(key)
            # Odds alone don't tell what tests are expected to show.
            if before is not None and (before[0] is model or before[0] == model):
                return before[1]
            anew = planner(
                model, belief=belief, state=state, withdrawn=withdrawn, tests_done=tests_done,
                answers=answers,
            )  # fmt: skip
            self._keep(key, model, anew)
            return anew

        return recalling

    def _recall(self, key: tuple[object, ...]) -> tuple[Model, Plan] | None:
        with self._guard:
            if key in self._plans:
                self._plans.move_to_end(key)
            return self._plans.get(key)

    def _keep(self, key: tuple[object, ...], model: Model, plan_made: Plan) -> None:
        with self._guard:
            self._plans[key] = (model, plan_made)
            while len(self._plans) > self._most:
                self._plans.popitem(last=False)


def foreseeing(model: Model, planner: Planner) -> Planner:
    """As `planner`, with the first plan of this model begun now, beside whatever else is done."""
    first: Future[Plan] = Future()

    def work() -> None:
        try:
            outcome = planner(
                model, belief=None, state=None, withdrawn=frozenset(), tests_done=frozenset(),
                answers=(),
            )  # fmt: skip
        except Exception as wrong:  # carried to whoever waits for the plan
            first.set_exception(wrong)
        else:
            first.set_result(outcome)

    # A daemon: a person who leaves during the entry check does not wait for a plan.
    thread = threading.Thread(target=work, daemon=True)
    leaving.threads.append(thread)
    thread.start()

    def remembering(
        unit: Model,
        *,
        belief: Mapping[str, float] | None,
        state: State | None,
        withdrawn: frozenset[str],
        tests_done: frozenset[str],
        answers: tuple[tuple[str, str], ...],
    ) -> Plan:
        if unit is model and belief is None and state is None and not withdrawn | tests_done:
            return first.result()
        return planner(
            unit, belief=belief, state=state, withdrawn=withdrawn, tests_done=tests_done,
            answers=answers,
        )  # fmt: skip

    return remembering
