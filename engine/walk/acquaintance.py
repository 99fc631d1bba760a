"""Getting to know the unit at hand: which marking is worth reading, and what one changes.

A reading spreads because nobody knows the design. A marking narrows the designs, so that the next
reading tells more; it costs half a minute where the board is open for that reading anyway.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from engine.circuit.dictionary import Dictionary
from engine.circuit.narrowing import ALIKE, narrow
from engine.evidence.make import Make, apply_markings, choices, like
from engine.evidence.telling import WORTH, expected_bits
from engine.evidence.witness import SOUND, Witness
from engine.evidence.witness import witness as witness_of
from engine.model.records import Model, Test
from engine.readings import bands as readings
from engine.readings import belief as beliefs
from engine.readings import markings
from engine.readings.bands import bands
from engine.walk.events import Answered, Event, Known
from engine.walk.job import Walk, carried_over, replay, suspicion
from kb.quantities import Quantity
from kb.trouble import TroubleError

MINUTES = 0.5
"""What reading a marking takes at an open board: common practice."""


@dataclass(frozen=True, slots=True)
class Marking:
    """A part whose marking is worth reading before a test, and the minutes it saves in all."""

    part: str
    values: tuple[float, ...]
    bits: float
    saves: float


def worth(walk: Walk, test: Test) -> Marking | None:
    """The part whose marking saves most minutes before a measured test, if it saves its own.

    Bits that the reading tells more, on the mean over designs, are worth the minutes that the plan
    still takes for each bit in question. O(parts x values x faults x cells), a tenth of a second.
    """
    witness = walk.joint.witness
    if witness.dictionary is None or not bands(test) or not witness.speaks(test):
        return None
    odds = {f: p for f, p in suspicion(walk).items() if p >= WORTH}
    if len(odds) < 2:
        return None
    tables = beliefs.as_weights(beliefs.prepare(walk.model), odds)
    open_bits = beliefs.entropy(tables / tables.sum())
    each = walk.plan.proof.expected_minutes / open_bits if open_bits > 0.1 else 0.0
    if each <= 0.0:
        return None
    now = expected_bits(witness, test, odds)
    candidates = [_marking(witness, test, odds, part, now, each) for part in _parts(witness)]
    best = max(candidates, key=lambda one: one.saves, default=None)
    return best if best is not None and best.saves > MINUTES else None


def known_of(
    model: Model,
    dictionary: Dictionary | None,
    make: Make,
    words: Iterable[str],
    listing: Mapping[str, Quantity],
) -> Make:
    """A make narrowed by what is known of the unit: `R2=330k`, a marking, or `volts-TP2=4.6V`, what
    an identical good unit reads at a test. `listing` are the values that the topology lists, by
    part. TroubleError as `engine.readings.markings`, `engine.evidence.make` and readings."""
    tests = {test.id: test for test in model.tests}
    texts = markings.assignments(words)
    good = {}
    for name, text in texts.items():
        if name in tests:
            answer = readings.read(text, tests[name], model.arrangement(tests[name].supply))
            if answer.low is not None and answer.low == answer.high:
                good[name] = answer.low
    marks = {name: text for name, text in texts.items() if name not in tests}
    values = {part: quantity.value for part, quantity in markings.read(marks, listing).items()}
    narrower = apply_markings(make, dictionary, values)
    return like(narrower, dictionary, SOUND, good)


def reacquaint(walk: Walk, words: Iterable[str], listing: Mapping[str, Quantity]) -> Walk:
    """The walk with more known of the unit from its start: every reading is weighed anew.

    The model stays: whoever can deduce it does that first, for markings move its bands, too.
    TroubleError as `known_of`.
    """
    outset, lines = walk.outset, tuple(words)
    witness = outset.witness
    dictionary = None if witness is None else witness.dictionary
    make = known_of(walk.model, dictionary, witness.make if witness else Make(), lines, listing)
    options = dict(outset.options)
    values = [*options.get("values", "").split("\n"), *lines]
    options["values"] = "\n".join(value for value in values if value)
    narrower = replace(
        outset,
        witness=witness_of(walk.model, dictionary, make),
        options=tuple(sorted(options.items())),
    )
    return carried_over(walk, replay(narrower, walk.events, walk.planner))


def reread(model: Model, event: Event) -> Event:
    """An event whose reading counts by this model's bands; as it was where there is no reading."""
    if not isinstance(event, Answered | Known) or not event.reading:
        return event
    test = next((one for one in model.tests if one.id == event.test), None)
    if test is None:
        return event
    try:
        answer = readings.read(event.reading, test, model.arrangement(test.supply))
    except TroubleError:
        return event
    shares = answer.shares if answer.straddles else ()
    return replace(event, outcome=answer.outcome, shares=shares)


def _parts(witness: Witness) -> list[str]:
    dictionary = witness.dictionary
    assert dictionary is not None
    parts = {part for unit in dictionary.units for part in unit.values}
    return sorted(
        part
        for part in parts
        if part not in witness.make.markings and _apart(choices(dictionary, part))
    )


def _apart(values: Sequence[float]) -> bool:
    """Whether a marking tells the values apart."""
    steps = [high / low - 1.0 for low, high in itertools.pairwise(values)]
    return bool(steps) and min(steps) > ALIKE


def _marking(
    witness: Witness, test: Test, odds: dict[str, float], part: str, now: float, each: float
) -> Marking:
    dictionary = witness.dictionary
    assert dictionary is not None
    bits, total, values = 0.0, 0.0, choices(dictionary, part)
    for value in values:
        share, weights = _design(dictionary, witness.make, part, value)
        if share > 0.0:
            make = Make(weights, witness.make.expected, {**witness.make.markings, part: value})
            bits += share * expected_bits(witness.narrower(make), test, odds)
            total += share
    more = max(0.0, bits / total - now) if total > 0.0 else 0.0
    return Marking(part, values, more, more * each)


def _design(
    dictionary: Dictionary, make: Make, part: str, value: float
) -> tuple[float, tuple[float, ...]]:
    """The odds of a marking among the units that still count, and their weights with it."""
    before = make.weights or tuple(unit.weight for unit in dictionary.units)
    fits = narrow(dictionary, {part: value})
    if not fits:
        return 0.0, ()
    remainders = [w if fit > 0.0 else 0.0 for w, fit in zip(before, fits, strict=True)]
    total = sum(remainders)
    return total / sum(before), tuple(w / total for w in remainders) if total else ()
