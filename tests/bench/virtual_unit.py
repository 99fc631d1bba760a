"""A unit on a virtual bench: fresh simulations answer each test, a person with a meter reads them.

Nothing of the committed readings is used: the unit is a sibling drawn with another seed, its
controller is another model (`other_controller.lib`), the meter adds its error, and, where wanted,
the person is mistaken now and then. Tests that no circuit can answer (questions, eyes, noses), and
cells that the circuit's data argues it can't speak for, are answered by a draw from the model's
row.

What is true of a unit is drawn once, so that a test done again meets the same truth; the meter's
error and the person's mistakes are drawn anew for each reading. All chance hangs on names and
seeds, not on the order of the questions: two walks that ask the same of the same unit hear the
same, and units of other seeds can be tried on the same faults.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random

from engine.circuit.campaign import Workbench
from engine.circuit.running import results
from engine.circuit.taking import Reading, Taking, reading, taking
from engine.circuit.unit import Unit, with_fault
from engine.evidence.scale import METER_SHARE, METER_SHARE_ELSE
from engine.model.records import Fault, Model, Test
from engine.readings import bands as readings
from engine.readings.bands import Answer
from kb.language.circuit import circuit
from kb.quantities import in_base, show

OTHER = (Path(__file__).parent / "other_controller.lib").read_text(encoding="utf-8")
_CONTROLLER = re.compile(r"^\.subckt controller .*?^\.ends[^\n]*$", re.MULTILINE | re.DOTALL)
_KEPT = "\n".join(line for line in OTHER.splitlines() if not line.startswith("*"))


@dataclass(frozen=True, slots=True)
class Person:
    """Who reads the meter: one `name` has one run of luck; `mistakes` is the share of answers
    that are not the true one."""

    name: str
    mistakes: float = 0.0


@dataclass(frozen=True, slots=True)
class Heard:
    """What the person says of a test, what is true, and whether the two were mixed up."""

    answer: Answer
    truth: Reading
    mistaken: bool


@dataclass(frozen=True, slots=True)
class VirtualUnit:
    """One broken unit; `work` keeps simulated figures between runs, `truths` what was shown."""

    place: Workbench
    made: Unit
    fault: Fault
    name: str
    work: Path | None
    truths: dict[str, Reading]

    def answer(self, test: Test, person: Person, take: int = 0) -> Heard:
        """What the person says of a test on this unit when it is done for the `take`-th time."""
        model, told = self.place.model, self.truth(test)
        chance = Random(f"{self.name} {person.name} {test.id} {take}")
        if chance.random() < person.mistakes:
            return Heard(_mistaken(model, test, told, chance), told, True)
        return Heard(_as_answer(model, test, told, chance), told, False)

    def truth(self, test: Test) -> Reading:
        """What a test truly shows on this unit: by its circuit, or drawn from the model's row."""
        if test.id not in self.truths:
            self.truths[test.id] = self._circuit(test) or self._row(test)
        return self.truths[test.id]

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
        jobs = [wanted.job for wanted in taken.needs]
        return reading(taken, results(jobs, self.work))

    def _row(self, test: Test) -> Reading:
        row = self.place.model.row(test.id, self.fault.id)
        chance = Random(f"{self.name} {test.id}")
        drawn = chance.choices(list(row), list(row.values()))[0]
        return Reading(drawn, None, dict[str, float]())


def drawn(
    place: Workbench, fault: Fault, name: str, work: Path | None, truths: dict[str, Reading]
) -> VirtualUnit:
    """A unit of the make, by the odds of the designs, broken; `truths` is what it showed before."""
    weights = [sibling.weight for sibling in place.batch.siblings]
    whole = Random(name).choices(place.batch.units, weights)[0]
    return VirtualUnit(place, with_fault(whole, fault), fault, name, work, truths)


def with_other_controller(taken: Taking) -> Taking:
    """The same test with another controller in the circuit."""
    needs = tuple(
        replace(one, job=replace(one.job, text=_CONTROLLER.sub(_KEPT, one.job.text)))
        for one in taken.needs
    )
    return replace(taken, needs=needs)


def kept_truths(file: Path) -> dict[str, dict[str, Reading]]:
    """What units showed in earlier runs, by the unit's name and the test; empty without a file."""
    if not file.is_file():
        return {}
    raw = json.loads(file.read_text(encoding="utf-8"))
    return {
        name: {test: Reading(o, _number(v), {}, w) for test, (o, v, w) in shown.items()}
        for name, shown in raw.items()
    }


def keep_truths(file: Path, units: dict[str, dict[str, Reading]]) -> None:
    """Write what units showed; the file is whole or as it was."""
    plain = {
        name: {
            test: (told.outcome, "inf" if told.value == math.inf else told.value, told.is_watched)
            for test, told in shown.items()
        }
        for name, shown in units.items()
    }
    file.parent.mkdir(parents=True, exist_ok=True)
    draft = file.with_suffix(".draft")
    draft.write_text(json.dumps(plain), encoding="utf-8")
    draft.replace(file)


def _number(plain: float | str | None) -> float | None:
    return math.inf if plain == "inf" else None if plain is None else float(plain)


def _as_answer(model: Model, test: Test, told: Reading, chance: Random) -> Answer:
    """A number as the meter shows it, or the words of an outcome that is seen."""
    bands = readings.bands(test)
    named = Answer(test.id, ((told.outcome, 1.0),))
    if not bands or told.value is None or told.is_watched:
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
    if band is None or told.is_watched:
        return Answer(test.id, ((wrong, 1.0),))
    unit = in_base(1.0, str(test.outcomes[0].unit)).unit
    low = band.low if math.isfinite(band.low) else 0.0
    _, most = readings.possible(unit, model.arrangement(test.supply))  # beyond it nobody is heard
    high = min(band.high, max(3 * low, 1.0), most)
    value = low + (high - low) * (0.02 + 0.96 * chance.random())
    return readings.read(show(value, unit, 3), test, model.arrangement(test.supply))
