"""Do the trade rules and the circuit's physics agree? Every fault x test that both speak of.

The rules' word is the likeliest outcome of the model's row, and any that is nearly as likely; the
circuit's are the outcomes of the nominal unit and of the sampled designs. They agree where the
nominal unit or a fair share of the designs shows what the rules say: what is so in one make only is
no rule. A cell is argued where the circuit's data says why it can't speak for it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from engine.circuit.dictionary import UNLISTED, Cell, Dictionary, shows, spread
from engine.model.absence import NO_RIG
from engine.model.records import Model, Test
from kb.language.circuit import Beyond, circuit, folder_of
from kb.quantities import show

HALF = 0.4
"""Outcomes with at least this share of the likeliest one's odds count as said by the rules, too."""


FAIR = 0.25
"""The rules stand where this share of the sampled designs shows what they say. Our choice."""


@dataclass(frozen=True, slots=True)
class Disagreement:
    """One cell where rules and circuit differ, with both sides' words."""

    test: str
    fault: str
    rules: str
    rules_odds: float
    circuit: str | None
    value: float | None
    argued: str = ""


@dataclass(frozen=True, slots=True)
class Accord:
    """The outcome of a comparison: how many cells were compared, and where they differ."""

    cells: int
    disagreements: tuple[Disagreement, ...]

    @property
    def open(self) -> tuple[Disagreement, ...]:
        """Those that nothing argues for."""
        return tuple(d for d in self.disagreements if not d.argued)


def compare(model: Model, readings: Dictionary, kb: Path | None = None) -> Accord:
    """Every cell that model and readings share; O(tests x faults).

    The circuit is that of one's own knowledge `kb` where it has one.
    """
    beyond = circuit(model.topology, folder_of(model.topology, kb)).beyond
    cells, disagreements = 0, []
    for test in model.tests:
        row = readings.cells.get(test.id, {})
        for fault in model.faults:
            if UNLISTED in (fault.id, fault.variant_of) or fault.id not in row:
                continue
            cells += 1
            cell = row[fault.id]
            answer = shows(test, (cell.outcome, cell.value))
            odds = model.row(test.id, fault.id)
            likely = max(odds, key=lambda outcome: odds[outcome])
            said = {outcome for outcome, p in odds.items() if p >= HALF * odds[likely]}
            if answer in said or _share(test, cell, said) >= FAIR:
                continue
            why = _argument(beyond, fault.id, test.id)
            disagreements.append(
                Disagreement(test.id, fault.id, likely, odds[likely], answer, cell.value, why)
            )
    return Accord(cells, tuple(disagreements))


def _share(test: Test, cell: Cell, outcomes: Collection[str]) -> float:
    """The share of the sampled designs simulated here that shows one of these outcomes."""
    seen = [outcome for sample in cell.samples if (outcome := shows(test, sample)) is not None]
    return sum(outcome in outcomes for outcome in seen) / len(seen) if seen else 0.0


def sentence(one: Disagreement) -> str:
    """A disagreement in words, for people."""
    read = "" if one.value is None else f" (reads {one.value:.4g})"
    result = f"the circuit shows {one.circuit}{read}" if one.circuit else "no simulation ended"
    reason = f" Argued: {one.argued}." if one.argued else ""
    return (
        f"{one.test} with {one.fault}: the rules say {one.rules} ({one.rules_odds:.2f}), "
        f"{result}.{reason}"
    )


def simulation_words(model: Model, readings: Dictionary, test: str, fault: str) -> str:
    """How the circuit came to its reading of a cell: what was supposed, set up, and read."""
    set_up, hypothesis = model.test(test), model.fault(fault)
    rig = "" if set_up.rig in ("", NO_RIG) else f" and {set_up.rig}"
    numbers = spread(readings, test, fault)
    read = ""
    if numbers is not None and numbers.nominal[1] is not None:
        read = f", which reads {_number(numbers.nominal[1], numbers.measure)}"
    if numbers is not None and numbers.values:
        least, most = (_number(numbers.values[end][0], numbers.measure) for end in (0, -1))
        read += f" ({least} to {most} on {len(readings.units)} sampled units)"
    says = hypothesis.says or "nothing broken"
    return f"Simulated with {says}, on {set_up.supply}{rig}: {set_up.instrument or 'the eye'}{read}"


def _number(value: float, measure: str) -> str:
    return "over range" if math.isinf(value) else show(value, measure)


def _argument(beyond: tuple[Beyond, ...], fault: str, test: str) -> str:
    for argument in beyond:
        if re.fullmatch(argument.faults, fault) and re.fullmatch(argument.tests or ".*", test):
            return argument.says
    return ""
