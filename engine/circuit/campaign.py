"""A campaign of simulations: every fault, every test, the nominal unit and a batch of siblings.

The nominal unit is simulated whole. Of its siblings, measured tests are, what comes with them from
the same runs, and on the first `WATCHED_UNITS` whether they light; of faults that a test of the
nominal unit could not tell apart only the first, for what does not touch a reading of one
unit does not touch its siblings'. A dark lamp is dark for many reasons, some of which leave another
maker's alight: so two faults count as one to the eye only where no meter on the powered unit tells
them apart either. Faults of degree (leaky, drifted, worn) that a test of the nominal unit told from
the sound one are simulated each, since how far they have gone differs, and on those first siblings
with all watched tests. The result is an `engine.circuit.dictionary`, keyed to all that it stands
on.

Codes: CI402 never derived, CI403 stale.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_cache_path

from engine.circuit import dictionary
from engine.circuit.batch import Batch, batch
from engine.circuit.dictionary import (
    FORMAT,
    SEED,
    UNLISTED,
    Cell,
    Dictionary,
    Shown,
    Sibling,
)
from engine.circuit.job import Figures, Job
from engine.circuit.running import Progress, Toll, results
from engine.circuit.taking import Reading, Taking, measurement, reading, takings
from engine.circuit.unit import Unit, acts_of, unit, with_fault
from engine.model.records import Fault, Model, Test
from kb.language import loader
from kb.language.circuit import (
    Bench,
    Measurement,
    bench,
    circuit,
    circuit_of,
    devices_with,
    folder_of,
)
from kb.quantities import in_base
from kb.trouble import Place, Trouble

ALIKE_DIGITS = 3
"""Figures that agree to so many digits are one reading: less than a meter's own error apart."""

WATCHED_UNITS = 12
"""Siblings on which tests without bands are simulated: an outcome's share needs no finer grain."""
DARK = "covered"
"""The scene of `kb/circuits/bench.yml` in which every unit should light."""
NOTHING = 1e-4
"""Volts, amperes and shares of light under this are the simulation's noise."""


@dataclass(frozen=True, slots=True)
class Workbench:
    """A model's nominal unit, the bench around it, and a batch of siblings of the same make."""

    model: Model
    nominal: Unit
    bench: Bench
    batch: Batch


def workbench(
    model: Model, samples: int = 0, kb: Path | None = None, seed: int = SEED
) -> Workbench:
    """Everything needed to simulate a model's unit. TroubleError where it carries no circuit."""
    knowledge = loader.read((kb,) if kb is not None else ())
    folder = folder_of(model.topology, kb)
    data = circuit(model.topology, folder)
    kinds = devices_with(kb)
    nominal = unit(knowledge, model.topology, model.mains, data, kinds, folder)
    shared = bench()
    # what is the unit's own stands first: a test is taken by the first measurement that fits it
    ways = shared.model_copy(update={"measurements": (*data.measurements, *shared.measurements)})
    return Workbench(model, nominal, ways, batch(nominal, samples, seed))


def key(place: Workbench) -> Mapping[str, str]:
    """What the readings stand on, each with its hash: circuit, bench and knowledge.

    Circuit: elements, values, sampled designs and what faults do to them. Bench: supplies, scenes,
    rigs and measurements. Knowledge: which faults and tests there are and how each test is set up.
    """
    nominal = place.nominal
    acts = [
        (part, mode, acts_of(nominal, part, mode).model_dump_json())
        for part, modes in sorted(nominal.kinds.items())
        for mode in sorted(modes)
    ]
    varies = [(p, nominal.device(p).vary, nominal.tolerance[p]) for p in sorted(nominal.parts)]
    units = [(_plain(sibling), copy.netlist.text()) for sibling, copy in _siblings(place)]
    faults = [(f.id, [(p.part, p.mode) for p in f.parts]) for f in place.model.faults]
    tests = [
        (t.id, t.supply, t.rig, t.instrument, t.point, [(o.id, o.unit) for o in t.outcomes])
        for t in place.model.tests
        if measurement(place.bench, t) is not None
    ]
    return {
        "circuit": _hash(FORMAT, nominal.netlist.text(), acts, varies, units),
        "bench": _hash(place.bench.model_dump_json(), nominal.data.points),
        "knowledge": _hash(sorted(faults), sorted(tests, key=str)),
    }


def derive(
    place: Workbench,
    progress: Progress | None = None,
    work: Path | None = None,
    toll: Toll | None = None,
) -> Dictionary:
    """Simulates everything; minutes. `work` keeps results so far (the cache folder by default);
    `toll` hears of what solvers gave up on.

    TroubleError CI301 where our solver gives up on something and ngspice is missing.
    """
    model = place.model
    name = f"deriving-{model.topology}-{model.mains.volts:g}.jsonl"
    file = work or user_cache_path("nextprobe") / name
    faults = tuple(fault for fault in model.faults if UNLISTED not in (fault.id, fault.variant_of))
    nominal = _takings(place, place.nominal, faults, {f.id: model.tests for f in faults})
    results_by_key = dict(results(_jobs(nominal), file, progress, toll))
    twins = _twins(place, faults, nominal, results_by_key)
    tests_of = _sibling_tests(place, faults, nominal, twins)
    measured_tests = _measured_tests(place, nominal)
    read = {
        fault: [t for t in tests if t.id in measured_tests] for fault, tests in tests_of.items()
    }
    siblings = [
        _takings(place, one, faults, tests_of if number < WATCHED_UNITS else read)
        for number, one in enumerate(place.batch.units)
    ]
    jobs = {job.key: job for takings in siblings for job in _jobs(takings)}
    results_by_key.update(results(jobs.values(), file, progress, toll))
    cells: dict[str, dict[str, Cell]] = {}
    for (test, fault), taking in nominal.items():
        first = twins.get((test, fault), fault)
        units = [
            _sample(by[test, first], results_by_key) if (test, first) in by else (None, None)
            for by in siblings
        ]
        cell = Cell(*_sample(taking, results_by_key), _without_tail(units))
        cells.setdefault(test, {})[fault] = cell
    return Dictionary(
        model.topology, model.mains, key(place), place.nominal.values, place.batch.siblings,
        cells, _measures(model, cells),
    )  # fmt: skip


def stale(model: Model, folder: Path | None = None) -> Trouble | None:
    """A trouble if the committed readings no longer belong to the circuit and knowledge.

    None where they do, and where the topology carries no circuit. Runs no simulation.
    """
    if circuit_of(model.topology) is None:
        return None
    where = folder or dictionary.FOLDER
    volts, hertz = model.mains.volts, model.mains.hertz
    mend = f"Run nextprobe derive {model.topology} --mains {volts:g}/{hertz:g}"
    place = Place(f"kb/readings/{dictionary.path(model.topology, model.mains, where).name}")
    have = dictionary.read(model.topology, model.mains, where)
    if have is None:
        never = "The circuit's readings were never derived"
        return Trouble("CI402", place, never, mend, grave=False)
    now = key(workbench(model, len(have.units)))
    changes = [name for name, value in now.items() if have.key.get(name) != value]
    if not changes:
        return None
    what = f"The readings are older than what they stand on ({', '.join(changes)})"
    return Trouble("CI403", place, what, mend, grave=False)


_Cells = Mapping[tuple[str, str], Taking]


def _siblings(place: Workbench) -> Iterator[tuple[Sibling, Unit]]:
    yield from zip(place.batch.siblings, place.batch.units, strict=True)


def _plain(sibling: Sibling) -> tuple[object, ...]:
    """What is known of a unit, in an order that never changes."""
    values, kinds = sorted(sibling.values.items()), sorted(sibling.kinds.items())
    return values, sorted(sibling.absent), kinds, sibling.severity, sibling.supply, sibling.weight


def _without_tail(samples: Sequence[Shown]) -> tuple[Shown, ...]:
    """Samples up to the last unit that was simulated: what lacks a part keeps its place."""
    last = max((n for n, one in enumerate(samples, 1) if one != (None, None)), default=0)
    return tuple(samples[:last])


def _hash(*parts: object) -> str:
    plain = json.dumps(parts, default=str, sort_keys=True)
    return hashlib.sha256(plain.encode()).hexdigest()[:16]


def _takings(
    place: Workbench,
    one: Unit,
    faults: Sequence[Fault],
    tests_of: Mapping[str, Sequence[Test]],
) -> _Cells:
    """What to run on a unit, for each fault with the tests wanted."""
    cells = {}
    for fault in faults:
        for taking in takings(with_fault(one, fault), place.bench, tests_of[fault.id]):
            cells[taking.test.id, fault.id] = taking
    return cells


def _jobs(cells: _Cells) -> Iterator[Job]:
    for taking in cells.values():
        for need in taking.needs:
            yield need.job


def _twins(
    place: Workbench,
    faults: Sequence[Fault],
    nominal: _Cells,
    results_by_key: Mapping[str, Figures],
) -> dict[tuple[str, str], str]:
    """(test, fault) -> the first fault with which that test gives the nominal unit's figures.

    The sound unit comes first; a fault of degree has no other twin than that.
    """
    sounds = {fault.id for fault in faults if not fault.parts}
    first: dict[tuple[str, object], str] = {}
    twins = {}
    watches, meters = _eyed_tests(place), _powered_tests(place)
    for fault in sorted(faults, key=lambda one: bool(one.parts)):
        degree = _of_degree(place.nominal, fault)
        for test in place.model.tests:
            taking = nominal.get((test.id, fault.id))
            if taking is None:
                continue
            result: object = _figures(taking, results_by_key)
            if test.id in watches:
                result = (result, *(
                    _figures(nominal[one, fault.id], results_by_key)
                    for one in meters if (one, fault.id) in nominal
                ))  # fmt: skip
            # a case of degree is no model for others: only what is as when sound is shared
            own = degree and first.get((test.id, result)) not in sounds
            twins[test.id, fault.id] = (
                fault.id if own else first.setdefault((test.id, result), fault.id)
            )
    return twins


def _of_degree(base: Unit, fault: Fault) -> bool:
    return any(acts_of(base, faulty.part, faulty.mode).range for faulty in fault.parts)


def _figures(taking: Taking, results_by_key: Mapping[str, Figures]) -> tuple[object, ...]:
    return tuple(
        (name, _round(value, taking.measurement.kind == "powered"))
        for need in taking.needs
        for name, value in sorted(results_by_key[need.job.key].items())
        if name in ("mean", "ac", "rms", "beats") or taking.measurement.kind != "powered"
    )


def _round(value: float, noisy: bool) -> float:
    if not math.isfinite(value):
        return value
    return 0.0 if noisy and abs(value) < NOTHING else float(f"{value:.{ALIKE_DIGITS}g}")


def _sibling_tests(
    place: Workbench,
    faults: Sequence[Fault],
    nominal: _Cells,
    twins: Mapping[tuple[str, str], str],
) -> dict[str, list[Test]]:
    """The tests to simulate on siblings, by fault."""
    measured_tests, watches = _measured_tests(place, nominal), _eyed_tests(place)
    return {
        fault.id: [
            test
            for test in place.model.tests
            if twins.get((test.id, fault.id)) == fault.id
            and (
                test.id in measured_tests or test.id in watches or _of_degree(place.nominal, fault)
            )
        ]
        for fault in faults
    }


def _measured_tests(place: Workbench, nominal: _Cells) -> frozenset[str]:
    """Tests whose answers have bands, and those that the same runs give for nothing."""
    with_bands = {t.id for t in place.model.tests if any(o.unit is not None for o in t.outcomes)}
    run = {
        (w.job.text, w.job.seconds)
        for c, t in nominal.items()
        if c[0] in with_bands
        for w in t.needs
    }
    dear = {
        test
        for (test, _), taking in nominal.items()
        if any((w.job.text, w.job.seconds) not in run for w in taking.needs)
    }
    return frozenset(t.id for t in place.model.tests if t.id in with_bands or t.id not in dear)


def _eyed_tests(place: Workbench) -> frozenset[str]:
    """Tests that are watched while the unit stands on the mains, in the dark: it should light."""
    return frozenset(
        test.id for test, entry in _powered(place)
        if not entry.versions and entry.light == DARK
        and not any(o.unit is not None for o in test.outcomes)
        and place.model.arrangement(test.supply).energy == "mains"
    )  # fmt: skip


def _powered_tests(place: Workbench) -> tuple[str, ...]:
    """Tests that are read off a meter while the unit is powered."""
    return tuple(
        test.id for test, _ in _powered(place) if any(o.unit is not None for o in test.outcomes)
    )


def _powered(place: Workbench) -> Iterator[tuple[Test, Measurement]]:
    for test in place.model.tests:
        entry = measurement(place.bench, test)
        if entry is not None and entry.kind == "powered":
            yield test, entry


def _measures(model: Model, cells: Mapping[str, object]) -> dict[str, str]:
    units = {t.id: next((o.unit for o in t.outcomes if o.unit), None) for t in model.tests}
    return {test: in_base(1.0, unit).unit for test in cells if (unit := units[test]) is not None}


def _sample(taking: Taking, results_by_key: Mapping[str, Figures]) -> Shown:
    outcome: Reading | None = reading(taking, results_by_key)
    if outcome is None:
        return None, None
    return (outcome.outcome if outcome.is_watched else None), outcome.value
