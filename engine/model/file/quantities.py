"""Minutes, volts, hertz and reading bands of a model document."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from engine.model.absence import UNENERGISED
from engine.model.file.finding import Finding, Path
from engine.model.records import Model, Outcome, Test

ABSURD_MINUTES = 100_000.0
"""About ten weeks without sleep: no bench step takes as long."""

PROHIBITIVE_MINUTES = 1e9
"""A wrong verdict may be priced so that it never pays; beyond this, sums lose their minutes."""

_MOST_VOLTS = 100_000.0
"""Well over what any bench or lamp holds; a figure beyond it is a slip. Our choice."""


def quantity_findings(model: Model) -> Iterator[Finding]:
    """Every trouble with minutes, volts and bands in a model."""
    for path, minutes in _minutes(model):
        yield from _sensible(path, minutes, ABSURD_MINUTES)
    wrong = model.wrong_verdict_minutes
    yield from _sensible(("wrong_verdict_minutes",), wrong, PROHIBITIVE_MINUTES)
    yield from _volts(model)
    yield from _supply_minutes(model)
    for n, test in enumerate(model.tests):
        yield from _bands(("tests", n, "outcomes"), test)


def _sensible(path: Path, minutes: float, most: float) -> Iterator[Finding]:
    if not 0 <= minutes <= most:
        what = f"{minutes:g} minutes can't be meant"
        yield Finding("MD121", path, what, f"Write minutes between 0 and {most:.0f}")


def _minutes(model: Model) -> Iterator[tuple[Path, float]]:
    for n, remedy in enumerate(model.remedies):
        yield ("remedies", n, "minutes"), remedy.minutes
    for n, proof in enumerate(model.proofs):
        yield ("proofs", n, "minutes"), proof.minutes
    for n, test in enumerate(model.tests):
        yield ("tests", n, "minutes"), test.minutes
    for n, opening in enumerate(model.openings):
        yield ("openings", n, "minutes"), opening.minutes
    for n, rig in enumerate(model.rigs):
        yield ("rigs", n, "minutes"), rig.minutes
    for old, row in model.supply.minutes.items():
        for new, minutes in row.items():
            yield ("supply", "minutes", old, new), minutes


def _volts(model: Model) -> Iterator[Finding]:
    figures: list[tuple[Path, float]] = [(("mains", "volts"), model.mains.volts)]
    figures += [(("mains", "hertz"), model.mains.hertz)]
    for n, arrangement in enumerate(model.supply.arrangements):
        figures.append((("supply", "arrangements", n, "max_volts"), arrangement.max_volts))
    for n, store in enumerate(model.stores):
        figures.append((("stores", n, "max_volts"), store.max_volts))
        figures.append((("stores", n, "below"), store.below))
    for path, figure in figures:
        if not 0 <= figure <= _MOST_VOLTS:
            mend = f"Write a figure between 0 and {_MOST_VOLTS:.0f}"
            yield Finding("MD122", path, f"{figure:g} can't be meant", mend)


def _supply_minutes(model: Model) -> Iterator[Finding]:
    minutes = model.supply.minutes
    dead = [a.id for a in model.supply.arrangements if a.energy == UNENERGISED]
    if len(dead) != 1:
        return
    names = [arrangement.id for arrangement in model.supply.arrangements]
    for name in names:
        for old, new in ((name, dead[0]), (dead[0], name)):
            if old != new and new not in minutes.get(old, {}):
                what = f'the minutes from "{old}" to "{new}" are missing'
                mend = f'Add "{new}" under supply.minutes["{old}"]'
                yield Finding("MD123", ("supply", "minutes", old), what, mend)
        if minutes.get(name, {}).get(name, 0.0) != 0.0:
            path = ("supply", "minutes", name, name)
            yield Finding("MD125", path, "staying costs nothing", "Write 0")
    yield from _roundabout(model, dead[0])


def _roundabout(model: Model, dead: str) -> Iterator[Finding]:
    """Between two energised arrangements the way leads through the dead one, always."""
    table = model.supply.minutes
    for old, row in table.items():
        for new, minutes in row.items():
            if old == new or dead in (old, new):
                continue
            through = table[old].get(dead, 0.0) + table.get(dead, {}).get(new, 0.0)
            if abs(minutes - through) > 1e-6:
                what = f"{minutes:g} minutes, but through {dead} it takes {through:g}"
                mend = f"{through:g} is used; write that or leave it out"
                path = ("supply", "minutes", old, new)
                yield Finding("MD124", path, what, mend, grave=False)


def _bands(path: Path, test: Test) -> Iterator[Finding]:
    if not test.outcomes:
        yield Finding("MD141", path, f'test "{test.id}" has no outcomes', "Write at least one")
    bands = [outcome for outcome in test.outcomes if _is_measured(outcome)]
    if not bands:
        return
    if any(outcome.unit is None for outcome in bands):
        what = f'a band of test "{test.id}" has no unit'
        yield Finding("MD143", path, what, "Write the unit of low and high")
    elif len({outcome.unit for outcome in bands}) > 1:
        what = f'the bands of test "{test.id}" have several units'
        yield Finding("MD143", path, what, "Write them all in one unit")
    else:
        yield from _cover(path, test, bands)


def _is_measured(outcome: Outcome) -> bool:
    return not (outcome.low is None and outcome.high is None and outcome.unit is None)


def _cover(path: Path, test: Test, bands: Sequence[Outcome]) -> Iterator[Finding]:
    """Half-open bands in order, each beginning where the one below ends."""
    infinite = float("inf")
    order = sorted(bands, key=lambda o: -infinite if o.low is None else o.low)
    for outcome in order:
        if outcome.low is not None and outcome.high is not None and outcome.low >= outcome.high:
            what = f'the band of "{outcome.id}" ends at or before its beginning'
            yield Finding("MD142", path, what, "Write low below high")
            return
    for below, above in pairwise(order):
        if below.high != above.low or above.low is None:
            what = f'"{below.id}" ends at {_end(below.high)}, "{above.id}" begins at ' + (
                f"{_end(above.low)}"
            )
            mend = "Let each band begin where the one below ends"
            yield Finding("MD142", path, what, mend)
    lowest, highest = order[0], order[-1]
    if lowest.low is not None:
        floor = lowest.low <= 0.0
        what = f'no answer of test "{test.id}" takes a reading below {lowest.low:g}'
        code = "MD144" if floor else "MD142"
        yield Finding(code, path, what, f'Write low: null for "{lowest.id}"', grave=not floor)
    if highest.high is not None and len(bands) == len(test.outcomes):
        what = f'no answer of test "{test.id}" takes a reading of {highest.high:g} or more'
        yield Finding("MD142", path, what, f'Write high: null for "{highest.id}"')


def _end(volts: float | None) -> str:
    return "no end" if volts is None else f"{volts:g}"
