"""The virtual bench: does a walk find the fault of a unit that is simulated afresh?

    python -m tests.bench.virtual_bench [TOPOLOGY ...] [--mains 230 120] [--seed N] [--units N]
        [--persons N] [--mistakes 0 0.03] [--faults N] [--only FAULT ...] [--json FILE]

For every fault of both topologies and both mains units are drawn with another seed than the
readings', by the odds of the designs, with another controller model; a walk asks, the unit is
simulated for each answer, the meter adds its error, and in the second round 3 % of all answers are
another one than the true one, for several persons with luck of their own. A fault that shows
nothing at the socket where the trade rules see a symptom is drawn again, up to eight times: nobody
brings such a lamp. A walk is right if its first verdict is a remedy that cures the fault. Where it
is not, the proof after the repair fails, the person says so and the walk goes on, for three
repairs at most; what that takes is counted apart. A sound unit passes every proof: it has one try.

What units showed is kept in the user's cache folder for as long as circuit, bench, controller and
knowledge of tests stay as they are, and so is every simulated figure; plans are kept within a run.
The first run with a seed simulates for minutes, later ones only plan.

The printed chart and the old hand's order (`engine.studies.contest`) work on the same units and
hear the same answers; they weigh outcomes, not numbers, and are held to their first verdict.

Each walk's answers are also written down and worked through as `walk --answers FILE --json` does;
where that ends otherwise it is told.

Printed: share of right walks, over faults alike and by their priors, with 95 % intervals, mean
minutes, and every miss with what it was taken for; then chart, walk and old hand side by side, and
their minutes fault by fault.
"""

from __future__ import annotations

import argparse
import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path

from platformdirs import user_cache_path

from engine import library
from engine.circuit import campaign, dictionary
from engine.circuit.campaign import Workbench, workbench
from engine.circuit.dictionary import UNLISTED
from engine.circuit.taking import Reading
from engine.evidence.witness import load_witness
from engine.model.plan import Plan, Planner, State
from engine.model.records import Fault, Mains, Model
from engine.walk import job, prepared, record
from engine.walk.ending import conclude
from engine.walk.events import Answered, CannotDo, Unmended
from engine.walk.job import Outset, Setting, Walk
from render.cli.foresight import patient
from tests.bench.virtual_rivals import Rivals, side_by_side, worked
from tests.bench.virtual_table import Asked, Try, summary
from tests.bench.virtual_unit import (
    OTHER,
    Person,
    VirtualUnit,
    drawn,
    keep_truths,
    kept_truths,
)

TOPOLOGIES = ("light-controlled-lamp", "buck-lamp")
MAINS = {"230": Mains(230.0, 50.0), "120": Mains(120.0, 60.0)}
SEED, DRAWS, SIBLINGS = 2027, 8, 24
MISTAKES = (0.0, 0.03)
REPAIRS, SOUND = 3, "no-fault"
SOCKET, WELL = "known-good-socket", "lights-well"
FOLDER = user_cache_path("nextprobe-bench")


@dataclass(slots=True)
class Remembering:
    """A planner that makes each plan once: many walks come by the same place."""

    planner: Planner
    made: dict[object, Plan] = field(default_factory=dict)

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
        """The plan from here; beliefs that agree in ten digits share theirs."""
        odds = None if belief is None else tuple(f"{p:.10f}" for p in belief.values())
        key = (odds, state, withdrawn, tests_done, frozenset(answers))
        if key not in self.made:
            self.made[key] = self.planner(
                model, belief=belief, state=state, withdrawn=withdrawn, tests_done=tests_done,
                answers=answers,
            )  # fmt: skip
        return self.made[key]


@dataclass(frozen=True, slots=True)
class Stand:
    """A bench for one model: its units, what they showed so far, and the walk before its start."""

    place: Workbench
    begun: Walk
    seed: int
    file: Path
    shown: dict[str, dict[str, Reading]]
    rivals: Rivals

    @property
    def model(self) -> Model:
        """The model that the walk goes by."""
        return self.place.model

    def unit(self, fault: Fault, number: int) -> VirtualUnit:
        """A drawn unit that shows at the socket what makes an owner bring it."""
        model, volts = self.model, f"{self.model.mains.volts:g}"
        work = FOLDER / f"virtual-bench-{model.topology}-{volts}-{fault.id}.jsonl"
        for draw in range(DRAWS):
            name = f"{self.seed} {model.topology} {volts} {fault.id} {number} {draw}"
            made = drawn(self.place, fault, name, work, self.shown.setdefault(name, {}))
            if SOCKET not in {test.id for test in model.tests}:
                return made
            if model.row(SOCKET, fault.id).get(WELL, 0.0) > 0.0:
                return made
            if made.truth(model.test(SOCKET)).outcome != WELL:
                return made
        return made

    def keep(self) -> None:
        """Keep what the units showed for the next run."""
        keep_truths(self.file, self.shown)


def stand(model: Model, seed: int, readings: bool = True) -> Stand:
    """The bench of a model; `readings` False weighs numbers by their bands, to compare."""
    place = workbench(model, SIBLINGS, seed=seed)
    told = [campaign.key(place), OTHER, model.likelihood]
    stands_on = json.dumps(told, sort_keys=True).encode()
    short = hashlib.sha256(stands_on).hexdigest()[:12]
    file = FOLDER / f"truths-{model.topology}-{model.mains.volts:g}-{seed}-{short}.json"
    heard = load_witness(model) if readings else None
    begun = job.begin(Outset(model, witness=heard), Remembering(patient(2.0)))
    return Stand(place, begun, seed, file, kept_truths(file), Rivals.of(model))


def walk_through(
    begun: Walk, made: VirtualUnit, person: Person, before: Sequence[Asked]
) -> tuple[Walk, list[Asked]]:
    """The walk to its next verdict, each question put to the unit as it comes; all asked so far."""
    walk, asked = begun, list(before)
    while (step := job.pending(walk)) is not None:
        if isinstance(step, Setting):
            walk = job.take(walk, step.event)
            continue
        take = sum(one.test == step.test for one in asked)
        heard = made.answer(walk.model.test(step.test), person, take)
        told = heard.answer
        if told.outcome == "":
            walk = job.take(walk, CannotDo(step.test))
            continue
        shares = told.shares if told.straddles else ()
        walk = job.take(walk, Answered(step.test, told.outcome, told.reading or None, shares))
        text = told.reading or told.outcome
        asked.append(Asked(step.test, text, heard.truth.outcome, heard.mistaken))
    return walk, asked


def attempt(at: Stand, fault: Fault, number: int, person: Person) -> Try:
    """One walk on one unit, gone on with while its repairs don't help."""
    made, model = at.unit(fault, number), at.model
    walk, asked = walk_through(at.begun, made, person, [])
    end = conclude(walk)
    first, told, repairs = walk, tuple(asked), 1
    written = as_written(at, asked) == end.remedy.id
    while fault.id not in (tried := conclude(walk).remedy).cures:
        if repairs == REPAIRS or fault.id == SOUND:
            repairs = 0
            break
        repairs += 1
        walk, asked = walk_through(job.take(walk, Unmended(tried.id)), made, person, asked)
    others = tuple(worked(at.rivals, way, made, person) for way in at.rivals.ways)
    return Try(
        model.topology, f"{model.mains.volts:g}", person.mistakes, person.name, number, fault.id,
        fault.prior, end.remedy.id, fault.id in end.remedy.cures, end.confidence, first.minutes,
        end.faults[0][0], dict(end.faults).get(fault.id, 0.0), told, repairs, walk.minutes, written,
        others,
    )  # fmt: skip


def as_written(at: Stand, asked: Sequence[Asked]) -> str:
    """The remedy of the same answers in a file, as `walk --answers FILE --json` tells it."""
    lines: dict[str, tuple[str, ...]] = {}
    for one in asked:
        lines[one.test] = (*lines.get(one.test, ()), one.told)
    takes = prepared.read_takes(at.model, lines, "the virtual bench")
    verdict = record.document(prepared.work_on(at.begun, takes))["verdict"]
    return str(verdict["remedy"])


def tries(
    at: Stand, faults: Sequence[Fault], mistakes: float, units: int, persons: int
) -> Iterable[Try]:
    """Walks for each fault; where nobody is mistaken one person is enough."""
    for fault in faults:
        for number in range(units):
            for person in range(persons if mistakes else 1):
                yield attempt(at, fault, number, Person(f"person {person}", mistakes))
        at.keep()


def main() -> None:
    """Run what the command line asks for and print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("topologies", nargs="*", default=TOPOLOGIES)
    parser.add_argument("--mains", nargs="*", default=list(MAINS), choices=MAINS)
    parser.add_argument("--seed", type=int, default=SEED, help="which units are drawn")
    parser.add_argument("--units", type=int, default=1, help="units drawn for each fault")
    parser.add_argument("--persons", type=int, default=5, help="mistaken persons for each unit")
    parser.add_argument("--faults", type=int, default=0, help="every so many-th fault only")
    parser.add_argument("--only", nargs="*", default=(), help="these faults only")
    parser.add_argument("--mistakes", nargs="*", type=float, default=MISTAKES)
    parser.add_argument("--bands", action="store_true", help="numbers count as their bands")
    parser.add_argument("--json", type=Path)
    told = parser.parse_args()
    found: list[Try] = []
    for topology in told.topologies:
        for volts in told.mains:
            model = library.model(topology, mains=MAINS[volts])
            if dictionary.read(topology, model.mains) is None:
                print(f"{topology} {volts} V: nothing was derived, numbers count as their bands")
            listed = [f for f in model.faults if UNLISTED not in (f.id, f.variant_of)]
            faults = listed[:: told.faults or 1]
            faults = [f for f in faults if not told.only or f.id in told.only]
            at = stand(model, told.seed, not told.bands)
            for mistakes in told.mistakes:
                for one in tries(at, faults, mistakes, told.units, told.persons):
                    found.append(one)
                    if not one.right:
                        print(one.says, flush=True)
    summary(found, print)
    side_by_side(found, print)
    if told.json:
        told.json.write_text(json.dumps([asdict(one) for one in found], indent=1) + "\n")


if __name__ == "__main__":
    main()
