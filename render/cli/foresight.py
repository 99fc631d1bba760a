"""Planning while the person still answers the entry check, so that the first question is there."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from concurrent.futures import Future
from pathlib import Path

from engine import safetygate
from engine.model.plan import Plan, Planner, State
from engine.model.records import Model
from engine.planner import plan


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
    threading.Thread(target=work, daemon=True).start()

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
