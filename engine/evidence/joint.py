"""Belief over fault and design together: all readings of one unit are weighed as one unit's.

**The law.** A unit has one fault f and one design n (one maker's choice of values and small parts,
drawn with its tolerances). Given both, answers are independent, so

    P(answers | f) = sum over n of v(n) prod over tests t of p(answers of t | f, n)

with v the designs' weights by what is known of the unit, and for one test with readings a1..ak

    p(a1..ak | f, n) = sum over true outcomes o of P(o | f, n) s(f, n, o) prod over i of
                       sum over b of c_i(b) m(o -> b)

m being the test's misreads, c_i(b) how far reading i counts as outcome b, P(o | f, n) the rules'
odds and the design's, each with its share, and s how much better than a blind guess the number read
in o's band fits there. Where b is not o the term is less by how much worse than a blind guess the
number fits in b by all faults' readings: who misreads is no likelier than who reads right to tell a
number that no unit shows. A number is weighed once, by the reading that lies deepest in its band: a
second one near it says that the first was read right and nothing more. What one reading tells of
the design is thereby known when the next one is weighed: an offset counts once, repeats count once,
the order of the answers does not matter.

Where a fault has manners (`engine.model.records.Manner`: a controller without its supply capacitor
stays dark in one unit and dim in another), the manner is drawn once for the unit like the design,
and P(answers | f) is the mean over both.

The factor of one answer is P(answers with it | f) over P(answers without it | f). Where the
circuit has no word for a test all designs say the same, and the law is Bayes' rule with the rows.

O(faults x designs x outcomes) for a test, kept; O(faults x designs x tests) for an answer. The
model is a naive Bayes net with the design as second root: J. Pearl, Probabilistic Reasoning in
Intelligent Systems (1988), 2.2; the design as a latent class: P. F. Lazarsfeld, N. W. Henry, Latent
Structure Analysis (1968).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from engine.evidence import table as tables
from engine.evidence.manners import Ways
from engine.evidence.scale import Floats
from engine.evidence.table import UNLISTED, UNLISTED_IF_FAR, Kernels, Table
from engine.evidence.witness import CIRCUIT_WORD, OVER, SOUND, UNSEEN, WATCHED_WORD, Witness
from engine.model.records import Test
from engine.readings import bands as readings
from engine.readings.bands import Answer
from engine.readings.belief import Surprise
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


History = Mapping[str, tuple[Take, ...]]
"""All readings so far by test, those of one test in order."""


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


@dataclass(frozen=True, slots=True)
class Testimony:
    """What one answer says: `factors` by fault, the largest 1, and `slips`: the odds under each
    fault that it was misread.

    The belief after the answer is the belief before times the factors, made to sum to 1.
    """

    factors: Mapping[str, float]
    slips: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Cube:
    """p(readings, true outcome | fault, design) of one test, [F, N + 1, O]; `counts` as above;
    `logs` [F, N + 1] of all outcomes' odds together."""

    odds: Floats
    counts: Floats
    logs: Floats


@dataclass(frozen=True, slots=True)
class Joint:
    """Fault and design of one unit under a witness. Tables and cubes are kept once made: tables,
    which are large and follow from the witness alone, with it, for all units that it speaks of."""

    witness: Witness
    ways: Ways = field(init=False, compare=False, repr=False)
    _cubes: dict[tuple[str, tuple[Answer, ...]], Cube] = field(
        default_factory=dict, compare=False, repr=False
    )
    _texts: dict[tuple[str, Take], Answer] = field(
        default_factory=dict, compare=False, repr=False
    )

    def __post_init__(self) -> None:
        object.__setattr__(self, "ways", Ways.of(self.witness.model))

    @property
    def prior(self) -> Floats:
        """[N + 1] the designs' weights by what is known of the unit, the unlisted one last."""
        unlisted = UNLISTED_IF_FAR if self.witness.make.far else UNLISTED
        return np.append((1.0 - unlisted) * self.witness.units(), unlisted)

    def table(self, test: Test) -> Table:
        """The test's readings by fault and design; of a fault with manners the mean over them."""
        return tables.first_rows(self._wide(test), self.ways.faults)

    def _wide(self, test: Test) -> Table:
        """The same with a row for each manner after those of the faults."""
        tables_of_witness = self.witness.tables
        own = tables_of_witness.get(test.id)
        if own is None:
            own = tables_of_witness[test.id] = self._table(test)
        return own

    def speaks(self, test: Test, answer: Answer) -> bool:
        """Whether more than the rows is to be asked: a manner shows here, or the circuit has a word
        for this answer; to words of a measured test it has none."""
        if test.id in self.ways.sights:
            return True
        table = self._wide(test)
        if not table.word.any():
            return False
        return not readings.bands(test) or answer.low is not None

    def testimony(self, history: History, test: str, take: Take) -> Testimony | None:
        """What an answer says of each fault after all that `history` holds; None where the model's
        rows speak alone.

        Raises `engine.readings.belief.Surprise` where no fault can have told all of a test.
        """
        record = self.witness.model.test(test)
        before = self._answers(record, history.get(test, ()))
        return self._testimony(history, record, before, self._answer(record, take))

    def weigh(self, answer: Answer) -> Testimony | None:
        """What an answer says of each fault as the first one of a unit; None as above."""
        return self._testimony({}, self.witness.model.test(answer.test), (), answer)

    def _testimony(
        self, history: History, test: Test, before: tuple[Answer, ...], answer: Answer
    ) -> Testimony | None:
        if not before and not self.speaks(test, answer):
            return None
        now = self._reread(history, test, (*before, answer))
        weights = now.weights
        if before:
            old = self._reread(history, test, before).weights
            weights = np.divide(weights, old, out=np.zeros_like(weights), where=old > 0.0)
        most = float(weights.max())
        if not most > 0.0:
            raise Surprise(test.id, answer.outcome)
        faults = [fault.id for fault in self.witness.model.faults]
        slips = now.misread(len(before))
        return Testimony(
            dict(zip(faults, (weights / most).tolist(), strict=True)),
            dict(zip(faults, slips.tolist(), strict=True)),
        )

    def odds(self, test: Test, fault: str) -> dict[str, float]:
        """Odds of each true outcome of a test by rules and circuit, before anything was read."""
        at = [one.id for one in self.witness.model.faults].index(fault)
        row = self.prior @ self._wide(test).odds[at]
        return dict(zip((o.id for o in test.outcomes), row.tolist(), strict=True))

    def reread(self, history: History, test: str, takes: Sequence[Take]) -> Reread:
        """A test with these readings, after all that `history` holds of other tests."""
        record = self.witness.model.test(test)
        return self._reread(history, record, self._answers(record, takes))

    def _reread(self, history: History, test: Test, answers: tuple[Answer, ...]) -> Reread:
        cube = self._cube(test, answers)
        shares = self._shares({name: own for name, own in history.items() if name != test.id})
        joint = self.ways.gather(np.einsum("wn,wno->wo", shares, cube.odds))
        return Reread(joint, cube.counts, confusion(test))

    def designs(self, history: History) -> Floats:
        """[F, N + 1] odds of each design under each fault after all readings; rows sum to 1."""
        return self.ways.gather(self._shares(history))

    def forecast(self, history: History, test: Test) -> Floats:
        """[F, O] odds of each true outcome of a test under each fault after all readings."""
        shares = self._shares(history)
        return self.ways.gather(np.matmul(shares[:, None, :], self._wide(test).odds)[:, 0, :])

    def _shares(self, history: History) -> Floats:
        """[W, N + 1] odds of each way and design under their fault after all readings; the rows of
        a fault sum to 1 together."""
        logs = self._logs(history)
        odds = np.exp(logs - self.ways.greatest(logs.max(axis=1))[:, None])
        shares: Floats = odds / self.ways.sums(odds.sum(axis=1))[:, None]
        return shares

    def support(self, history: History) -> Floats:
        """[F] logs of the odds of all readings under each fault, the same whatever order they came
        in; what a witness with more known of the unit says beside this is what that tells."""
        logs = self._logs(history)
        most = self.ways.greatest(logs.max(axis=1))
        odds = self.ways.sums(np.exp(logs - most[:, None]).sum(axis=1))
        total: Floats = (most + np.log(odds))[: self.ways.faults]
        return total

    def _logs(self, history: History) -> Floats:
        """[W, N + 1] logs of each way's and design's odds times those of all readings under both.
        """
        logs = self.ways.logs[:, None] + np.log(np.maximum(self.prior, _LEAST))
        for test, takes in history.items():
            if takes:
                record = self.witness.model.test(test)
                logs += self._cube(record, self._answers(record, takes)).logs
        return logs

    def _table(self, test: Test) -> Table:
        witness = self.witness
        faults = self.ways.ids
        rules, prior = tables.rule_rows(test, self.ways.rows(test)), witness.units()
        draws = witness.draws()
        on = witness.scale(test)
        if on is None:
            sights = [witness.outcomes(test, fault) for fault in faults]
            return tables.watch_table(
                test, rules, sights, prior, draws, self._priors(), WATCHED_WORD, UNSEEN
            )
        numbers = [witness.numbers(test, fault) for fault in faults]
        if not any(numbers):
            return tables.silent(rules, len(prior))
        parts = readings.bands(test)
        reference = witness.reference(test)
        return tables.meter_table(
            test, on, parts, self._as_good_unit(test, rules), numbers, prior, draws,
            self._priors(), CIRCUIT_WORD, reference,
        )  # fmt: skip

    def _as_good_unit(self, test: Test, rules: Floats) -> Floats:
        """The rules' odds with what a sound unit shows put where the good unit reads: whatever
        leaves a reading as due leaves it there."""
        good = self.witness.make.expected.get(test.id)
        faults = self.ways.ids
        if good is None or SOUND not in faults:
            return rules
        ids = [outcome.id for outcome in test.outcomes]
        due = int(rules[faults.index(SOUND)].argmax())
        there = next(b.outcome for b in readings.bands(test) if b.low <= good < b.high)
        shift, at = rules.copy(), ids.index(there)
        if at != due:
            shift[:, at] += shift[:, due]
            shift[:, due] = 0.0
        return shift

    def _priors(self) -> Floats:
        return self.ways.priors

    def _cube(self, test: Test, answers: tuple[Answer, ...]) -> Cube:
        key = (test.id, answers)
        own = self._cubes.get(key)
        if own is None:
            own = self._cubes[key] = self._weigh_answers(test, answers)
        return own

    def _weigh_answers(self, test: Test, answers: tuple[Answer, ...]) -> Cube:
        table, ids = self._wide(test), [outcome.id for outcome in test.outcomes]
        counts = np.array([[dict(one.shares).get(name, 0.0) for name in ids] for one in answers])
        is_measured = bool(readings.bands(test))
        if is_measured and all(answer.low is None for answer in answers):  # words are the rules'
            odds = np.repeat(table.rules[:, None, :], table.word.shape[1], axis=1)
        else:
            odds = table.odds.copy()
        usual = np.ones_like(counts)
        if table.kernels is not None:
            _weigh_numbers(table, table.kernels, test, answers, odds, counts, usual)
        matrix = confusion(test)
        right = np.diag(np.diag(matrix))
        for row, seldom in zip(counts, usual, strict=True):
            odds = odds * (right @ row + (matrix - right) @ (row * seldom))
        return Cube(odds, counts, np.log(np.maximum(odds.sum(axis=2), _LEAST)))

    def _answers(self, test: Test, takes: Sequence[Take]) -> tuple[Answer, ...]:
        return tuple(self._answer(test, take) for take in takes)

    def _answer(self, test: Test, take: Take) -> Answer:
        """The answer of a take, read once: each of a history is asked for at each later answer."""
        own = self._texts.get((test.id, take))
        if own is None:
            own = self._texts[test.id, take] = self._read(test, take)
        return own

    def _read(self, test: Test, take: Take) -> Answer:
        """The answer of a take; a text that is no reading of this test is left to its outcome."""
        if take.reading:
            try:
                return readings.read(
                    take.reading, test, self.witness.model.arrangement(test.supply)
                )
            except TroubleError:
                pass
        return Answer(test.id, take.shares)


_LEAST = 1e-300
"""Under any odds that are meant; of the algorithm."""


def _weigh_numbers(
    table: Table,
    kernels: Kernels,
    test: Test,
    answers: Sequence[Answer],
    odds: Floats,
    counts: Floats,
    usual: Floats,
) -> None:
    """Puts how well the number read in each band fits into `odds`, into `counts` what each reading
    counts as, and into `usual` how usual a number is where it would be a misread one."""
    columns = {outcome.id: at for at, outcome in enumerate(test.outcomes)}
    deepest = dict.fromkeys(columns, COUNTS)
    for number, answer in enumerate(answers):
        if answer.low is None or answer.high is None:
            continue
        shares = {
            band.outcome: (share, ratio) for band, share, ratio in _parts(kernels, answer)
        }
        whole = sum(share for share, _ in shares.values())
        if not whole > 0.0:
            continue
        counts[number] = 0.0
        for name, (share, ratio) in shares.items():
            at = columns[name]
            counts[number, at] = share / whole
            if share / whole > deepest[name]:
                deepest[name] = share / whole
                odds[:, :, at] = _standing(table, kernels, name, at, ratio)
                usual[:, at], usual[number, at] = 1.0, min(1.0, _usual(kernels, name, at, ratio))


def _standing(table: Table, kernels: Kernels, name: str, at: int, ratio: Floats) -> Floats:
    """[F, N + 1] odds of an outcome times how much better than a blind guess a number fits there.

    To the rules a number is its band and nothing more: within it their word has the shape of the
    fault's own simulated readings there, that of all faults' where it has none; of a fault that was
    not simulated it is as wide as the sampled designs are where the rules say the same. So what was
    not simulated gains nothing from a number that is unusual for a reason of its own, such as
    another maker's value, and a wide band gives nobody a reading that none of its units shows.
    """
    blind = _blind(kernels, name)
    ratio = kernels.within(ratio, blind, at)
    shapes = kernels.shapes(ratio, blind, at)
    rules = (1.0 - table.word) * (kernels.rules[:, at] * shapes)[:, None]
    return kernels.unlike(table.word * ratio * blind + rules)


def _usual(kernels: Kernels, name: str, at: int, ratio: Floats) -> float:
    """How usual a number is in a band: its density by all faults' readings over a blind guess's."""
    blind = _blind(kernels, name)
    return kernels.usual(kernels.within(ratio, blind, at), blind, at)


def _blind(kernels: Kernels, name: str) -> float:
    band = next(one for one in kernels.bands if one.outcome == name)
    return tables.blind_of(kernels.scale, band.low, band.high)


def _parts(kernels: Kernels, answer: Answer) -> list[tuple[readings.Band, float, Floats]]:
    """Bands an answer touches, how far it counts as each, and its density over a blind guess's."""
    low, high, scale = answer.low, answer.high, kernels.scale
    assert low is not None
    assert high is not None
    if answer.reading == OVER:
        heights = kernels.heights(math.inf)
        return [(band, 1.0, heights) for band in kernels.bands if band.high == math.inf]
    touching = []
    if low == high:
        heights = kernels.heights(low)
        for band in kernels.bands:
            inside = scale.inside(low, band.low, band.high)
            if inside > NOT_INSIDE:
                touching.append((band, inside, heights))
        return touching
    for band in kernels.bands:
        least, most = max(low, band.low), min(high, band.high)
        blind = tables.blind_of(scale, least, most) if least < most else 0.0
        if blind > 0.0:
            touching.append((band, blind, kernels.inside(least, most) / blind))
    return touching


NOT_INSIDE = 1e-6
"""A plain reading no further inside a band than this is none of the band's; of the algorithm."""
