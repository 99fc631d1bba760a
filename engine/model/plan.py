"""The plan: a shared-branch decision tree of tests ending in remedies.

`planner` makes it, `chart` turns it into the document `nextprobe-chart/1`, `walk` follows it.
A plan's nodes know the state each test is done in; the minutes of getting there follow from the
model by the set-up rule in `engine.model.setup`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from engine.model.records import Model


@dataclass(frozen=True, slots=True)
class State:
    """Where the bench stands: openings made, supply arrangement, rig."""

    opened: frozenset[str]
    supply: str
    rig: str


@dataclass(frozen=True, slots=True)
class Ask:
    """Do `test` in `state`; `branches` names the next node for each of its outcomes."""

    test: str
    state: State
    branches: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Verdict:
    """Stop and apply `remedy`. `weights` are the joint odds of fault and arriving here."""

    remedy: str
    weights: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Recheck:
    """No fault in question shows this outcome: something was misread, or is not listed."""

    says: str


Node = Ask | Verdict | Recheck


@dataclass(frozen=True, slots=True)
class Proof:
    """How well the plan is known: its cost, the proved bound, and how the proof was closed."""

    expected_minutes: float
    expected_cost: float
    lower_bound: float
    proved_optimal: bool
    nodes_expanded: int
    fault_classes: int = 0
    tests_left: int = 0
    closed_by: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    """A decision tree with equal sub-plans shared; `nodes` is keyed by node name."""

    root: str
    nodes: Mapping[str, Node]
    proof: Proof


class Planner(Protocol):
    """Plans from any odds, bench and answers on; `engine.planner.plan` is one."""

    def __call__(
        self,
        model: Model,
        /,
        *,
        belief: Mapping[str, float] | None,
        state: State | None,
        withdrawn: frozenset[str],
        tests_done: frozenset[str],
        answers: tuple[tuple[str, str], ...],
    ) -> Plan:
        """The plan of least expected cost from here; None for the priors and the model's start."""
        ...
