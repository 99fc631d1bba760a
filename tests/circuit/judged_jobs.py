"""A seeded sample of what derivations run, and how far the solver's figures lie from the judge's.

Tolerances are the solver's promise: mean volts within 2 % or 20 mV, ohms, series resistances and
inductances within 2 %, drops of a diode range within 10 mV.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from engine.circuit.job import Figures, Job
from engine.circuit.taking import Reading, Taking, reading, takings
from engine.circuit.unit import Unit, with_fault
from engine.model.records import Outcome
from engine.model.records import Test as Check
from kb.language import circuit
from tests.circuit.shipped_units import MAINS, shipped, single_faults

SHARE, MILLIVOLTS, DIODE_MILLIVOLTS = 0.02, 20.0, 10.0
OVER_RANGE = 1e7
"""Ohms beyond which two displays of the top range may differ by what leaks past everything."""


@dataclass(frozen=True, slots=True)
class Case:
    """A test of a unit with a fault: its taking and the jobs that it asks for."""

    says: str
    taking: Taking
    jobs: tuple[Job, ...]
    is_powered: bool


def checks(unit: Unit) -> Iterator[Check]:
    """Tests that a bench takes of a unit, powered and at rest."""
    every = {show.outcome for entry in circuit.bench().measurements for show in entry.shows}
    outcomes = tuple(Outcome(name, "") for name in sorted(every))
    for point in unit.data.points:
        for test in (f"volts-{point}", f"ripple-{point}"):
            yield Check(test, "", 1, (), "isolated-limited", "meter-on-leads", False, (),
                        instrument="DC volts", point=point)  # fmt: skip
    for test in ("known-good-socket", "light-on-sensor", "tap-it", "limiter-glow"):
        yield Check(test, "", 1, (), "rcd-limited", "none", False, outcomes)
    for part in unit.parts:
        letter = part.rstrip("0123456789Q")
        for test, instrument in {
            "R": (("ohms", "ohm range"),),
            "C": (("esr", ""), ("ohms", "ohm range")),
            "L": (("inductance", ""),),
            "D": (("junction", ""), ("lifted", "")),
        }.get(letter, ()):
            yield Check(f"{test}-{part}", "", 1, (), "unplugged", "none", True, outcomes,
                        instrument=instrument)  # fmt: skip
    for test in ("ohms-at-contacts", "diode-range-at-contacts"):
        yield Check(test, "", 1, (), "unplugged", "none", True, outcomes)


def cases(powered: int, at_rest: int, seed: int) -> Iterator[Case]:
    """So many cases of each kind, over all lamps, both mains and all their faults."""
    chance, bench = random.Random(seed), circuit.bench()
    wanted = {True: powered, False: at_rest}
    while any(wanted.values()):
        topology, mains = chance.choice(circuit.circuits()), chance.choice(MAINS)
        made = shipped(topology, mains.volts)
        fault = chance.choice(list(single_faults(made)))
        check = chance.choice(list(checks(made)))
        for taking in takings(with_fault(made, fault), bench, [check]):
            jobs = tuple({need.job.key: need.job for need in taking.needs}.values())
            is_powered = taking.measurement.kind == "powered"
            if wanted[is_powered]:
                wanted[is_powered] -= 1
                says = f"{topology} {mains.volts:g} V {fault.id} {check.id}"
                yield Case(says, taking, jobs, is_powered)


def outcome(case: Case, results: Sequence[Figures]) -> Reading | None:
    """What the test shows by these figures, one for each of the case's jobs."""
    by_key = {job.key: one for job, one in zip(case.jobs, results, strict=True)}
    return reading(case.taking, by_key)


def apart(kind: str, ours: Figures, theirs: Figures) -> Iterator[tuple[str, float]]:
    """Of each figure that is promised, how far the two are apart, 1 being as far as promised."""
    if kind == "wave":
        least = MILLIVOLTS / 1e3
        for name in ("mean", "ac"):
            far = abs(ours[name] - theirs[name])
            yield name, far / max(SHARE * abs(theirs[name]), least)
    elif kind == "diode":
        for name in ("lower", "upper"):
            yield name, abs(ours[name] - theirs[name]) / (DIODE_MILLIVOLTS / 1e3)
    else:
        for name, due in theirs.items():
            if min(due, ours[name]) > OVER_RANGE:
                continue
            far = 0.0 if due == ours[name] else abs(ours[name] - due) / abs(due)
            yield name, far / SHARE if math.isfinite(far) else math.inf
