"""A unit on a virtual bench: fresh simulations answer each test, a person with a meter reads them.

Nothing of the committed readings is used: the unit is a sibling drawn with another seed, its
controller is another model (`other_controller.lib`), the meter adds its error, and, where wanted,
the person is mistaken now and then. Tests that no circuit can answer (questions, eyes, noses), and
cells that the circuit's data argues it can't speak for, are answered by a draw from the model's
row.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random

from engine import readings
from engine.circuit.campaign import Workbench
from engine.circuit.running import results
from engine.circuit.taking import Reading, Taking, reading, taking
from engine.circuit.unit import Unit, broken
from engine.evidence.scale import METER_SHARE, METER_SHARE_ELSE
from engine.model import Fault, Model, Test
from engine.readings import Answer
from kb.circuit import circuit
from kb.quantities import in_base, show

OTHER = (Path(__file__).parent / "other_controller.lib").read_text(encoding="utf-8")
_CONTROLLER = re.compile(r"^\.subckt controller .*?^\.ends[^\n]*$", re.MULTILINE | re.DOTALL)
_KEPT = "\n".join(line for line in OTHER.splitlines() if not line.startswith("*"))


@dataclass(frozen=True, slots=True)
class Person:
    """Who reads the meter; `mistakes` is the share of answers that are not the true one."""

    chance: Random
    mistakes: float = 0.0


@dataclass(frozen=True, slots=True)
class VirtualUnit:
    """One broken unit; `work` keeps simulated figures between runs."""

    place: Workbench
    made: Unit
    fault: Fault
    work: Path | None

    def answer(self, test: Test, person: Person) -> Answer:
        """What the person says of a test on this unit."""
        model = self.place.model
        told = self._circuit(test) or self._row(test, person)
        if person.chance.random() < person.mistakes:
            return _mistaken(model, test, told, person.chance)
        return _as_answer(model, test, told, person.chance)

    def _circuit(self, test: Test) -> Reading | None:
        beyond = circuit(self.place.model.topology).beyond
        if any(
            re.fullmatch(known.faults, self.fault.id) and re.fullmatch(known.tests or ".*", test.id)
            for known in beyond
        ):
            return None
        taken = taking(self.made, self.place.bench, test)
        if taken is None:
            return None
        taken = with_other_controller(taken)
        jobs = [wanted.job for wanted in taken.wanted]
        return reading(taken, results(jobs, self.work))

    def _row(self, test: Test, person: Person) -> Reading:
        row = self.place.model.row(test.id, self.fault.id)
        drawn = person.chance.choices(list(row), list(row.values()))[0]
        return Reading(drawn, None, dict[str, float]())


def drawn(place: Workbench, fault: Fault, chance: Random, work: Path | None) -> VirtualUnit:
    """A unit of the make, by the odds of the designs, broken."""
    weights = [sibling.weight for sibling in place.batch.siblings]
    whole = chance.choices(place.batch.units, weights)[0]
    return VirtualUnit(place, broken(whole, fault), fault, work)


def with_other_controller(taken: Taking) -> Taking:
    """The same test with another controller in the circuit."""
    wanted = tuple(
        replace(one, job=replace(one.job, text=_CONTROLLER.sub(_KEPT, one.job.text)))
        for one in taken.wanted
    )
    return replace(taken, wanted=wanted)


def _as_answer(model: Model, test: Test, told: Reading, chance: Random) -> Answer:
    """A number as the meter shows it, or the words of an outcome that is seen."""
    bands = readings.bands(test)
    named = Answer(test.id, ((told.outcome, 1.0),))
    if not bands or told.value is None or told.watched:
        return named
    unit = in_base(1.0, str(test.outcomes[0].unit)).unit
    if math.isinf(told.value):
        return readings.read("OL", test, model.arrangement(test.supply))
    error = chance.gauss(0.0, METER_SHARE.get(unit, METER_SHARE_ELSE))
    low, high = readings.possible(unit, model.arrangement(test.supply))
    value = min(max(told.value * (1.0 + error), max(low, 0.0)), high)
    return readings.read(show(value, unit, 3), test, model.arrangement(test.supply))


def _mistaken(model: Model, test: Test, told: Reading, chance: Random) -> Answer:
    """Another outcome than the true one; a number from its band where it is measured."""
    others = [o.id for o in test.outcomes if o.id != told.outcome]
    wrong = chance.choice(others)
    band = next((b for b in readings.bands(test) if b.outcome == wrong), None)
    if band is None or told.watched:
        return Answer(test.id, ((wrong, 1.0),))
    unit = in_base(1.0, str(test.outcomes[0].unit)).unit
    low = band.low if math.isfinite(band.low) else 0.0
    high = min(band.high, max(3 * low, 1.0))
    value = low + (high - low) * (0.02 + 0.96 * chance.random())
    return readings.read(show(value, unit, 3), test, model.arrangement(test.supply))
