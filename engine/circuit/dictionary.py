"""The fault dictionary: what each test reads under each fault, as committed data.

`engine.circuit.campaign` derives it from a circuit; reading it needs neither ngspice nor numpy. The
file is `nextprobe-readings/3`, one for each topology and mains:

    {"format", "topology", "mains": {"volts", "hertz"}, "seed", "key": {what: hash, ...},
     "listed": {part: number},
     "units": [{"values": {part: number}, "absent": [part, ...], "kinds": {part: kind},
                "severity", "supply", "weight"}, ...],
     "faults": [id, ...],
     "tests": {id: {"unit": "V", "rows": [n or null, ...]}, ...},
     "readings": [[nominal, first unit, second unit, ...], ...]}

`units` are sampled siblings of the nominal one, each with a design of its own: what its parts are
marked with (`values`; `listed` are the nominal unit's), which parts of the topology it lacks, which
are of another kind than listed. Its true values lie within tolerance, `severity` (0 to 1) is how
far parts that are leaky, drifted or worn have gone, `supply` its mains over the nominal. Unit n is
the same one under every fault and test, so that a marking or a reading of a good unit narrows by
weighing units. Weights sum to 1. `rows` are in the order of `faults`; each number names a row of
`readings`, null is a cell that was not simulated. A row holds the nominal unit's reading and then
those of the units, as many as were simulated. A reading is a number in the test's base unit, "OL"
for over range, the text of an outcome where a test is watched, [outcome, number] where it is both,
null where no simulation ended and where the unit has no such part. What band a number falls in is
not stored: bands are the rules' and may move.

Codes: CI401 damaged file.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from engine.model.records import Mains, Test
from kb import files
from kb.language import loader
from kb.quantities import in_base
from kb.trouble import Place, Trouble, TroubleError

FORMAT = "nextprobe-readings/3"
SEED = 1
"""Of the draws of siblings: any number would do, the committed readings are made with this one."""
FOLDER = loader.SHIPPED / "readings"
UNLISTED = "other"
DIGITS = 3
"""Significant digits of stored readings: a meter's error is larger."""

Shown = tuple[str | None, float | None]
"""An outcome where the test is watched, and a number where one is read; inf is over range."""


@dataclass(frozen=True, slots=True)
class Cell:
    """What one test reads under one fault: the nominal unit's reading, then those of the units.

    `outcome` is named where the test is watched; where a number is read its band decides (`shows`).
    Both None: no simulation could be run to its end.
    """

    outcome: str | None
    value: float | None
    samples: tuple[Shown, ...] = ()


@dataclass(frozen=True, slots=True)
class Sibling:
    """A sampled unit with a design of its own.

    `values`: part -> marking (base units); `absent`: parts of the topology that it lacks; `kinds`:
    part -> kind where that is not the listed one; how far faults of degree have gone; its mains
    over the nominal; its weight among the units.
    """

    values: Mapping[str, float]
    absent: frozenset[str] = frozenset()
    kinds: Mapping[str, str] = field(default_factory=dict)
    severity: float = 0.5
    supply: float = 1.0
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Dictionary:
    """The readings of one topology at one mains: test -> fault -> cell, and the units behind."""

    topology: str
    mains: Mains
    key: Mapping[str, str]
    listed: Mapping[str, float]
    """What the nominal unit's parts are marked with."""
    units: tuple[Sibling, ...]
    cells: Mapping[str, Mapping[str, Cell]]
    measures: Mapping[str, str]
    """Test -> base unit of its numbers; tests that are only watched are left out."""

    def cell(self, test: str, fault: str) -> Cell | None:
        """What was simulated of a test under a fault; None for nothing."""
        return self.cells.get(test, {}).get(fault)


@dataclass(frozen=True, slots=True)
class Spread:
    """What a test reads under one fault, over the units: numbers with weights, and the rest.

    `values` are (number, weight, unit's index), ascending; `over` is the weight over range; watched
    outcomes have theirs in `outcomes`; `failed` is what no simulation told. All weights sum to 1.
    """

    measure: str
    nominal: Shown
    values: tuple[tuple[float, float, int], ...]
    over: float
    outcomes: Mapping[str, float]
    failed: float


def shows(test: Test, sample: Shown) -> str | None:
    """The outcome of a reading: the one watched, or the band its number falls in."""
    outcome, value = sample
    if outcome is not None or value is None:
        return outcome
    return band_of(test, value)


def band_of(test: Test, value: float) -> str | None:
    """The outcome whose band a value in the base unit falls in; the nearest band below zero."""
    bands = []
    for outcome in test.outcomes:
        if outcome.unit is not None:
            low = -math.inf if outcome.low is None else in_base(outcome.low, outcome.unit).value
            bands.append((low, outcome.id))
    bands.sort()
    fit = [name for low, name in bands if low <= value or low == bands[0][0]]
    return fit[-1] if fit else None


def spread(
    dictionary: Dictionary, test: str, fault: str, weights: Sequence[float] = ()
) -> Spread | None:
    """The readings of a cell by weight; None where nothing was simulated. O(units log units).

    `weights` replace those of the units (`narrow` gives such); they are scaled to sum to 1 over
    the units that were simulated.
    """
    cell = dictionary.cell(test, fault)
    if cell is None:
        return None
    weights_of = list(weights or (unit.weight for unit in dictionary.units))[: len(cell.samples)]
    total = sum(weights_of)
    measure, nominal = dictionary.measures.get(test, ""), (cell.outcome, cell.value)
    if not total:
        return Spread(measure, nominal, *_sort([(nominal, 1.0, -1)]))
    samples = [
        (s, w / total, n) for n, (s, w) in enumerate(zip(cell.samples, weights_of, strict=True))
    ]
    return Spread(measure, nominal, *_sort([one for one in samples if one[1] > 0]))


def write(dictionary: Dictionary, folder: Path = FOLDER) -> Path:
    """Writes the dictionary whole or not at all; readings to three significant digits."""
    file = path(dictionary.topology, dictionary.mains, folder)
    file.parent.mkdir(parents=True, exist_ok=True)
    files.write_bytes(file, _text(dictionary).encode())
    return file


def read(topology: str, mains: Mains, folder: Path = FOLDER) -> Dictionary | None:
    """The committed dictionary; None if there is none. TroubleError CI401 for a damaged file."""
    file = path(topology, mains, folder)
    if not file.is_file():
        return None
    try:
        return _parse(topology, mains, file.read_text(encoding="utf-8"))
    except (OSError, ValueError, KeyError, TypeError, IndexError) as error:
        raise TroubleError(
            Trouble(
                "CI401",
                Place(f"kb/readings/{file.name}"),
                f"The readings can't be used ({error})",
                f"Run nextprobe derive {topology} again",
            )
        ) from None


@lru_cache(maxsize=8)
def _parse(topology: str, mains: Mains, text: str) -> Dictionary:
    """Kept, for each complaint and depth of a topology goes by the same readings."""
    plain = json.loads(text)
    if plain["format"] != FORMAT:
        raise ValueError(f"format {plain['format']}")
    return _read(topology, mains, plain)


def path(topology: str, mains: Mains, folder: Path = FOLDER) -> Path:
    """Where the readings of a topology at one mains lie."""
    return folder / f"{topology}-{mains.volts:g}.json"


def _sort(
    samples: Sequence[tuple[Shown, float, int]],
) -> tuple[tuple[tuple[float, float, int], ...], float, dict[str, float], float]:
    values, outcomes, over, missing = [], dict[str, float](), 0.0, 0.0
    for (outcome, value), weight, number in samples:
        if value is not None and math.isfinite(value):
            values.append((value, weight, number))
        elif value is not None:
            over += weight
        elif outcome is None:
            missing += weight
        if outcome is not None:
            outcomes[outcome] = outcomes.get(outcome, 0.0) + weight
    return tuple(sorted(values)), over, outcomes, missing


def _text(dictionary: Dictionary) -> str:
    """JSON with equal rows written once: faults that a test can't tell apart share theirs."""
    faults = list(dict.fromkeys(fault for row in dictionary.cells.values() for fault in row))
    readings: dict[str, int] = {}
    tests = {}
    for test, row in dictionary.cells.items():
        rows: list[int | None] = []
        for fault in faults:
            cell = row.get(fault)
            if cell is None:
                rows.append(None)
                continue
            samples = [_plain((cell.outcome, cell.value)), *(_plain(one) for one in cell.samples)]
            rows.append(readings.setdefault(_short(samples), len(readings)))
        tests[test] = {"unit": dictionary.measures.get(test), "rows": rows}
    head = {
        "format": FORMAT, "topology": dictionary.topology,
        "mains": {"volts": dictionary.mains.volts, "hertz": dictionary.mains.hertz},
        "seed": SEED, "key": dict(dictionary.key),
        "listed": _numbers(dictionary.listed),
    }  # fmt: skip
    units = ",\n".join(_short(_plain_unit(unit)) for unit in dictionary.units)
    heads = ",\n".join(f"{json.dumps(name)}: {_short(value)}" for name, value in head.items())
    heads += f',\n"units": [\n{units}\n],\n"faults": {_short(faults)}'
    rows_text = ",\n".join(f"{json.dumps(test)}: {_short(row)}" for test, row in tests.items())
    lines = ",\n".join(readings)
    return f'{{\n{heads},\n"tests": {{\n{rows_text}\n}},\n"readings": [\n{lines}\n]}}\n'


def _read(topology: str, mains: Mains, plain: Mapping[str, Any]) -> Dictionary:
    cells = [_cell(row) for row in plain["readings"]]
    faults = plain["faults"]
    return Dictionary(
        topology, mains, plain["key"],
        plain["listed"],
        tuple(
            Sibling(u["values"], frozenset(u["absent"]), u["kinds"], u["severity"], u["supply"],
                    u["weight"])
            for u in plain["units"]
        ),
        {
            test: {
                fault: cells[number]
                for fault, number in zip(faults, table["rows"], strict=True)
                if number is not None
            }
            for test, table in plain["tests"].items()
        },
        {test: table["unit"] for test, table in plain["tests"].items() if table["unit"]},
    )  # fmt: skip


def _numbers(values: Mapping[str, float]) -> dict[str, float]:
    return {part: float(f"{value:.6g}") for part, value in sorted(values.items())}


def _plain_unit(unit: Sibling) -> dict[str, Any]:
    return {
        "values": _numbers(unit.values), "absent": sorted(unit.absent),
        "kinds": dict(sorted(unit.kinds.items())), "severity": float(f"{unit.severity:.3g}"),
        "supply": float(f"{unit.supply:.4g}"), "weight": float(f"{unit.weight:.6g}"),
    }  # fmt: skip


def _short(plain: object) -> str:
    return json.dumps(plain, separators=(",", ":"), ensure_ascii=False)


def _plain(sample: Shown) -> Any:
    outcome, value = sample
    if value is None:
        return outcome
    number = "OL" if math.isinf(value) else float(f"{value:.{DIGITS}g}")
    return number if outcome is None else [outcome, number]


def _cell(row: Sequence[Any]) -> Cell:
    nominal, *samples = (_sample(one) for one in row)
    return Cell(*nominal, tuple(samples))


def _sample(plain: Any) -> Shown:
    if isinstance(plain, list):
        return str(plain[0]), _sample(plain[1])[1]
    if plain == "OL":
        return None, math.inf
    if plain is None or isinstance(plain, str):
        return plain, None
    return None, float(plain)
