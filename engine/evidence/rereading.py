"""What a test done again adds: the same truth, read anew.

A unit has one true outcome o for each test, so readings a1..ak of one test are independent only
once o is given, and under fault f

    P(a1..ak | f) = sum over o of P(o | f) s(f, o) prod over i of sum over b of c_i(b) m(o -> b)

with m the test's misreads, c_i(b) how far reading i counts as outcome b, and s how much better
than a blind guess the number that was read in o's band fits the fault there. A number is weighed
once, by the reading that lies deepest in the band: a second one near it says that the first was
read right and nothing more of the fault. For one reading this is the law of `engine.evidence`.
O(faults x outcomes x readings).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.evidence.scale import Floats
from engine.evidence.witness import Witness
from engine.model.records import Model, Test
from engine.readings import bands
from engine.readings.bands import Answer
from engine.readings.confusion import confusion
from kb.trouble import TroubleError

COUNTS = 0.01
"""A reading this little inside a band (it lies beyond the cut) is not what the band is weighed by;
our choice."""


@dataclass(frozen=True, slots=True)
class Take:
    """One reading of a test as a walk has it: the text, empty for words, and its outcomes."""

    reading: str
    shares: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Reread:
    """A test with all its readings: `joint` is faults x true outcomes, not normalised.

    `counts` is readings x outcomes: what each reading counts as, rows sum to 1; `confusion` true x
    read outcomes.
    """

    joint: Floats
    counts: Floats
    confusion: Floats

    @property
    def weights(self) -> Floats:
        """By fault: the odds of all that was read, but for a factor that all faults share."""
        total: Floats = self.joint.sum(axis=1)
        return total

    @property
    def true(self) -> Floats:
        """Faults x outcomes: odds of the true outcome after all readings; 0 where impossible."""
        total = self.weights[:, None]
        return np.divide(self.joint, total, out=np.zeros_like(self.joint), where=total > 0.0)

    @property
    def next(self) -> Floats:
        """Faults x outcomes: odds of what one more reading would tell."""
        odds: Floats = self.true @ self.confusion
        return odds

    def misread(self, number: int) -> Floats:
        """By fault: the odds that a reading (from 0) was another outcome than the true one."""
        weights = self.counts[number]
        totals = self.confusion @ weights
        right = np.divide(
            weights * np.diag(self.confusion), totals, out=np.zeros_like(totals), where=totals > 0.0
        )
        odds: Floats = 1.0 - self.true @ right
        return odds


def reread(model: Model, witness: Witness | None, test: Test, takes: Sequence[Take]) -> Reread:
    """All readings of one test weighed together; `witness` None goes by the model's rows."""
    outcomes = [outcome.id for outcome in test.outcomes]
    answers = [_answer(model, test, take) for take in takes]
    weights = np.array(
        [[dict(take.shares).get(name, 0.0) for name in outcomes] for take in takes],
        dtype=np.float64,
    )
    joint = np.array([_odds(model, witness, test, fault.id) for fault in model.faults])
    if witness is not None:
        joint, weights = _weigh(witness, test, answers, joint, weights)
    matrix = confusion(test)
    for row in weights:
        joint = joint * (matrix @ row)
    return Reread(joint, weights, matrix)


def _odds(model: Model, witness: Witness | None, test: Test, fault: str) -> list[float]:
    odds = model.row(test.id, fault) if witness is None else witness.outcome_odds(test, fault)
    return [odds.get(outcome.id, 0.0) for outcome in test.outcomes]


def _answer(model: Model, test: Test, take: Take) -> Answer:
    """The answer of a take; a text that is no reading of this test is left to its outcome."""
    if take.reading:
        try:
            return bands.read(take.reading, test, model.arrangement(test.supply))
        except TroubleError:
            pass
    return Answer(test.id, take.shares)


def _weigh(
    witness: Witness, test: Test, answers: Sequence[Answer], odds: Floats, weights: Floats
) -> tuple[Floats, Floats]:
    """Odds with the fit of the number read in each band, and what each reading counts as."""
    joint, counts = odds.copy(), weights.copy()
    columns = {outcome.id: at for at, outcome in enumerate(test.outcomes)}
    deepest = dict.fromkeys(columns, COUNTS)
    for number, answer in enumerate(answers):
        fits = [witness.fits(test, fault.id, answer) for fault in witness.model.faults]
        if not fits[0]:
            continue
        whole = sum(fit.share for fit in fits[0].values())
        counts[number] = 0.0
        for name, fit in fits[0].items():
            counts[number, columns[name]] = fit.share / whole
            if fit.share / whole > deepest[name]:
                deepest[name] = fit.share / whole
                joint[:, columns[name]] = [by[name].standing for by in fits]
    return joint, counts
