"""Odds of faults given what was told: Bayes' rule with misreads.

Terms. A fault shows an outcome with the likelihood of the model's row (true reading); the person
reports that outcome, or another one as the test's `misread` says, what is not listed there being
read right. So `P(told | fault) = sum over true of P(true | fault) P(told | true)`, and answers are
independent given the fault (the model splits faults where they are not). One answer multiplies
the odds by that row and divides by the sum: O(faults).

Two doors lead to the same numbers. `prepare` lays the rows out as arrays once, for simulation and
re-planning; `update` and `report_odds` take and give plain mappings, for a walk of a few answers.
Nothing is ever taken back from a posterior: undo is `posterior` of the findings that stay.

Sources: T. Bayes 1763; entropy of a probe after J. de Kleer and B. C. Williams, "Diagnosing
multiple faults", Artificial Intelligence 32 (1987), one fault at a time here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.model.records import Model, Test
from kb.trouble import Place, Trouble, TroubleError

Floats = NDArray[np.float64]
Finding = tuple[str, str]
"""A test's id and the outcome told."""


class Surprise(TroubleError):
    """What was told is impossible under every fault that is left, misreads included."""

    def __init__(self, test: str, outcome: str) -> None:
        self.test = test
        self.told = outcome
        what = f'"{outcome}" at test "{test}" is impossible after what was told before'
        why = "No listed fault shows all of it, even if readings were mistaken as they may be"
        mend = (
            "Undo this answer or an earlier one, or take the unit for one with a fault not listed"
        )
        super().__init__(Trouble("BL101", Place("walk"), what, mend, why))


@dataclass(frozen=True, slots=True)
class Tables:
    """The rows of a model, misreads worked in: `likelihoods[test][outcome]` runs over `faults`."""

    faults: tuple[str, ...]
    prior: Floats
    likelihoods: Mapping[str, Mapping[str, Floats]]


def prepare(model: Model) -> Tables:
    """The tables of a model: O(tests x faults x outcomes), once."""
    faults = tuple(fault.id for fault in model.faults)
    rows_of = {}
    for test in model.tests:
        rows = [_report_row(test, model.row(test.id, fault)) for fault in faults]
        rows_of[test.id] = {
            outcome.id: _freeze([row[outcome.id] for row in rows]) for outcome in test.outcomes
        }
    return Tables(faults, _freeze([fault.prior for fault in model.faults]), rows_of)


def revise(tables: Tables, weights: Floats, test: str, outcome: str) -> Floats:
    """The odds after one answer, summing to 1. Raises Surprise where nothing is left.

    `weights` run over `tables.faults` and need not sum to 1; O(faults).
    """
    joint: Floats = weights * tables.likelihoods[test][outcome]
    total = float(joint.sum())
    if not total > 0.0:
        raise Surprise(test, outcome)
    return joint / total


def posterior(tables: Tables, findings: Iterable[Finding]) -> Floats:
    """The odds after findings in any order, from the prior. Raises Surprise as `revise`."""
    weights: Floats = tables.prior / float(tables.prior.sum())
    for test, outcome in findings:
        weights = revise(tables, weights, test, outcome)
    return weights


def outcome_odds(tables: Tables, weights: Floats, test: str) -> dict[str, float]:
    """Odds that the person will tell each outcome of a test; `weights` must sum to 1."""
    return {outcome: float(weights @ row) for outcome, row in tables.likelihoods[test].items()}


def entropy(weights: Floats) -> float:
    """Shannon entropy in bits of odds that sum to 1."""
    likely = weights[weights > 0.0]
    return float(-(likely * np.log2(likely)).sum())


def information(tables: Tables, weights: Floats, test: str) -> float:
    """Bits by which the answer to a test is expected to lower the entropy: what it tells apart."""
    left = 0.0
    for outcome, odds in outcome_odds(tables, weights, test).items():
        if odds > 0.0:
            left += odds * entropy(revise(tables, weights, test, outcome))
    return max(0.0, entropy(weights) - left)


def as_weights(tables: Tables, belief: Mapping[str, float]) -> Floats:
    """A belief by fault id as an array over `tables.faults`; faults not named count 0."""
    return np.array([belief.get(fault, 0.0) for fault in tables.faults], dtype=np.float64)


def report_odds(model: Model, test: str, fault: str) -> dict[str, float]:
    """Odds that each outcome of a test is told under a fault; they sum to 1 as its row does."""
    return _report_row(model.test(test), model.row(test, fault))


def update(
    model: Model,
    belief: Mapping[str, float],
    test: str,
    evidence: Iterable[tuple[str, float]],
) -> dict[str, float]:
    """The belief after one answer, summing to 1. Raises Surprise where nothing is left.

    `evidence` are outcomes with their shares: one outcome with share 1, or several where a reading
    leaves open which it is (virtual evidence after J. Pearl, Probabilistic Reasoning in Intelligent
    Systems, 1988, 2.2.2).
    """
    answers = tuple(evidence)
    record = model.test(test)
    after = {}
    for fault, odds in belief.items():
        row = _report_row(record, model.row(test, fault)) if odds > 0.0 else {}
        after[fault] = odds * sum(share * row.get(outcome, 0.0) for outcome, share in answers)
    total = sum(after.values())
    if not total > 0.0:
        raise Surprise(test, answers[0][0] if answers else "")
    return {fault: odds / total for fault, odds in after.items()}


def weigh(belief: Mapping[str, float], factors: Mapping[str, float]) -> dict[str, float]:
    """The belief after evidence that says `factors` of each fault, summing to 1.

    Only their ratios count. ValueError where nothing is left.
    """
    after = {fault: odds * factors.get(fault, 0.0) for fault, odds in belief.items()}
    total = sum(after.values())
    if not total > 0.0:
        raise ValueError("nothing is left")
    return {fault: odds / total for fault, odds in after.items()}


def by_parent(model: Model, belief: Mapping[str, float]) -> dict[str, float]:
    """The belief with the variants of one fault added up under it, for display."""
    parents = {fault.id: fault.variant_of for fault in model.faults}
    sums: dict[str, float] = {}
    for fault, odds in belief.items():
        root = fault
        while (parent := parents.get(root)) is not None:
            root = parent
        sums[root] = sums.get(root, 0.0) + odds
    return sums


def _report_row(test: Test, row: Mapping[str, float]) -> dict[str, float]:
    """A row of true odds turned into odds of what is told."""
    row_told = dict.fromkeys((outcome.id for outcome in test.outcomes), 0.0)
    for true, odds in row.items():
        right = odds
        for outcome, share in test.misread.get(true, {}).items():
            if outcome != true:
                row_told[outcome] += odds * share
                right -= odds * share
        row_told[true] += max(0.0, right)
    return row_told




def _freeze(numbers: list[float]) -> Floats:
    array = np.array(numbers, dtype=np.float64)
    array.flags.writeable = False
    return array
