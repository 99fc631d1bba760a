"""What a reading means, in words for the bench."""

from __future__ import annotations

import math
from collections.abc import Iterator

from engine.evidence.meaning import Explanation, Meaning
from engine.readings.bands import Band
from kb.quantities import AMPERE, VOLT, show
from render.wording.odds import percent

MOST = 6
"""Explanations that are told; the document lists all."""
_LEAST = 0.005
_MISREAD = 0.5
_LEAST_SEEN = {VOLT: 5e-4, AMPERE: 5e-7}
"""Less than this no bench meter shows; a simulation does."""


def due(meaning: Meaning) -> Iterator[tuple[str, str]]:
    """What it should read and why: label and text."""
    what, unit = meaning.due, meaning.due.unit
    if what.from_good_unit is not None:
        yield "good unit", f"An identical good unit reads {show(what.from_good_unit, unit)}."
    if what.good:
        yield "due", what.good
    elif what.band is not None:
        yield "due", _band(what.band, unit) + "."
    if what.says:
        yield "why", what.says + (f" ({what.source})" if what.source else "")
    if what.low is not None and what.high is not None:
        exact = "" if what.nominal is None else _number(what.nominal, unit)
        exact = f"; one with the listed values to the letter {exact}" if exact else ""
        yield "simulated", f"Sound units read {_span(what.low, what.high, unit)}{exact}."
    for says, markings, reads in what.designs if len(what.designs) > 1 else ():
        values = f" ({', '.join(markings)})" if markings else ""
        yield "", f"{says[:1].upper()}{says[1:]}{values}: about {_number(reads, unit)}."
    yield from _cuts(meaning)


def _cuts(meaning: Meaning) -> Iterator[tuple[str, str]]:
    """Where the band that is due ends, by readings and by the rule's sum."""
    band = meaning.due.band
    near = [] if band is None else [
        cut for cut in meaning.test.cuts if band.outcome in (cut.below, cut.above)
    ]  # fmt: skip
    for number, cut in enumerate(near):
        below, above = meaning.test.outcome(cut.below), meaning.test.outcome(cut.above)
        unit = above.unit or ""
        text = f"“{below.says}” ends and “{above.says}” begins at {_number(above.low or 0.0, unit)}"
        if cut.parts is not None:
            low, high = (_number(end, unit) for end in cut.parts)
            text += f"; readings part between {low} and {high}"
        if above.low != cut.rule:
            text += f"; the rule's sum gives {_number(cut.rule, unit)}"
        yield "bands" if number == 0 else "", f"{text}{_ENDS.get(cut.by, '')}."


_ENDS = {
    "limit": "; held there by the rule's limit",
    "sound": "; held there by what sound units read",
    "agreed": "; held there by a reading on which rules and circuit agree",
}


def off(meaning: Meaning) -> str:
    """How far off the reading is, from the simulated span or else from the band."""
    low, high = meaning.answer.low, meaning.answer.high
    if meaning.answer.reading == "over range" or low is None or high is None:
        return "" if meaning.due.high is None else _over(meaning)
    what = meaning.due
    least, most, where = what.low, what.high, "what sound units read"
    if least is None or most is None:
        if what.band is None:
            return ""
        least, most, where = what.band.low, what.band.high, "the band that is due"
    unit = what.unit
    if low > most:
        return f"{_number(low - most, unit)} above {where}{_share(low, what.nominal)}."
    if high < least:
        return f"{_number(least - high, unit)} below {where}{_share(high, what.nominal)}."
    return f"Within {where}."


def explanation(one: Explanation, unit: str) -> str:
    """One fault: odds before and after, how well it fits, what it reads by itself."""
    reads = ""
    if one.typical is not None:
        low, _, high = one.typical
        reads = f"; reads {_span(low, high, unit)}"
    return f"{one.says}: {percent(one.before)} before, {percent(one.after)} now{reads}; {_fit(one)}"


def explanations(meaning: Meaning) -> list[Explanation]:
    """The likeliest, as many as are told."""
    return [one for one in meaning.explanations if one.after >= _LEAST][:MOST]


def doubt(meaning: Meaning) -> str:
    """What to think of a reading that no simulated fault gives."""
    if meaning.foreseen:
        return ""
    return "No fault that was simulated reads so: look at range and leads and read again."


def usual(meaning: Meaning) -> str:
    """Why the volts across the resistor that feeds the point tell next to nothing, with numbers."""
    drop = meaning.drop
    if drop is None:
        return ""

    others = ", ".join(f"{test} {bits:.1f}" for test, bits in drop.others)
    change = max(abs(drop.low - drop.due), abs(drop.high - drop.due)) / abs(drop.due)
    words = (
        f"the volts across {drop.part}: {show(drop.due, VOLT)} with a sound unit, "
        f"{show(drop.low, VOLT)} to {show(drop.high, VOLT)} with what explains the reading, "
        f"{percent(change)} apart, and {drop.part} itself is within {percent(drop.tolerance)}. "
        f"Of {drop.open_bits:.1f} bits in question they tell {drop.bits:.1f}"
    )
    return words[:1].upper() + words[1:] + (f"; {others}." if others else ".")


def following(meaning: Meaning) -> Iterator[tuple[str, str]]:
    """The next check, or the remedy where no check pays."""
    step = meaning.next
    if step.test is None:
        yield "next", f"No further check pays: {step.says}."
        return
    yield "next", f"{step.says} ({step.test}, {step.minutes:g} min with its set-up)"
    if step.shows:
        yield "", "; ".join(f"{says} {percent(p)}" for _, says, p in step.shows) + "."


def _over(meaning: Meaning) -> str:
    assert meaning.due.high is not None
    if math.isinf(meaning.due.high):
        return "Sound units read over range, too."
    return f"Sound units read at most {_number(meaning.due.high, meaning.due.unit)}."


def _share(value: float, nominal: float | None) -> str:
    if nominal is None or not math.isfinite(nominal) or nominal == 0.0:
        return ""
    return f", {100 * value / nominal:.0f} % of the listed unit's"


def _fit(one: Explanation) -> str:
    if one.slip > _MISREAD:
        return "only if it was misread"
    if one.fits >= 0.3:
        return "fits well"
    if one.fits >= 0.03:
        return "fits poorly"
    times = float(f"{1 / one.fits:.2g}") if one.fits > 1e-4 else 0.0
    return f"hardly fits, {times:g} times worse than the best" if times else "does not fit"


def _number(value: float, unit: str) -> str:
    if math.isinf(value):
        return "over range"
    return show(0.0 if abs(value) < _LEAST_SEEN.get(unit, 0.0) else value, unit)


def _span(low: float, high: float, unit: str) -> str:
    """From the least to the greatest, or about one number where they are nearly the same."""
    if math.isclose(low, high, rel_tol=0.02):
        return _number(low, unit)
    return f"{_number(low, unit)} to {_number(high, unit)}"


def _band(band: Band, unit: str) -> str:
    if math.isinf(band.high):
        return f"from {show(band.low, unit)} up"
    if math.isinf(band.low):
        return f"below {show(band.high, unit)}"
    return f"{show(band.low, unit)} to {show(band.high, unit)}"
