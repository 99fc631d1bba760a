"""What a test tells, once and again: rows of a model with misreads, as arrays."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from engine.model.records import Model, Test

Floats = NDArray[np.float64]
_LEAST = ""
"""No remedy's name."""
Outcomes = tuple[int, ...]
"""Outcomes told by one test so far, as indexes into its outcomes, in order."""


@dataclass(frozen=True, slots=True)
class Readings:
    """Rows of a model: `true[test]` is faults x outcomes, `confused[test]` true x told.

    A unit has one true outcome for each test, so earlier readings of a test say what the next one
    will be: `again` takes them into account.
    """

    model: Model
    faults: tuple[str, ...]
    prior: Floats
    outcomes: dict[str, tuple[str, ...]]
    true: dict[str, Floats]
    confusions: dict[str, Floats]
    _memo: dict[tuple[str, Outcomes], Floats] = field(default_factory=dict, repr=False)
    _cures: dict[str, Floats] = field(default_factory=dict, repr=False)
    _burdens: dict[str, Floats] = field(default_factory=dict, repr=False)

    @classmethod
    def of(cls, model: Model) -> Readings:
        """The readings of a model."""
        faults = tuple(fault.id for fault in model.faults)
        outcomes = {t.id: tuple(outcome.id for outcome in t.outcomes) for t in model.tests}
        return cls(
            model=model,
            faults=faults,
            prior=np.array([fault.prior for fault in model.faults], dtype=np.float64),
            outcomes=outcomes,
            true={t.id: _true(model, t, faults) for t in model.tests},
            confusions={t.id: confusion(t) for t in model.tests},
        )

    def again(self, test: str, outcomes: Outcomes) -> Floats:
        """Odds of the next outcome told, faults x outcomes, given those told by this test before.

        0 throughout where a fault can't have told those.
        """
        key = (test, tuple(sorted(outcomes)))
        if key not in self._memo:
            matrix = self.confusions[test]
            joint = self.true[test].copy()
            for outcome in outcomes:
                joint *= matrix[:, outcome]
            total = joint.sum(axis=1, keepdims=True)
            odds = np.divide(joint, total, out=np.zeros_like(joint), where=total > 0.0)
            self._memo[key] = odds @ matrix
        return self._memo[key]

    def mistakable(self, test: str) -> bool:
        """Whether the test can be misread at all."""
        matrix = self.confusions[test]
        return not np.array_equal(matrix, np.eye(len(matrix)))

    def mistaken_for(self, test: str, outcome: int) -> bool:
        """Whether any other true outcome of the test can be told as this one."""
        column = self.confusions[test][:, outcome]
        return bool(np.delete(column, outcome).any())

    def cures(self, remedy: str) -> Floats:
        """1 for each fault the remedy cures, 0 for the others. Nobody may write to it."""
        if remedy not in self._cures:
            cures = set(self.model.remedy(remedy).cures)
            self._cures[remedy] = np.array([f in cures for f in self.faults], dtype=np.float64)
        return self._cures[remedy]

    def burden(self, remedy: str) -> Floats:
        """What the remedy costs under each fault: its minutes, and those of a wrong verdict where
        it does not cure. Nobody may write to it."""
        if remedy not in self._burdens:
            wrong = self.model.wrong_verdict_minutes
            minutes = self.model.remedy(remedy).minutes
            self._burdens[remedy] = minutes + wrong * (1.0 - self.cures(remedy))
        return self._burdens[remedy]

    def least_burden(self) -> Floats:
        """What the remedy of least cost would cost under each fault. Nobody may write to it."""
        if _LEAST not in self._burdens:
            burdens = [self.burden(remedy.id) for remedy in self.model.remedies]
            self._burdens[_LEAST] = np.min(burdens, axis=0)
        return self._burdens[_LEAST]


def _true(model: Model, test: Test, faults: tuple[str, ...]) -> Floats:
    rows = (model.row(test.id, fault) for fault in faults)
    return np.array(
        [[row.get(outcome.id, 0.0) for outcome in test.outcomes] for row in rows], dtype=np.float64
    )


def confusion(test: Test) -> Floats:
    """Odds of each outcome told (columns) under each true outcome (rows)."""
    names = [outcome.id for outcome in test.outcomes]
    matrix = np.zeros((len(names), len(names)))
    for at, true in enumerate(names):
        for answer, share in test.misread.get(true, {}).items():
            if answer != true:
                matrix[at, names.index(answer)] = share
        matrix[at, at] = max(0.0, 1.0 - float(matrix[at].sum()))
    return matrix
