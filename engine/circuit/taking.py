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

from engine.circuit.dictionary import banded
from engine.circuit.job import Figures, Job, Request
from engine.circuit.netlist import Netlist
from engine.circuit.rigging import fitted, legs_of, outer
from engine.circuit.unit import Unit
from engine.model.records import Test
from kb.language.circuit import Bench, Condition, Measurement
from kb.quantities import read_quantity


@dataclass(frozen=True, slots=True)
class Wanted:
    """A figure group that a test needs: its label and the request in a job that gives it."""

    label: str
    job: Job


@dataclass(frozen=True, slots=True)
class Taking:
    """A test on one unit: the measurement and all it wants run, one request to a job."""

    test: Test
    measurement: Measurement
    wanted: tuple[Wanted, ...]
    marked: float


@dataclass(frozen=True, slots=True)
class Reading:
    """What a simulated test gave: a number in the base unit where one is read, and the outcome.

    `watched` where figures show the outcome; otherwise it is the band of the number.
    """

    outcome: str
    value: float | None
    figures: Mapping[str, float]
    watched: bool = True


def measurement(bench: Bench, test: Test) -> Measurement | None:
    """The measurement a test is taken by; None if it is not for a circuit."""
    for known in bench.measurements:
        if re.fullmatch(known.tests, test.id) and known.instrument in ("", test.instrument):
            return known
    return None


def taking(unit: Unit, bench: Bench, test: Test) -> Taking | None:
    """What must be run for a test on this unit; None if the test is not for a circuit."""
    return next(takings(unit, bench, (test,)), None)


def takings(unit: Unit, bench: Bench, tests: Iterable[Test]) -> Iterator[Taking]:
    """What must be run for each of the tests that are for a circuit, in their order.

    O(tests) texts of the netlist at most: tests on the same rig share theirs.
    """
    rigged = _Rigged(unit, bench)
    for test in tests:
        known = measurement(bench, test)
        if known is None:
            continue
        wanted = list(_wanted(rigged, test, known, "", {}))
        for name, changes in known.versions.items():
            wanted += _wanted(rigged, test, known, f"{name}.", changes)
        yield Taking(test, known, tuple(wanted), _marked(unit, _part(known, test)))


def reading(taken: Taking, results: Mapping[str, Figures]) -> Reading | None:
    """What the test shows, from the figures of its jobs by key; None where a run failed."""
    found: dict[str, float] = {"marked": taken.marked}
    groups: dict[str, list[Figures]] = {}
    for wanted in taken.wanted:
        figures = results[wanted.job.key]
        if not figures:
            return None
        groups.setdefault(wanted.label, []).append(figures)
    for label, several in groups.items():
        for name in dict.fromkeys(name for one in several for name in one):
            seen = [one[name] for one in several if name in one]
            found[f"{label}{name}"] = seen[0]
            found[f"{label}least-{name}"] = min(seen)
            found[f"{label}most-{name}"] = max(seen)
    value = found.get(taken.measurement.reads or "ohms")
    answers = {outcome.id for outcome in taken.test.outcomes}
    for show in taken.measurement.shows:
        if show.outcome not in answers:
            continue
        if show.where and not re.fullmatch(show.where, taken.test.id):
            continue
        if all(_holds(condition, found) for condition in show.when):
            return Reading(show.outcome, value, found)
    outcome = None if value is None else banded(taken.test, value)
    return None if outcome is None else Reading(outcome, value, found, watched=False)


def _holds(condition: Condition, found: Mapping[str, float]) -> bool:
    value = found[condition.of]
    if condition.over:
        value = value / found[condition.over] if found[condition.over] else math.inf
    if condition.less:
        value = abs(value - found[condition.less])
    if condition.above is not None and not value > condition.above:
        return False
    return condition.below is None or value < condition.below


def _part(known: Measurement, test: Test) -> str:
    found = re.fullmatch(known.tests, test.id)
    part = (found.groupdict().get("part") or "") if found else ""
    if known.part_in_rig:
        named = re.search(known.part_in_rig, test.how)
        part = named["part"] if named else part
    return part


def _marked(unit: Unit, part: str) -> float:
    if not part or part not in unit.parts:
        return math.nan
    pieces, parameter = unit.netlist.of(part), unit.device(part).value
    if not pieces or not parameter or not pieces[0].model:
        return math.nan
    return pieces[0].number(parameter, unit.netlist.defaults[pieces[0].model])


@dataclass(frozen=True, slots=True)
class _Fitted:
    """The unit on one rig: netlist, its text, the lines the rig adds, the tested part's legs."""

    netlist: Netlist
    text: str
    lines: tuple[str, ...]
    legs: Mapping[str, str]


@dataclass(slots=True)
class _Rigged:
    """A unit on each rig it was put on, made once."""

    unit: Unit
    bench: Bench
    made: dict[tuple[str, str, bool, str], _Fitted] = field(default_factory=dict)

    def fitted(self, rig: str, part: str, frees: bool, changes: Mapping[str, Any]) -> _Fitted:
        """The unit on this rig; KeyError for one that the bench does not know."""
        key = (rig, part, frees, str(changes))
        if key not in self.made:
            changed = _put(self.unit.netlist, changes)
            points = tuple(self.unit.data.points.values())
            netlist, lines = fitted(changed, self.bench, rig, part, frees, points)
            plain = (rig, "", frees, str(changes))
            known = self.made.get(plain) if not frees else None
            text = known.text if known else netlist.text()
            self.made[key] = _Fitted(netlist, text, tuple(lines), legs_of(netlist, part))
            self.made.setdefault(plain, self.made[key])
        return self.made[key]


def _wanted(
    rigged: _Rigged, test: Test, known: Measurement, label: str, changes: Mapping[str, Any]
) -> Iterator[Wanted]:
    unit, bench, part = rigged.unit, rigged.bench, _part(known, test)
    on_rig = rigged.fitted(test.rig, part, known.frees, changes)
    netlist, legs = on_rig.netlist, on_rig.legs
    a, b = _ends(unit, known, test, netlist, part)
    names = {**legs, "a": a, "b": b}
    lines = [_filled(line, unit, {}) for line in on_rig.lines]
    lines += [_filled(line, unit, names) for line in known.lines]
    light = changes.get("light", known.light) or "covered"
    lines += bench.scenes["light"][light]
    if known.kind == "powered":
        # what feeds one part, a battery say, stands among the measurement's own lines
        lines += [_filled(line, unit, {}) for line in bench.supplies.get(test.supply, ())]
    text = on_rig.text + "\n".join(lines) + "\n"
    hertz = unit.mains.hertz
    if known.kind != "powered":
        for first, second in known.pairs:
            several = len(known.pairs) > 1
            ends = (legs[str(first)], legs[str(second)]) if several else (a, b)
            for kind in (known.kind, known.also) if known.also else (known.kind,):
                yield Wanted(label, Job(text, 0.0, hertz, (Request(kind, *ends),)))
        if known.across:
            ends = (legs[str(known.across[0])], legs[str(known.across[1])])
            yield Wanted("across.", Job(text, 0.0, hertz, (Request(known.kind, *ends),)))
        return
    seconds = known.seconds or unit.data.seconds
    whole = {"settled": (unit.data.settled, seconds), "all": (0.0, seconds)}
    windows = {"end": whole["settled"]}
    for name, given in known.windows.items():
        windows[name] = whole[given] if isinstance(given, str) else given
    for window, (begin, end) in windows.items():
        for name, ends in known.watch.items():
            nodes = [names.get(node, node) for node in ends]
            before = "" if window == "end" else f"{window}."
            request = Request("wave", nodes[0], nodes[1], begin, end)
            yield Wanted(f"{label}{before}{name}.", Job(text, seconds, hertz, (request,)))


def _ends(
    unit: Unit, known: Measurement, test: Test, netlist: Netlist, part: str
) -> tuple[str, str]:
    if known.ends:
        return known.ends
    if test.point and test.point in unit.data.points:
        return unit.data.points[test.point]
    pieces = netlist.of(part)
    if not pieces:
        return "0", "0"
    first, second = outer(netlist, pieces[0])[:2]
    return first, second


def _put(netlist: Netlist, changes: Mapping[str, Any]) -> Netlist:
    """The netlist with parameters of the elements of a subcircuit put to other values.

    Only elements that carry the parameter named by `if`: others would run the same.
    """
    changed = [
        element.with_parameters({n: v for n, v in given.items() if n != "if"})
        for model, given in changes.items()
        if isinstance(given, Mapping)
        for element in netlist.elements
        if element.model == model and "if" in given and given["if"] in element.parameters
    ]
    return netlist.put(changed)


def _filled(line: str, unit: Unit, names: Mapping[str, str]) -> str:
    volts = unit.mains.volts
    string = sum(
        read_quantity(part.value).value * part.count
        for part in unit.parts.values()
        if part.count > 1
    )
    known = {
        "volts": f"{volts:g}",
        "hertz": f"{unit.mains.hertz:g}",
        "peak": f"{volts * unit.supply * 2**0.5:.6g}",
        "string": f"{0.92 * string + 33:.4g}",  # 10 mA through 3.3 kohm into a good string
    }
    for name, text in {**known, **names}.items():
        line = line.replace("{" + name + "}", text)
    return line
