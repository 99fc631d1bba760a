"""The densities of a reading as rows of heights over one axis, ready to be drawn.

Volts and amperes stand on a straight axis, ohms on one of decades, with a place of its own for over
range. Each row is scaled by its own greatest height: rows are for shape and place, odds are told in
words beside them.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from engine.evidence import Witness
from engine.evidence.density import SURPRISE, Density
from engine.evidence.meaning import Explanation, Meaning
from engine.evidence.witness import SOUND
from kb.quantities import OHM, show

MOST_ROWS = 5
_BESIDE = 1.2
"""An axis goes on a fifth beyond the last thing worth showing."""
_DECADES_BESIDE = 3.0


@dataclass(frozen=True, slots=True)
class Row:
    """One fault's heights, 0 to 1, by column; `more` counts faults that read alike."""

    label: str
    more: int
    odds: float
    heights: tuple[float, ...]
    over: float


@dataclass(frozen=True, slots=True)
class Figure:
    """Rows over one axis: edges of the columns, ticks as places 0 to 1 with words, the reading's
    place (1 and more: over range), and the healthy band's two ends as places, if it has any."""

    unit: str
    edges: tuple[float, ...]
    ticks: tuple[tuple[float, str], ...]
    reading: float
    reads: str
    healthy: tuple[float, float] | None
    rows: tuple[Row, ...]
    ranges: bool


def figure(meaning: Meaning, witness: Witness, columns: int) -> Figure:
    """The sound unit's row and those of the likeliest explanations that read apart."""
    test, answer = meaning.test, meaning.answer
    over = answer.reading == "over range" or answer.low is None
    value = math.inf if over else ((answer.low or 0.0) + min(answer.high or 0.0, 1e12)) / 2
    choice = _choice(meaning, witness)
    low, high = _axis(meaning, [row[1] for row in choice], value)
    log = meaning.due.unit == OHM
    edges = tuple(_edge(low, high, step / columns, log) for step in range(columns + 1))
    rows = tuple(_row(label, more, odds, density, edges) for label, density, more, odds in choice)
    band = meaning.due.band
    healthy = None
    if band is not None:
        ends = (_place(band.low, low, high, log), _place(band.high, low, high, log))
        healthy = (min(max(ends[0], 0.0), 1.0), min(max(ends[1], 0.0), 1.0))
    reads = "over range" if over else show(value, meaning.due.unit, 4)
    place = 1.0 if over else _place(value, low, high, log)
    ranges = witness.density(test, meaning.explanations[0].fault).scale.ranges
    return Figure(
        meaning.due.unit, edges, _ticks(low, high, log, meaning.due.unit), place, reads, healthy,
        rows, ranges,
    )  # fmt: skip


def _choice(meaning: Meaning, witness: Witness) -> list[tuple[str, Density, int, float]]:
    """Label, density, faults that read alike and odds of all these: the sound unit's first."""
    sound = witness.density(meaning.test, SOUND)
    alike, sound_odds = 0, meaning.sound_odds
    groups: list[tuple[Explanation, Density, list[float]]] = []
    for one in meaning.explanations:
        if one.fault == SOUND or one.after < 0.002 or not witness.read(meaning.test, one.fault):
            continue
        density = witness.density(meaning.test, one.fault)
        if _alike(density, sound):
            alike, sound_odds = alike + 1, sound_odds + one.after
            continue
        for first, same, odds in groups:
            if _alike(density, same) and abs(math.log(one.fits / first.fits)) < 0.05:
                odds.append(one.after)
                break
        else:
            groups.append((one, density, [one.after]))
    groups.sort(key=lambda group: -sum(group[2]))
    rows = [("sound", sound, alike, sound_odds)]
    for first, density, odds in groups[: MOST_ROWS - 1]:
        rows.append((first.fault, density, len(odds) - 1, sum(odds)))
    return rows


def _alike(one: Density, other: Density) -> bool:
    return len(one.centres) == len(other.centres) and bool(
        (abs(one.centres - other.centres) < 0.05).all()
    )


def _axis(meaning: Meaning, densities: Sequence[Density], value: float) -> tuple[float, float]:
    """The ends of the axis in the base unit."""
    values = [meaning.due.low, meaning.due.high, value]
    for density in densities:
        scale = density.scale
        values += [math.sinh(float(centre)) * scale.bend for centre in density.centres]
    if meaning.due.band is not None:
        values += [meaning.due.band.low, meaning.due.band.high]
    real = [v for v in values if v is not None and math.isfinite(v) and v > 0]
    most = max(real, default=1.0)
    if meaning.due.unit == OHM:
        return max(min(real, default=1.0), most * 1e-7) / _DECADES_BESIDE, most * _DECADES_BESIDE
    return 0.0, most * _BESIDE


def _edge(low: float, high: float, place: float, log: bool) -> float:
    if log:
        return low * math.pow(high / low, place)
    return low + (high - low) * place


def _place(value: float, low: float, high: float, log: bool) -> float:
    if value == math.inf:
        return 1.0
    if log:
        return math.log(max(value, low) / low) / math.log(high / low)
    return (max(value, low) - low) / (high - low)


def _row(label: str, more: int, odds: float, density: Density, edges: Sequence[float]) -> Row:
    masses = [
        density.mass(low, high) - SURPRISE * density.blind(low, high)
        for low, high in itertools.pairwise(edges)
    ]
    most = max([*masses, density.over, 1e-12])
    heights = tuple(max(0.0, mass / most) for mass in masses)
    return Row(label, more, odds, heights, density.over / most)


def _ticks(low: float, high: float, log: bool, unit: str) -> tuple[tuple[float, str], ...]:
    if log:
        decades = range(math.ceil(math.log10(low)), math.floor(math.log10(high)) + 1)
        step = max(1, len(decades) // 5)
        values = [math.pow(10.0, d) for d in list(decades)[::step]]
    else:
        raw = (high - low) / 5
        size = math.pow(10.0, math.floor(math.log10(raw)))
        step_size = next(s * size for s in (1, 2, 5, 10) if s * size >= raw)
        values = [step_size * n for n in range(int(high / step_size) + 1)]
    return tuple((_place(v, low, high, log), show(v, unit)) for v in values)
