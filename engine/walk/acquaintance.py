"""Getting to know the unit at hand: what a marking or a good unit's reading changes.

A reading spreads because nobody knows the design. A marking narrows the designs, so that the next
reading tells more; what is worth asking for says `engine.walk.inquiry`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from engine.circuit.dictionary import Dictionary
from engine.evidence.make import Make, apply_markings, like
from engine.evidence.witness import SOUND
from engine.evidence.witness import witness as witness_of
from engine.model.records import Model
from engine.readings import bands as readings
from engine.readings import markings
from engine.walk.events import Answered, Event, Known
from engine.walk.job import Walk, carried_over, replay
from kb.quantities import Quantity
from kb.trouble import TroubleError


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
