"""The ways in which units with a fault are: a row for each fault, and one for each of its manners.

A fault with manners is the mean over them: its own row has no share where ways are weighed, and
what is said of it is gathered from its manners'. The latent class of P. F. Lazarsfeld and N. W.
Henry, Latent Structure Analysis (1968), beside that of the design. O(faults + manners) each.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from engine.evidence.scale import Floats
from engine.model.records import Manner, Model, Test

_NEVER = -1e9
"""The log of the share of a row that is told by others; of the algorithm."""


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """Rows [W]: the faults, then the manners.

    `at` [W] is the fault's place of each row, `logs` [W] the log of the row's share of its fault,
    `priors` [W] those of the faults, 0 for manners; `sights` the tests at which some manner shows.
    """

    model: Model
    at: npt.NDArray[np.intp]
    logs: Floats
    priors: Floats
    sights: frozenset[str]

    @classmethod
    def of(cls, model: Model) -> Ways:
        """The ways of a model's faults."""
        places = {fault.id: at for at, fault in enumerate(model.faults)}
        own = [places[manner.fault] for manner in model.manners]
        logs = np.zeros(len(places) + len(own))
        logs[own] = _NEVER
        logs[len(places) :] = [np.log(manner.odds) for manner in model.manners]
        priors = [*(fault.prior for fault in model.faults), *(0.0 for _ in own)]
        sights = frozenset(test for manner in model.manners for test in manner.shows)
        return cls(model, np.array([*range(len(places)), *own]), logs, np.array(priors), sights)

    @property
    def faults(self) -> int:
        """How many of the rows are faults'."""
        return len(self.model.faults)

    @property
    def ids(self) -> list[str]:
        """[W] the fault of each row."""
        names = [fault.id for fault in self.model.faults]
        return [names[at] for at in self.at.tolist()]

    def rows(self, test: Test) -> list[Mapping[str, float]]:
        """[W] the rules' odds of the test's outcomes in each way."""
        return [
            *(self.model.row(test.id, fault.id) for fault in self.model.faults),
            *(self._row(test, manner) for manner in self.model.manners),
        ]

    def _row(self, test: Test, manner: Manner) -> Mapping[str, float]:
        return manner.shows.get(test.id) or self.model.row(test.id, manner.fault)

    def varies(self, test: Test) -> npt.NDArray[np.bool_]:
        """[F] whether the test shows in which manner the unit has a fault."""
        those = {manner.fault for manner in self.model.manners if test.id in manner.shows}
        return np.array([fault.id in those for fault in self.model.faults])

    def gather(self, rows: Floats) -> Floats:
        """[F, ...] the sums of [W, ...] over each fault's ways."""
        if len(rows) == self.faults:
            return rows
        total = np.zeros((self.faults, *rows.shape[1:]))
        np.add.at(total, self.at, rows)
        return total

    def sums(self, rows: Floats) -> Floats:
        """[W] the sum of [W] over the ways of each row's fault."""
        shares: Floats = self.gather(rows)[self.at]
        return shares

    def greatest(self, rows: Floats) -> Floats:
        """[W] the greatest of [W] over the ways of each row's fault."""
        if len(rows) == self.faults:
            return rows
        most = np.full(self.faults, -np.inf)
        np.maximum.at(most, self.at, rows)
        shares: Floats = most[self.at]
        return shares
