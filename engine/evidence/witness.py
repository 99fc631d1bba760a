"""The circuit called as a witness: what a test of a model reads under each fault, by design."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from engine.circuit import dictionary as derived
from engine.circuit.dictionary import Cell, Dictionary
from engine.evidence import density as densities
from engine.evidence import following
from engine.evidence import make as makes
from engine.evidence.density import Density
from engine.evidence.following import ALIKE, Reference, padded
from engine.evidence.make import Make, NothingKnown, values
from engine.evidence.scale import Floats, Scale, scale
from engine.evidence.table import Table
from engine.model.records import Model, Test
from engine.readings.bands import bands
from kb.language.circuit import Beyond, circuit_of

CIRCUIT_WORD = 0.8
"""The circuit's share where both rules and circuit speak. Our choice; the virtual bench of
`tests/bench` finds the same accuracy between a half and nine tenths."""


WATCHED_WORD = 0.5
"""The circuit's share where light or sound is watched: eyes are not simulated. Our choice."""
UNSEEN = 0.1
"""Weight, beside the siblings' 1, of outcomes that none of them showed. Our choice."""


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
    _beyond_of: dict[str, tuple[Beyond, ...]] = field(
        default_factory=dict, compare=False, repr=False
    )
    # what `engine.evidence.joint` makes of it, by test
    tables: dict[str, Table] = field(default_factory=dict, compare=False, repr=False)

    def narrower(self, make: Make) -> Witness:
        """This witness for a unit of which more is known; nothing kept is carried over."""
        return Witness(self.model, self.dictionary, make, self.beyond)

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

    def units(self) -> Floats:
        """[N] weights of the nominal unit and the sampled ones by what is known of this one."""
        return self._with_nominal(self.make.weights)

    def draws(self) -> Floats:
        """[N] as `units`, before anything was known."""
        return self._with_nominal(())

    def _with_nominal(self, narrower: Sequence[float]) -> Floats:
        if self.dictionary is None or not self.dictionary.units:
            return np.ones(1)
        units = narrower or tuple(unit.weight for unit in self.dictionary.units)
        weights = np.array([_nominal(self.dictionary, units), *units])
        shares: Floats = weights / weights.sum()
        return shares

    def scale(self, test: Test) -> Scale | None:
        """The scale of a measured test; None for one that is only watched."""
        return scale(self.model, test)

    def numbers(self, test: Test, fault: str) -> tuple[float | None, ...] | None:
        """The readings of a cell by design, nominal first; None where the circuit has no word."""
        cell = self._cell(test, fault)
        return None if cell is None else values(cell)

    def reference(self, test: Test) -> Reference | None:
        """What readings of a measured test go with: a good unit's, else a marking; or None."""
        cell = self.dictionary.cell(test.id, SOUND) if self.dictionary else None
        on, good = self.scale(test), self.make.expected.get(test.id)
        if self.dictionary is None or cell is None or on is None:
            return None
        units = self.dictionary.units
        sound = padded(values(cell), len(units) + 1)
        if good is not None:
            return following.by_good_unit(on, sound, good)
        markings = {p: v for p, v in self.make.markings.items() if p in self.dictionary.listed}
        own = {
            part: (self.dictionary.listed[part], *(unit.values.get(part) for unit in units))
            for part in markings
        }
        return following.by_marking(on, sound, own, markings, self.draws())

    def outcomes(self, test: Test, fault: str) -> tuple[str | None, ...] | None:
        """The watched outcomes of a cell by design, nominal first; None as for `numbers`, and where
        fewer than two units were simulated."""
        cell = self._cell(test, fault)
        if cell is None or not cell.samples:
            return None
        return (cell.outcome, *(outcome for outcome, _ in cell.samples))

    def _cell(self, test: Test, fault: str) -> Cell | None:
        if self.dictionary is None or self._is_argued(test.id, fault):
            return None
        return self.dictionary.cell(test.id, fault)

    def _is_argued(self, test: str, fault: str) -> bool:
        """Whether the circuit's data says that it can't speak for a cell."""
        own = self._beyond_of.get(test)
        if own is None:
            own = tuple(one for one in self.beyond if _matches(one.tests or ".*", test))
            self._beyond_of[test] = own
        return any(_matches(one.faults, fault) for one in own)

    def _derive_density(self, test: Test, fault: str, on: Scale) -> Density:
        cell = self._cell(test, fault)
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


SOUND = makes.SOUND


def witness(
    model: Model, dictionary: Dictionary | None = None, make: Make = NothingKnown
) -> Witness:
    """The witness for a model; no dictionary: the bands alone speak."""
    data = circuit_of(model.topology)
    beyond = tuple(one for one in data.beyond if not one.heeded) if data is not None else ()
    return Witness(model, dictionary, make, beyond)


def load_witness(model: Model, make: Make = NothingKnown) -> Witness:
    """The witness with the committed readings of the model's topology and mains, if any.

    TroubleError for a damaged file of readings.
    """
    return witness(model, derived.read(model.topology, model.mains), make)


def _nominal(dictionary: Dictionary, units: Sequence[float]) -> float:
    """The nominal unit's weight: that of one more sibling, as far as units of its values still
    stand; where none has them to the letter, as far as all do."""
    if not units:
        return 1.0
    pairs = list(zip(dictionary.units, units, strict=False))
    alike = [weight for unit, weight in pairs if unit.values == dictionary.listed]
    return sum(alike) / len(units) if alike else 1.0 / len(units)


OVER = "over range"


@lru_cache(maxsize=16384)
def _matches(pattern: str, name: str) -> bool:
    return re.fullmatch(pattern, name) is not None
