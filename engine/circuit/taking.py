"""How each test of a model is taken on a simulated unit: which jobs and figures, what they show.

A test fits the first measurement of `kb/circuits/bench.yml` whose pattern matches its id; tests
that none matches (questions, eyes, noses) are not for a circuit to answer.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from engine.circuit.dictionary import band_of
from engine.circuit.job import Figures, Job, Request
from engine.circuit.netlist import Netlist
from engine.circuit.rigging import fit_rig, legs_of, outer
from engine.circuit.unit import Unit
from engine.model.records import Test
from kb.language.circuit import Bench, Condition, Measurement
from kb.quantities import read_quantity

USUAL_RATING = 0.09
"""Amperes of the LED packages that the bench's resistors are chosen for."""


@dataclass(frozen=True, slots=True)
class Need:
    """A figure group that a test needs: its label and the request in a job that gives it."""

    label: str
    job: Job


@dataclass(frozen=True, slots=True)
class Taking:
    """A test on one unit: the measurement and all it wants run, one request to a job."""

    test: Test
    measurement: Measurement
    needs: tuple[Need, ...]
    marking: float


@dataclass(frozen=True, slots=True)
class Reading:
    """What a simulated test gave: a number in the base unit where one is read, and the outcome.

    `is_watched` where figures show the outcome; otherwise it is the band of the number.
    """

    outcome: str
    value: float | None
    figures: Mapping[str, float]
    is_watched: bool = True


def measurement(bench: Bench, test: Test) -> Measurement | None:
    """The measurement a test is taken by; None if it is not for a circuit."""
    for entry in bench.measurements:
        if re.fullmatch(entry.tests, test.id) and entry.instrument in ("", test.instrument):
            return entry
    return None


def taking(unit: Unit, bench: Bench, test: Test) -> Taking | None:
    """What must be run for a test on this unit; None if the test is not for a circuit."""
    return next(takings(unit, bench, (test,)), None)


def takings(unit: Unit, bench: Bench, tests: Iterable[Test]) -> Iterator[Taking]:
    """What must be run for each of the tests that are for a circuit, in their order.

    O(tests) texts of the netlist at most: tests on the same rig share theirs.
    """
    rigs = _Rigs(unit, bench)
    for test in tests:
        entry = measurement(bench, test)
        if entry is None or _part(entry, test) in unit.absent:
            continue
        needs = list(_needs(rigs, test, entry, "", {}))
        for name, changes in entry.versions.items():
            needs += _needs(rigs, test, entry, f"{name}.", changes)
        yield Taking(test, entry, tuple(needs), _marking(unit, _part(entry, test)))


def reading(test_taking: Taking, results: Mapping[str, Figures]) -> Reading | None:
    """What the test shows, from the figures of its jobs by key; None where a run failed."""
    values: dict[str, float] = {"marked": test_taking.marking}
    groups: dict[str, list[Figures]] = {}
    for need in test_taking.needs:
        figures = results[need.job.key]
        if not figures:
            return None
        groups.setdefault(need.label, []).append(figures)
    for label, several in groups.items():
        for name in dict.fromkeys(name for one in several for name in one):
            numbers = [one[name] for one in several if name in one]
            values[f"{label}{name}"] = numbers[0]
            values[f"{label}least-{name}"] = min(numbers)
            values[f"{label}most-{name}"] = max(numbers)
    value = values.get(test_taking.measurement.reads or "ohms")
    answers = {outcome.id for outcome in test_taking.test.outcomes}
    for show in test_taking.measurement.shows:
        if show.outcome not in answers:
            continue
        if show.where and not re.fullmatch(show.where, test_taking.test.id):
            continue
        if all(_holds(condition, values) for condition in show.when):
            return Reading(show.outcome, value, values)
    outcome = None if value is None else band_of(test_taking.test, value)
    return None if outcome is None else Reading(outcome, value, values, is_watched=False)


def _holds(condition: Condition, values: Mapping[str, float]) -> bool:
    value = values[condition.of]
    if condition.over:
        value = value / values[condition.over] if values[condition.over] else math.inf
    if condition.less:
        value = abs(value - values[condition.less])
    if condition.above is not None and not value > condition.above:
        return False
    return condition.below is None or value < condition.below


def _part(entry: Measurement, test: Test) -> str:
    match = re.fullmatch(entry.tests, test.id)
    part = (match.groupdict().get("part") or "") if match else ""
    if entry.part_in_rig:
        rig_match = re.search(entry.part_in_rig, test.how)
        part = rig_match["part"] if rig_match else part
    return part


def _marking(unit: Unit, part: str) -> float:
    return unit.values.get(part, math.nan)


@dataclass(frozen=True, slots=True)
class _OnRig:
    """The unit on one rig: netlist, its text, the lines the rig adds, the tested part's legs."""

    netlist: Netlist
    text: str
    lines: tuple[str, ...]
    legs: Mapping[str, str]


@dataclass(slots=True)
class _Rigs:
    """A unit on each rig it was put on, made once."""

    unit: Unit
    bench: Bench
    by_key: dict[tuple[str, str, bool, str], _OnRig] = field(default_factory=dict)

    def fit(self, rig: str, part: str, frees: bool, changes: Mapping[str, Any]) -> _OnRig:
        """The unit on this rig; KeyError for one that the bench does not know."""
        key = (rig, part, frees, str(changes))
        if key not in self.by_key:
            bare = _set_parameters(self.unit.netlist, changes)
            points = tuple(self.unit.data.points.values())
            netlist, lines = fit_rig(bare, self.bench, rig, part, frees, points)
            plain = (rig, "", frees, str(changes))
            sibling = self.by_key.get(plain) if not frees else None
            text = sibling.text if sibling else netlist.text()
            self.by_key[key] = _OnRig(netlist, text, tuple(lines), legs_of(netlist, part))
            self.by_key.setdefault(plain, self.by_key[key])
        return self.by_key[key]


def _needs(
    rigs: _Rigs, test: Test, entry: Measurement, label: str, changes: Mapping[str, Any]
) -> Iterator[Need]:
    unit, bench, part = rigs.unit, rigs.bench, _part(entry, test)
    on_rig = rigs.fit(test.rig, part, entry.frees, changes)
    netlist, legs = on_rig.netlist, on_rig.legs
    a, b = _ends(unit, entry, test, netlist, part)
    names = {**legs, "a": a, "b": b}
    if entry.part_in_rig and part in unit.values:
        names["fed"] = f"{unit.values[part] - 1:.4g}"
    lines = [_fill(line, unit, {}) for line in on_rig.lines]
    lines += [_fill(line, unit, names) for line in entry.lines]
    light = changes.get("light", entry.light) or "covered"
    lines += bench.scenes["light"][light]
    if entry.kind == "powered":
        # what feeds one part, a battery say, stands among the measurement's own lines
        lines += [_fill(line, unit, {}) for line in bench.supplies.get(test.supply, ())]
    text = on_rig.text + "\n".join(lines) + "\n"
    hertz = unit.mains.hertz
    if entry.kind != "powered":
        for first, second in entry.pairs:
            several = len(entry.pairs) > 1
            ends = (legs[str(first)], legs[str(second)]) if several else (a, b)
            for kind in (entry.kind, entry.also) if entry.also else (entry.kind,):
                yield Need(label, Job(text, 0.0, hertz, (Request(kind, *ends),)))
        if entry.across:
            ends = (legs[str(entry.across[0])], legs[str(entry.across[1])])
            yield Need("across.", Job(text, 0.0, hertz, (Request(entry.kind, *ends),)))
        return
    seconds = entry.seconds or unit.data.seconds
    whole = {"settled": (unit.data.settled, seconds), "all": (0.0, seconds)}
    windows = {"end": whole["settled"]}
    for name, span in entry.windows.items():
        windows[name] = whole[span] if isinstance(span, str) else span
    for window, (begin, end) in windows.items():
        for name, ends in entry.watch.items():
            nodes = [names.get(node, node) for node in ends]
            before = "" if window == "end" else f"{window}."
            request = Request("wave", nodes[0], nodes[1], begin, end)
            yield Need(f"{label}{before}{name}.", Job(text, seconds, hertz, (request,)))


def _ends(
    unit: Unit, entry: Measurement, test: Test, netlist: Netlist, part: str
) -> tuple[str, str]:
    if entry.ends:
        return entry.ends
    if test.point and test.point in unit.data.points:
        return unit.data.points[test.point]
    pieces = netlist.of(part)
    if not pieces:
        return "0", "0"
    first, second = outer(netlist, pieces[0])[:2]
    return first, second


def _set_parameters(netlist: Netlist, changes: Mapping[str, Any]) -> Netlist:
    """The netlist with parameters of the elements of a subcircuit put to other values.

    Only elements that carry the parameter named by `if`: others would run the same.
    """
    elements = [
        element.with_parameters({n: v for n, v in values.items() if n != "if"})
        for model, values in changes.items()
        if isinstance(values, Mapping)
        for element in netlist.elements
        if element.model == model and "if" in values and values["if"] in element.parameters
    ]
    return netlist.with_elements(elements)


def _fill(line: str, unit: Unit, names: Mapping[str, str]) -> str:
    volts = unit.mains.volts
    texts = {
        **_string_texts(unit),
        "volts": f"{volts:g}",
        "hertz": f"{unit.mains.hertz:g}",
        "peak": f"{volts * unit.supply * 2**0.5:.6g}",
    }  # fmt: skip
    for name, text in {**texts, **names}.items():
        line = line.replace("{" + name + "}", text)
    return line


def _string_texts(unit: Unit) -> dict[str, str]:
    """Source and resistor for a good string, and for one package: a ninth of the rated current.

    10 mA through 3.3 kohm, 9 mA through 330 ohm at the usual 90 mA. Of other ratings the same share
    flows: who lights a package compares it with a good one of its kind.
    """
    packages = [name for name, part in unit.parts.items() if part.count > 1]
    if not packages:
        return {}
    name, fact = packages[0], unit.parts[packages[0]]
    volts = unit.values.get(name, read_quantity(fact.value).value)
    element = unit.netlist.of(name)[0]
    share = USUAL_RATING / element.number("rated", unit.netlist.defaults[element.model])
    return {
        "string": f"{0.92 * volts * fact.count + 33:.4g}", "string-ohms": f"{3300 * share:.4g}",
        "package": f"{volts + 3:.4g}", "package-ohms": f"{330 * share:.4g}",
    }  # fmt: skip
