"""A topology's family: from seeded coordinates to one maker's whole design, redrawn until it works.

Choices are made in the order of the circuit's file, each by a coordinate of its own, so that one
more draw leaves the others as they were. A design that fails its own sums is drawn again: nobody
sells a lamp that doesn't light, or that stays on in daylight.

Codes: CI203 no design of a family passes its sums.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from engine.circuit.design import Design
from engine.circuit.soundness import SUMS, troubles
from engine.circuit.sums import Sums
from engine.circuit.unit import Unit
from engine.electrics import preferred
from kb.language.circuit import Draw, Spread, Way
from kb.quantities import read_quantity
from kb.trouble import Place, Trouble, TroubleError

Coordinate = Callable[[str], float]
"""A number of [0, 1) for each name: of a choice, or of what a draw sets."""
TRIES = 200
"""Designs drawn for one unit before the family counts as one that can't be built."""
RATED_VOLTS = (16.0, 25.0, 35.0, 50.0, 63.0, 100.0, 160.0, 200.0, 250.0, 350.0, 400.0, 450.0)
"""Usual ratings of electrolytics (makers' tables; common practice)."""


def draw_sound(nominal: Unit, coordinates: Callable[[int], Coordinate]) -> tuple[Design, int]:
    """A design that passes its sums, and how many before it failed; `coordinates` by attempt.

    TroubleError CI203 where `TRIES` designs fail. O(attempts x draws).
    """
    failures: tuple[str, ...] = ()
    for attempt in range(TRIES):
        design = draw(nominal, coordinates(attempt))
        failures = troubles(design)
        if not failures:
            return design, attempt
    raise TroubleError(
        Trouble(
            "CI203",
            Place(f"kb/circuits/{nominal.topology}.yml"),
            f"No design of the family works in {TRIES} draws (the last fails: "
            f"{', '.join(failures)})",
            "Mend the family's ranges until most designs pass their sums",
        )
    )


def draw(nominal: Unit, coordinate: Coordinate) -> Design:
    """One design, sound or not; the nominal one where the circuit has no family."""
    design = Design(nominal)
    for choice in nominal.data.family:
        if any(design.ways.get(of) not in ways for of, ways in choice.when.items()):
            continue
        name = _pick({name: way.odds for name, way in choice.ways.items()}, coordinate(choice.of))
        design = _take(design, choice.of, name, choice.ways[name], coordinate)
    return design


def _take(design: Design, choice: str, name: str, way: Way, coordinate: Coordinate) -> Design:
    design = replace(
        design,
        ways={**design.ways, choice: name},
        absent=design.absent | set(way.absent),
        kinds={**design.kinds, **way.kinds},
        adds={**design.adds, **way.adds},
        legs={**design.legs, **way.legs},
    )
    for one in way.draws:
        number = _number(design, one, coordinate(one.sets))
        design = replace(design, numbers={**design.numbers, one.sets: number})
    return design


def _number(design: Design, one: Draw, coordinate: float) -> float:
    spread = one.when_mains.get(f"{design.nominal.mains.volts:g}") or Spread(
        odds=one.odds, range=one.range
    )
    factor = 1.0
    if spread.odds:
        factor = _plain(_pick(spread.odds, coordinate))
    elif spread.range is not None:
        least, most = (_plain(text) for text in spread.range)
        factor = least * (most / least) ** coordinate
    sums = Sums(design)
    number = factor * SUMS[one.of](sums) if one.of else factor
    if one.at_least:
        number = max(number, SUMS[one.at_least](sums))
    if one.at_most:
        number = min(number, SUMS[one.at_most](sums))
    return snap(number, one.series)


def snap(value: float, series: str) -> float:
    """The nearest value of a series; of ratings and for `whole` the next that suffices."""
    if series == "whole":
        return float(max(2, round(value)))
    if series == "rated":
        return next((volts for volts in RATED_VOLTS if volts >= value), RATED_VOLTS[-1])
    if not series or not value > 0.0:
        return value
    return preferred.nearest(value, series)


def _pick(odds: Mapping[str, float], coordinate: float) -> str:
    """The name that a coordinate falls on; odds are scaled to sum to 1."""
    left = coordinate * sum(odds.values())
    for name, share in odds.items():
        left -= share
        if left < 0.0:
            return name
    return list(odds)[-1]


def _plain(text: str) -> float:
    """A plain number, or a quantity as people write it."""
    try:
        return float(text)
    except ValueError:
        return read_quantity(text).value
