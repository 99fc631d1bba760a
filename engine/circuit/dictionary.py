"""The fault dictionary: what each test reads under each fault, derived once, committed, kept fresh.

`derive` simulates the nominal unit and seeded samples of the make (design spread and tolerances)
under every fault; the result is written beside the knowledge as `nextprobe-readings/1` and keyed
to the hash of every nominal circuit that was run: whatever changes a circuit, a value, a fault's
act, a rig or a measurement changes the key. `stale` tells so without running anything.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

from platformdirs import user_cache_path

from engine.circuit.job import Figures, Job
from engine.circuit.running import Progress, results
from engine.circuit.taking import Reading, Taking, reading, taking
from engine.circuit.unit import Unit, broken, unit, varied
from engine.model import Fault, Mains, Model
from kb import loader
from kb.circuit import Bench, bench, circuit, devices
from kb.trouble import Place, Trouble, TroubleError

FORMAT = "nextprobe-readings/1"
SEED = 1
FOLDER = Path(loader.__file__).parent / "readings"
UNLISTED = "other"


@dataclass(frozen=True, slots=True)
class Cell:
    """What one test reads under one fault: the nominal reading, then those of sampled units.

    An outcome is None where no simulation could be run to its end.
    """

    outcome: str | None
    value: float | None
    samples: tuple[tuple[str | None, float | None], ...] = ()


@dataclass(frozen=True, slots=True)
class Dictionary:
    """The readings of one topology at one mains: test -> fault -> cell."""

    topology: str
    mains: Mains
    key: str
    samples: int
    cells: Mapping[str, Mapping[str, Cell]]


@dataclass(frozen=True, slots=True)
class Workbench:
    """A model's nominal unit, the bench around it, and sampled units of the same make."""

    model: Model
    nominal: Unit
    bench: Bench
    sampled: tuple[Unit, ...]


def workbench(model: Model, samples: int = 0, kb: Path | None = None) -> Workbench:
    """Everything needed to simulate a model's unit. TroubleError where it carries no circuit."""
    knowledge = loader.read((kb,) if kb is not None else ())
    data = circuit(model.topology)
    nominal = unit(knowledge, model.topology, model.mains, data, devices())
    sampled = tuple(varied(nominal, Random(f"{SEED}-{number}")) for number in range(samples))
    return Workbench(model, nominal, bench(), sampled)


def key(place: Workbench) -> str:
    """Hash of every nominal job and of the samples' number: what the readings stand on."""
    digest = hashlib.sha256(f"{FORMAT} {SEED} {len(place.sampled)}".encode())
    for fault, takings in _all(place, place.nominal):
        for taken in takings:
            keys = " ".join(wanted.job.key for wanted in taken.wanted)
            shows = "".join(show.model_dump_json() for show in taken.measurement.shows)
            bands = [(o.id, o.low, o.high) for o in taken.test.outcomes]
            digest.update(f"{fault.id} {taken.test.id} {keys} {shows} {bands}\n".encode())
    return digest.hexdigest()


def derive(
    place: Workbench, progress: Progress | None = None, work: Path | None = None
) -> Dictionary:
    """Simulates everything; minutes. `work` keeps results so far (the cache folder by default)."""
    model = place.model
    known = key(place)
    name = f"deriving-{model.topology}-{model.mains.volts:g}.jsonl"
    units = (place.nominal, *place.sampled)
    takings = [{fault.id: taken for fault, taken in _all(place, one)} for one in units]
    every = [taken for by in takings for several in by.values() for taken in several]
    jobs = {wanted.job.key: wanted.job for taken in every for wanted in taken.wanted}
    found = results(
        _nominal_first(jobs, takings[0]), work or user_cache_path("nextprobe") / name, progress
    )
    cells: dict[str, dict[str, Cell]] = {}
    for fault, taken_nominal in takings[0].items():
        for place_of, taken in enumerate(taken_nominal):
            shown = [_shown(by[fault][place_of], found) for by in takings]
            first = shown[0]
            cells.setdefault(taken.test.id, {})[fault] = Cell(*first, tuple(shown[1:]))
    return Dictionary(model.topology, model.mains, known, len(place.sampled), cells)


def write(made: Dictionary, folder: Path = FOLDER) -> Path:
    """Writes the dictionary whole or not at all; readings to four significant digits."""
    path = _path(made.topology, made.mains, folder)
    path.parent.mkdir(parents=True, exist_ok=True)
    aside = path.with_suffix(".part")
    aside.write_text(_text(made), encoding="utf-8")
    aside.replace(path)
    return path


def read(topology: str, mains: Mains, folder: Path = FOLDER) -> Dictionary | None:
    """The committed dictionary; None if there is none. TroubleError CI401 for a damaged file."""
    path = _path(topology, mains, folder)
    if not path.is_file():
        return None
    try:
        plain = json.loads(path.read_text(encoding="utf-8"))
        if plain["format"] != FORMAT:
            raise ValueError(f"format {plain['format']}")
        cells = {
            test: {fault: _cell(plain["readings"][number]) for fault, number in row.items()}
            for test, row in plain["cells"].items()
        }
        return Dictionary(topology, mains, plain["key"], plain["samples"], cells)
    except (OSError, ValueError, KeyError, TypeError, IndexError) as error:
        raise TroubleError(
            Trouble(
                "CI401", Place(f"kb/readings/{path.name}"),
                f"The readings can't be used ({error})", f"Run nextprobe derive {topology} again",
            )
        ) from None


def stale(model: Model, folder: Path = FOLDER) -> Trouble | None:
    """A trouble if the committed readings no longer belong to the circuit and knowledge.

    None where they do, and where the topology carries no circuit. Runs no simulation.
    """
    try:
        circuit(model.topology)
    except TroubleError:
        return None
    volts, hertz = model.mains.volts, model.mains.hertz
    mend = f"Run nextprobe derive {model.topology} --mains {volts:g}/{hertz:g}"
    place = Place(f"kb/readings/{_path(model.topology, model.mains, folder).name}")
    have = read(model.topology, model.mains, folder)
    if have is None:
        never = "The circuit's readings were never derived"
        return Trouble("CI402", place, never, mend, grave=False)
    if have.key == key(workbench(model, have.samples)):
        return None
    what = "The readings are older than the circuit, the knowledge or the bench they stand on"
    return Trouble("CI403", place, what, mend, grave=False)


def _all(place: Workbench, one: Unit) -> Iterator[tuple[Fault, list[Taking]]]:
    for fault in place.model.faults:
        if fault.id == UNLISTED:
            continue
        ill = broken(one, fault)
        found = (taking(ill, place.bench, test) for test in place.model.tests)
        yield fault, [taken for taken in found if taken is not None]


def _nominal_first(jobs: Mapping[str, Job], nominal: Mapping[str, list[Taking]]) -> Iterator[Job]:
    first = {w.job.key for takings in nominal.values() for t in takings for w in t.wanted}
    yield from (job for key, job in jobs.items() if key in first)
    yield from (job for key, job in jobs.items() if key not in first)


def _shown(
    taken: Taking, found: Mapping[str, Figures]
) -> tuple[str | None, float | None]:
    seen: Reading | None = reading(taken, found)
    return (None, None) if seen is None else (seen.outcome, seen.value)


def _path(topology: str, mains: Mains, folder: Path) -> Path:
    return folder / f"{topology}-{mains.volts:g}.json"


def _text(made: Dictionary) -> str:
    """JSON with equal cells written once: faults that no test tells apart share theirs."""
    readings: dict[str, int] = {}
    cells: dict[str, dict[str, int]] = {}
    for test, row in made.cells.items():
        for fault, cell in row.items():
            plain = [_plain(cell.outcome, cell.value), *(_plain(*pair) for pair in cell.samples)]
            text = _short(plain)
            cells.setdefault(test, {})[fault] = readings.setdefault(text, len(readings))
    head = {
        "format": FORMAT, "topology": made.topology,
        "mains": {"volts": made.mains.volts, "hertz": made.mains.hertz},
        "key": made.key, "seed": SEED, "samples": made.samples,
    }  # fmt: skip
    rows = ",\n".join(f"{json.dumps(test)}: {_short(row)}" for test, row in cells.items())
    listed = ",\n".join(readings)
    return f'{json.dumps(head)[:-1]},\n"cells": {{\n{rows}\n}},\n"readings": [\n{listed}\n]}}\n'


def _short(plain: object) -> str:
    return json.dumps(plain, separators=(",", ":"))


def _plain(outcome: str | None, value: float | None) -> list[Any]:
    if value is None:
        return [outcome]
    return [outcome, "OL" if math.isinf(value) else float(f"{value:.4g}")]


def _cell(plain: list[list[Any]]) -> Cell:
    pairs = [
        (one[0], None if len(one) < 2 else math.inf if one[1] == "OL" else float(one[1]))
        for one in plain
    ]
    return Cell(*pairs[0], tuple(pairs[1:]))
