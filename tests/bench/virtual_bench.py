"""The virtual bench: does a walk find the fault of a unit that is simulated afresh?

    python -m tests.bench.virtual_bench [TOPOLOGY ...] [--mains 230 120] [--faults N] [--json FILE]

For every fault of both topologies and both mains a unit is drawn with another seed than the
readings', by the odds of the designs, with another controller model; a walk asks, the unit is
simulated for each answer, the meter adds its error, and in the second round 3 % of all answers are
another one than the true one. A fault that shows nothing at the socket where the trade rules see a
symptom is drawn again, up to eight times: nobody brings such a lamp. Takes hours the first time;
simulated figures are kept in the user's cache folder.

Printed: share of walks whose remedy cures the fault, over faults alike and by their priors, mean
minutes, and every miss with what it was taken for.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from random import Random

from platformdirs import user_cache_path

from engine import library
from engine.circuit import dictionary
from engine.circuit.campaign import Workbench, workbench
from engine.circuit.dictionary import UNLISTED
from engine.evidence.witness import committed
from engine.model import Fault, Mains, Model
from engine.walk import job
from engine.walk.ending import conclude
from engine.walk.events import Answered, CannotDo
from engine.walk.job import Outset, Setting, Walk
from render.cli.foresight import patient
from tests.bench.virtual_unit import Person, VirtualUnit, drawn

TOPOLOGIES = ("light-controlled-lamp", "buck-lamp")
MAINS = {"230": Mains(230.0, 50.0), "120": Mains(120.0, 60.0)}
SEED, DRAWS, UNITS = 2027, 8, 24
MISTAKES = (0.0, 0.03)
GOALS = {0.0: 0.97, 0.03: 0.93}
SOCKET, WELL = "known-good-socket", "lights-well"


@dataclass(frozen=True, slots=True)
class Try:
    """One walk: what was wrong, what was concluded, how sure, and what was asked and told."""

    topology: str
    volts: str
    mistakes: float
    fault: str
    prior: float
    remedy: str
    right: bool
    confidence: float
    minutes: float
    believed: str
    told: tuple[tuple[str, str], ...]


def unit_with_symptom(place: Workbench, fault: Fault, chance: Random, work: Path) -> VirtualUnit:
    """A drawn unit that shows at the socket what makes an owner bring it."""
    model = place.model
    for _ in range(DRAWS):
        made = drawn(place, fault, chance, work)
        if SOCKET not in {test.id for test in model.tests}:
            return made
        if model.row(SOCKET, fault.id).get(WELL, 0.0) > 0.0:
            return made
        if made.answer(model.test(SOCKET), Person(Random(0))).outcome != WELL:
            return made
    return made


def walk_through(begun: Walk, made: VirtualUnit, person: Person) -> Walk:
    """The walk to its verdict, each question put to the unit as it comes."""
    walk = begun
    while (step := job.pending(walk)) is not None:
        if isinstance(step, Setting):
            walk = job.take(walk, step.event)
            continue
        told = made.answer(walk.model.test(step.test), person)
        if told.outcome == "":
            walk = job.take(walk, CannotDo(step.test))
            continue
        shares = told.shares if told.straddles else ()
        walk = job.take(walk, Answered(step.test, told.outcome, told.reading or None, shares))
    return walk


def tries(model: Model, faults: Iterable[Fault], mistakes: float, readings: bool) -> Iterable[Try]:
    """One walk for each fault; `readings` False weighs numbers by their bands, to compare."""
    place = workbench(model, UNITS, seed=SEED)
    heard = committed(model) if readings else None
    begun = job.begin(Outset(model, witness=heard), patient(2.0))
    volts = f"{model.mains.volts:g}"
    for fault in faults:
        chance = Random(f"{SEED} {model.topology} {volts} {fault.id}")
        name = f"virtual-bench-{model.topology}-{volts}-{fault.id}.jsonl"
        made = unit_with_symptom(place, fault, chance, user_cache_path("nextprobe-bench") / name)
        walk = walk_through(begun, made, Person(chance, mistakes))
        end = conclude(walk)
        told = tuple((str(s.test), s.reading or str(s.answer)) for s in walk.steps if s.answer)
        yield Try(
            model.topology, volts, mistakes, fault.id, fault.prior, end.remedy.id,
            fault.id in end.remedy.cures, end.confidence, walk.minutes, end.faults[0][0], told,
        )  # fmt: skip


def summary(found: list[Try], say: Callable[[str], None]) -> None:
    """The table, and every miss."""
    say(f"{'':34}{'faults':>7}{'right':>8}{'by prior':>10}{'goal':>7}{'minutes':>9}")
    for mistakes in MISTAKES:
        for key in sorted({(t.topology, t.volts) for t in found}):
            part = [t for t in found if (t.topology, t.volts) == key and t.mistakes == mistakes]
            if part:
                _line(f"{key[0]} {key[1]} V, {mistakes:.0%} misread", part, mistakes, say)
        part = [t for t in found if t.mistakes == mistakes]
        if part:
            _line(f"all, {mistakes:.0%} misread", part, mistakes, say)
    for one in found:
        if not one.right:
            say(
                f"missed {one.topology} {one.volts} V {one.fault} ({one.mistakes:.0%}): "
                f"{one.remedy} at {one.confidence:.2f}, most likely {one.believed}, after "
                + "; ".join(f"{test} {answer}" for test, answer in one.told)
            )


def _line(name: str, part: list[Try], mistakes: float, say: Callable[[str], None]) -> None:
    right = sum(t.right for t in part) / len(part)
    weighed = sum(t.prior for t in part if t.right) / sum(t.prior for t in part)
    minutes = sum(t.minutes for t in part) / len(part)
    say(f"{name:34}{len(part):7d}{right:8.1%}{weighed:10.1%}{GOALS[mistakes]:7.0%}{minutes:9.1f}")


def main() -> None:
    """Run what the command line asks for and print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("topologies", nargs="*", default=TOPOLOGIES)
    parser.add_argument("--mains", nargs="*", default=list(MAINS), choices=MAINS)
    parser.add_argument("--faults", type=int, default=0, help="every so many-th fault only")
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
            faults = [f for f in model.faults if f.id != UNLISTED][:: told.faults or 1]
            for mistakes in told.mistakes:
                for one in tries(model, faults, mistakes, not told.bands):
                    found.append(one)
                    mark = "" if one.right else "  MISSED"
                    print(f"{one.fault}: {one.remedy} {one.minutes:.1f} min{mark}", flush=True)
    summary(found, print)
    if told.json:
        told.json.write_text(json.dumps([asdict(one) for one in found], indent=1) + "\n")


if __name__ == "__main__":
    main()
