"""The circuit called as a witness: what an answer to a test says of each fault of a model."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from engine.circuit import dictionary as derived
from engine.circuit.dictionary import Cell, Dictionary
from engine.evidence import density as densities
from engine.evidence.density import Density
from engine.evidence.make import Make, NothingKnown, values
from engine.evidence.scale import Scale, scale
from engine.model.records import Model, Test
from engine.readings import bands as readings
from engine.readings.bands import Answer, Band, bands
from kb.language.circuit import Beyond, circuit_of
from kb.trouble import TroubleError

CIRCUIT_WORD = 0.8
"""The circuit's share where both rules and circuit speak. Our choice; the virtual bench of
`tests/bench` finds the same accuracy between a half and nine tenths."""


WATCHED_WORD = 0.5
"""The circuit's share where light or sound is watched: eyes are not simulated. Our choice."""
UNSEEN = 0.1
"""Weight, beside the siblings' 1, of outcomes that none of them showed. Our choice."""


@dataclass(frozen=True, slots=True)
class Testimony:
    """What one answer says: `factors` by fault, the largest 1, and what part of each is misreading.

    The belief after the answer is the belief before times the factors, made to sum to 1.
    """

    factors: Mapping[str, float]
    slips: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Fit:
    """How a reading counts as one outcome: its `share`, on a scale that outcomes have in common,
    and `standing`: the outcome's odds times how much better than a blind guess the number fits."""

    share: float
    standing: float


@dataclass(frozen=True, slots=True)
class Witness:
    """Densities of every measured test of a model under every fault, made when first asked for."""

    model: Model
    dictionary: Dictionary | None
    make: Make
    beyond: tuple[Beyond, ...]
    _densities: dict[tuple[str, str], Density] = field(
        default_factory=dict, compare=False, repr=False
    )
    # of cells by identity: faults that a test can't tell apart share theirs
    _of_cells: dict[tuple[str, int], Density] = field(
        default_factory=dict, compare=False, repr=False
    )
    _scales: dict[str, Scale] = field(default_factory=dict, compare=False, repr=False)

    def density(self, test: Test, fault: str) -> Density:
        """The density of a measured test under a fault; the background where nothing was derived.

        KeyError for a test that is not read off a meter.
        """
        own = self._densities.get((test.id, fault))
        if own is None:
            own = self._derive_density(test, fault, self._scale(test))
            self._densities[test.id, fault] = own
        return own

    def _scale(self, test: Test) -> Scale:
        on = self._scales.get(test.id) or scale(self.model, test)
        if on is None:
            raise KeyError(test.id)
        self._scales[test.id] = on
        return on

    def read(self, test: Test, fault: str) -> bool:
        """Whether the circuit has a word for a cell."""
        return len(self.density(test, fault).weights) > 0 or self.density(test, fault).over > 0

    def speaks(self, test: Test) -> bool:
        """Whether the circuit was read at a measured test at all."""
        return any(band for band in bands(test)) and any(
            self.read(test, fault.id) for fault in self.model.faults
        )

    def odds(self, test: Test, fault: str) -> dict[str, float]:
        """Odds of each true outcome of a measured test: rules and circuit, each with its share."""
        rules, density = self.model.row(test.id, fault), self.density(test, fault)
        word = CIRCUIT_WORD if self.read(test, fault) else 0.0
        return {
            band.outcome: (1 - word) * rules.get(band.outcome, 0.0)
            + (word * density.mass(band.low, band.high) if word else 0.0)
            for band in bands(test)
        }

    def testimony(
        self, test_id: str, reading: str, shares: tuple[tuple[str, float], ...]
    ) -> Testimony | None:
        """What an answer says as a walk has it written down; None where the rows speak alone.

        A text that is no reading of this test (knowledge changes) is left to its outcome.
        """
        test = self.model.test(test_id)
        if not reading:
            return self.weigh(Answer(test_id, shares))
        try:
            answer = readings.read(reading, test, self.model.arrangement(test.supply))
        except TroubleError:
            return None
        return self.weigh(answer)

    def weigh(self, answer: Answer) -> Testimony | None:
        """What an answer says of each fault; None where the model's rows speak alone.

        That is so where the circuit was not read at this test, and for words of a measured test.
        """
        test = self.model.test(answer.test)
        if answer.low is None or answer.high is None:
            return self._weigh_words(test, answer)
        if not self.speaks(test):
            return None
        right, wrong = {}, {}
        for fault in self.model.faults:
            right[fault.id], wrong[fault.id] = self._heights(test, fault.id, answer)
        return _testimony(right, wrong)

    def fits(self, test: Test, fault: str, answer: Answer) -> dict[str, Fit]:
        """By outcome: how a reading of a measured test counts, for what a second one adds to it.

        Empty for words and where the circuit was not read at this test.
        """
        if answer.low is None or answer.high is None or not self.speaks(test):
            return {}
        rules, density = self.model.row(test.id, fault), self.density(test, fault)
        word = CIRCUIT_WORD if self.read(test, fault) else 0.0
        fit_of = {}
        for band, share, blind in _parts(answer, test, density):
            mass = density.mass(band.low, band.high)
            rule_part = (1 - word) * rules.get(band.outcome, 0.0)
            height = share * (word + (rule_part / mass if mass > 0.0 else 0.0))
            if blind > 0.0:
                inside = blind * density.blind(band.low, band.high)
                fit_of[band.outcome] = Fit(inside, height / blind)
        return fit_of

    def outcome_odds(self, test: Test, fault: str) -> dict[str, float]:
        """Odds of each true outcome by rules and circuit, measured or watched."""
        if not bands(test):
            return self._word_odds(test, fault)
        if self.speaks(test):
            return self.odds(test, fault)
        return dict(self.model.row(test.id, fault))

    def _weigh_words(self, test: Test, answer: Answer) -> Testimony | None:
        """The law for a watched test, where an outcome has odds and no density."""
        if bands(test) or not any(self._outcome_weights(test, f.id) for f in self.model.faults):
            return None
        right, wrong = dict[str, float](), dict[str, float]()
        for fault in self.model.faults:
            odds = self._word_odds(test, fault.id)
            right[fault.id] = wrong[fault.id] = 0.0
            for outcome, share in answer.shares:
                slips = sum(test.misread.get(outcome, {}).values())
                right[fault.id] += share * odds[outcome] * (1.0 - slips)
                wrong[fault.id] += share * sum(
                    p * test.misread.get(true, {}).get(outcome, 0.0)
                    for true, p in odds.items()
                    if true != outcome
                )
        return _testimony(right, wrong)

    def _word_odds(self, test: Test, fault: str) -> dict[str, float]:
        """Odds of each outcome of a watched test: rules, and the siblings' shares."""
        rules, weights = self.model.row(test.id, fault), self._outcome_weights(test, fault)
        ids = [outcome.id for outcome in test.outcomes]
        if not weights:
            return {name: rules.get(name, 0.0) for name in ids}
        total = sum(weights.values()) + UNSEEN
        return {
            name: (1 - WATCHED_WORD) * rules.get(name, 0.0)
            + WATCHED_WORD * (weights.get(name, 0.0) + UNSEEN / len(ids)) / total
            for name in ids
        }

    def _outcome_weights(self, test: Test, fault: str) -> dict[str, float]:
        """The weights of the outcomes that the units show; empty where fewer than two were seen."""
        dictionary = self.dictionary
        if dictionary is None or _is_beyond(self.beyond, fault, test.id):
            return {}
        cell = dictionary.cell(test.id, fault)
        if cell is None or not cell.samples:
            return {}
        units = self.make.weights or tuple(unit.weight for unit in dictionary.units)
        pairs = (
            (cell.outcome, _nominal(dictionary, units)),
            *zip((outcome for outcome, _ in cell.samples), units, strict=False),
        )
        ids = {outcome.id for outcome in test.outcomes}
        weights: dict[str, float] = {}
        for outcome, weight in pairs:
            if outcome in ids and weight > 0.0:
                weights[outcome] = weights.get(outcome, 0.0) + weight
        return weights

    def _heights(self, test: Test, fault: str, answer: Answer) -> tuple[float, float]:
        """The law of the package's head, over the background's density: read right, and misread."""
        rules, density = self.model.row(test.id, fault), self.density(test, fault)
        word = CIRCUIT_WORD if self.read(test, fault) else 0.0
        odds = self.odds(test, fault)
        right = wrong = 0.0
        for band, share, blind in _parts(answer, test, density):
            mass = density.mass(band.low, band.high)
            rule_part = (1 - word) * rules.get(band.outcome, 0.0)
            told_right = 1.0 - sum(test.misread.get(band.outcome, {}).values())
            right += told_right * share * (word + (rule_part / mass if mass > 0.0 else 0.0))
            slips = sum(
                p * test.misread.get(other, {}).get(band.outcome, 0.0)
                for other, p in odds.items()
                if other != band.outcome
            )
            wrong += slips * blind
        return right, wrong

    def _derive_density(self, test: Test, fault: str, on: Scale) -> Density:
        cell = None
        if self.dictionary is not None and not _is_beyond(self.beyond, fault, test.id):
            cell = self.dictionary.cell(test.id, fault)
        if self.dictionary is None or cell is None:
            return densities.background(on)
        own = self._of_cells.get((test.id, id(cell)))
        if own is None:
            own = self._of_cells[test.id, id(cell)] = self._around(test, cell, self.dictionary, on)
        return own

    def _around(self, test: Test, cell: Cell, dictionary: Dictionary, on: Scale) -> Density:
        units = self.make.weights or tuple(unit.weight for unit in dictionary.units)
        weights = tuple(unit.weight for unit in dictionary.units)
        points = [
            (value, weight, before)
            for value, weight, before in zip(
                self._values(test.id, cell),
                (_nominal(dictionary, units), *units),
                (_nominal(dictionary, weights), *weights),
                strict=False,
            )
            if value is not None
        ]
        return densities.around(
            on, [value for value, _, _ in points], [weight for _, weight, _ in points],
            [before for _, _, before in points],
        )  # fmt: skip

    def _values(self, test: str, cell: Cell) -> tuple[float | None, ...]:
        """Readings of nominal and siblings; those like the sound unit's move to the good unit's."""
        plain = values(cell)
        good = self.make.expected.get(test)
        sound = self.dictionary.cell(test, SOUND) if self.dictionary else None
        if good is None or sound is None:
            return plain
        numbers: list[float | None] = []
        for value, whole in zip(plain, values(sound), strict=False):
            alike = (
                value is not None
                and whole is not None
                and math.isfinite(value)
                and abs(value - whole) <= ALIKE * abs(whole)
            )
            numbers.append(good if alike else value)
        return tuple(numbers)


SOUND = "no-fault"
ALIKE = 0.05
"""Within a twentieth of what the sound sample reads, a fault leaves the reading as it is."""


def witness(
    model: Model, dictionary: Dictionary | None = None, make: Make = NothingKnown
) -> Witness:
    """The witness for a model; no dictionary: the bands alone speak."""
    data = circuit_of(model.topology)
    beyond = data.beyond if data is not None else ()
    return Witness(model, None if make.silent else dictionary, make, beyond)


def load_witness(model: Model, make: Make = NothingKnown) -> Witness:
    """The witness with the committed readings of the model's topology and mains, if any.

    TroubleError for a damaged file of readings.
    """
    return witness(model, derived.read(model.topology, model.mains), make)


def _nominal(dictionary: Dictionary, units: Sequence[float]) -> float:
    """The nominal unit's weight: that of one more sibling, as far as its design still stands."""
    if not units:
        return 1.0
    pairs = zip(dictionary.units, units, strict=False)
    return sum(weight for unit, weight in pairs if unit.design == 0) / len(units)


def _testimony(right: Mapping[str, float], wrong: Mapping[str, float]) -> Testimony | None:
    most = max(right[f] + wrong[f] for f in right)
    if not most > 0.0:
        return None
    return Testimony(
        {f: (right[f] + wrong[f]) / most for f in right},
        {f: wrong[f] / (right[f] + wrong[f]) if right[f] + wrong[f] else 1.0 for f in right},
    )


def _parts(answer: Answer, test: Test, density: Density) -> Iterator[tuple[Band, float, float]]:
    """Bands an answer touches, with the cell's and the background's share of it, per background.

    For a plain reading these are densities over the background's, for a range masses.
    """
    low, high = answer.low, answer.high
    assert low is not None
    assert high is not None
    over = answer.reading == OVER
    for band in bands(test):
        blind = density.blind(band.low, band.high)
        if over:
            if band.high == math.inf:
                yield band, density.share(math.inf), 1.0 / blind if blind else 0.0
            continue
        if low == high:
            inside = density.scale.inside(low, band.low, band.high)
            if inside > NOT_INSIDE:
                yield band, inside * density.share(low), inside / blind if blind else 0.0
            continue
        least, most = max(low, band.low), min(high, band.high)
        if least < most:
            inside = density.blind(least, most) / blind if blind else 0.0
            yield band, density.mass(least, most), inside


OVER = "over range"
NOT_INSIDE = 1e-6
"""A plain reading no further inside a band than this is none of the band's; of the algorithm."""


def _is_beyond(beyond: tuple[Beyond, ...], fault: str, test: str) -> bool:
    return any(
        _matches(entry.faults, fault) and _matches(entry.tests or ".*", test) for entry in beyond
    )


@lru_cache(maxsize=16384)
def _matches(pattern: str, name: str) -> bool:
    return re.fullmatch(pattern, name) is not None
