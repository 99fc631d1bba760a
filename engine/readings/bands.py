"""What a person answers to a test: an outcome by name, or what the meter shows.

`read` takes the words or the number as typed (`lit`, `3,1V`, `3100 mV`, `4k7`, `OL`, `>20M`,
`0.6..0.7`) and says which outcome that is. Decimal signs and units are read the same way wherever
the program runs; see `kb.quantities`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from engine.model.records import Arrangement, Outcome, Test
from engine.readings import diode, notation
from engine.readings.notation import LONGEST, Interval, is_bare, over_range, read_interval
from kb.quantities import (
    AMPERE,
    CELSIUS,
    FARAD,
    HENRY,
    HERTZ,
    HOUR,
    MINUTE,
    OHM,
    PERCENT,
    SECOND,
    VOLT,
    WATT,
    TooLargeError,
    WrongUnitError,
    in_base,
    show,
)
from kb.trouble import Place, Trouble, TroubleError


@dataclass(frozen=True, slots=True)
class Answer:
    """What was answered to a test, as evidence.

    `shares` pairs outcomes with the share of the answer that speaks for each; they sum to 1. One
    outcome is the rule. Several arise where a range straddles bands: then each outcome's share is
    its part of the range, and equal parts where the range has no end. `reading` is the value as
    understood, with unit, and empty where the answer was given by name; `low` and `high` bound it
    in the base unit and are equal for a plain reading.
    """

    test: str
    shares: tuple[tuple[str, float], ...]
    reading: str = ""
    low: float | None = None
    high: float | None = None
    unit: str = ""

    @property
    def outcome(self) -> str:
        """The outcome with the largest share, the first of equals."""
        return max(self.shares, key=lambda pair: pair[1])[0]

    @property
    def straddles(self) -> bool:
        """Whether the reading leaves open which outcome it is."""
        return len(self.shares) > 1


@dataclass(frozen=True, slots=True)
class Band:
    """A measured outcome's band [low, high) in the base unit, infinite where it has no bound."""

    outcome: str
    low: float
    high: float


# What no unit on this bench shows: nothing here is above 458 V (a flyback's switch at 253 V mains,
# `flyback(357.8, 12.5, 8)`), a plug carries 16 A at most, and a meter ends at gigaohms.
_POSSIBLE = {
    VOLT: (-1000.0, 1000.0),
    AMPERE: (-20.0, 20.0),
    OHM: (0.0, 1e11),
    WATT: (-4000.0, 4000.0),
    FARAD: (0.0, 1.0),
    HENRY: (0.0, 1000.0),
    HERTZ: (0.0, 1e8),
    SECOND: (0.0, 86400.0),
    MINUTE: (0.0, 1440.0),
    HOUR: (0.0, 24.0),
    CELSIUS: (-40.0, 500.0),
    PERCENT: (-100.0, 100.0),
}
_SENSIBLE = 10.0
"""A current this many times over a test's highest cut point is no sensible one; our choice."""
_WORD = {
    VOLT: "volts", AMPERE: "amperes", OHM: "ohms", WATT: "watts", FARAD: "farads",
    HENRY: "henries", HERTZ: "hertz", SECOND: "seconds", MINUTE: "minutes", HOUR: "hours",
    CELSIUS: "degrees Celsius", PERCENT: "per cent",
}  # fmt: skip


def read(text: str, test: Test, arrangement: Arrangement | None = None) -> Answer:
    """The answer that `text` gives to `test`.

    Tried in turn: an outcome's id or words, whole; over range; a number, range or bound in any
    usual notation; the beginning of an outcome's id or words, if of one only. A bare number takes
    the unit of the test's bands. `arrangement`, where given, tells which voltages are possible.
    Raises TroubleError with one sentence and its mend for anything else: RD1 empty or not
    understood, RD2 wrong unit, RD3 impossible, RD4 ambiguous, RD5 a number where none is wanted.
    """
    plain = notation.spaced(text)
    if not plain:
        raise _trouble(test, "RD1", "An empty answer says nothing", _advice(test))
    whole = _outcome_named(plain, test)
    if whole is not None:
        return Answer(test.id, ((whole, 1.0),))
    if len(plain) > LONGEST:
        start = plain[:20]
        raise _trouble(test, "RD1", f"“{start}…” is too long to be an answer", _advice(test))
    scale = bands(test)
    if scale and over_range(plain):
        return _over_range(plain, test, scale)
    if scale and re.search(r"[0-9]", plain):
        return _band_answer(plain, test, scale, arrangement)
    outcome = diode.outcome(plain, test) if not scale else None
    outcome = outcome or _outcome_beginning(plain, test)
    if outcome is not None:
        return Answer(test.id, ((outcome, 1.0),))
    if not scale and re.match(r"[+\-−<>~]?\s*[0-9.,]", plain):
        raise _trouble(test, "RD5", f"“{plain}” is a number; this test is not read off a meter",
                       _advice(test))  # fmt: skip
    raise _trouble(test, "RD1", f"“{plain}” is none of this test's answers", _advice(test))


def grammar() -> dict[str, Any]:
    """All that `read` goes by, JSON-ready, for who reads answers elsewhere."""
    return {**notation.grammar(), "diode": diode.grammar(), "sensible": _SENSIBLE}


def scale_of(test: Test, arrangement: Arrangement | None = None) -> dict[str, Any]:
    """What `read` takes from a test, JSON-ready: unit as printed and base unit of its bands, null
    where it has none, bounds of what can be, the instrument, whether it is on the diode range; its
    outcomes with id, words and bounds in the base unit, null where they have none."""
    edges = {band.outcome: band for band in bands(test)}
    base = _unit(test) if edges else None
    least, most = possible(base or "", arrangement)

    def finite(value: float) -> float | None:
        return value if math.isfinite(value) else None

    return {
        "unit": _printed_unit(test) if edges else None,
        "base": base,
        "least": finite(least),
        "most": finite(most),
        "instrument": test.instrument,
        "diode": "diode" in _setting(test),
        "outcomes": [
            {
                "id": one.id,
                "says": one.says,
                "unit": base if one.id in edges else None,
                "low": finite(edges[one.id].low) if one.id in edges else None,
                "high": finite(edges[one.id].high) if one.id in edges else None,
            }
            for one in test.outcomes
        ],
    }


def _outcome_named(plain: str, test: Test) -> str | None:
    """The outcome whose id or words are `plain`, case and hyphens aside."""
    text = _fold(plain)
    for outcome in test.outcomes:
        if text in (_fold(outcome.id), _fold(outcome.says)):
            return outcome.id
    return None


def _outcome_beginning(plain: str, test: Test) -> str | None:
    """The one outcome whose id or words begin with `plain`; RD4 where several do."""
    text = _fold(plain)
    if not text:
        return None
    outcomes = [
        o.id
        for o in test.outcomes
        if _fold(o.id).startswith(text) or _fold(o.says).startswith(text)
    ]
    if len(outcomes) > 1:
        either = " or ".join(f"“{name}”" for name in outcomes)
        raise _trouble(test, "RD4", f"“{plain}” could be {either}", "Write a little more of it")
    return outcomes[0] if outcomes else None


def _fold(text: str) -> str:
    return re.sub(r"[\s\-_]+", " ", text).strip(" .").lower()


def bands(test: Test) -> tuple[Band, ...]:
    """The test's measured outcomes in the base unit, ascending; empty if it has none."""
    measured_bands = [
        Band(
            o.id,
            -math.inf if o.low is None else in_base(o.low, o.unit).value,
            math.inf if o.high is None else in_base(o.high, o.unit).value,
        )
        for o in test.outcomes
        if o.unit is not None
    ]
    return tuple(sorted(measured_bands, key=lambda band: band.low))


def _unit(test: Test) -> str:
    """The base unit of the test's bands; only asked of a test that has bands."""
    return in_base(1.0, _printed_unit(test)).unit


def _printed_unit(test: Test) -> str:
    return next(o.unit for o in test.outcomes if o.unit is not None)


def _over_range(plain: str, test: Test, bands: Sequence[Band]) -> Answer:
    """Over range is the topmost band of an ohms or diode range; volts want a higher range."""
    for outcome in test.outcomes:
        if outcome.unit is None and any(over_range(_fold(w)) for w in (outcome.id, outcome.says)):
            return Answer(test.id, ((outcome.id, 1.0),), "over range")
    top = bands[-1]
    if top.high != math.inf or (_unit(test) != OHM and "diode" not in _setting(test)):
        raise _trouble(
            test,
            "RD3",
            f"“{plain}” only says that the meter's range is too low",
            f"Turn to a higher range. {_advice(test)}",
        )
    return Answer(test.id, ((top.outcome, 1.0),), "over range", top.low, math.inf, _unit(test))


def _setting(test: Test) -> str:
    return f"{test.instrument} {test.says} {test.how}".casefold()


def _band_answer(
    plain: str, test: Test, bands: Sequence[Band], arrangement: Arrangement | None
) -> Answer:
    """The bands that a number, a range or a bound falls in."""
    unit = _unit(test)
    _same_kind(plain, test)
    if unit == OHM and plain == "1" and bands[-1].low > 1:
        # Meters without letters show a lone 1 at the left where others show OL.
        raise _trouble(
            test,
            "RD4",
            "“1” is a resistance on some meters and over range on others",
            f"Write 1 {_printed_unit(test)} or OL",
        )
    _one_prefix(plain, test, bands)
    interval = _cut(_interval(plain, test), plain, test, bands, arrangement)
    shares = _shares(interval.low, interval.high, bands)
    if not shares:
        raise _trouble(
            test, "RD3", f"“{plain}” lies outside every answer of this test", _advice(test)
        )
    return Answer(test.id, shares, str(interval), interval.low, interval.high, unit)


_ARTICLE = {"AC": "an", "DC": "a"}


def _same_kind(plain: str, test: Test) -> None:
    """RD2 where the text names the other kind of volts or amperes than the test is read on."""
    reading_kind = re.search(r"[VvAa]\s*(AC|DC)$", plain, re.IGNORECASE)
    range_kind = re.match(r"(AC|DC)\b", test.instrument)
    if reading_kind and range_kind and reading_kind[1].upper() != range_kind[1]:
        raise _trouble(
            test,
            "RD2",
            f"This test is read on {_ARTICLE[range_kind[1]]} {range_kind[1]} range, and “{plain}” "
            "is of the other",
            f"Turn to {test.instrument} and read again",
        )


def _one_prefix(plain: str, test: Test, bands: Sequence[Band]) -> None:
    """RD4 for a bare number that makes sense in amperes and in milliamperes, and says another thing
    in each: meters show both as plain numbers, by the socket that the lead is in."""
    if _unit(test) != AMPERE or not is_bare(plain):
        return
    edges = [edge for band in bands for edge in (band.low, band.high) if math.isfinite(edge)]
    most = _SENSIBLE * max(edges, default=0.0)
    wide, fine = (_interval(f"{plain} {unit}", test).low for unit in ("A", "mA"))
    here = _interval(plain, test).low
    other = fine if here == wide else wide
    if abs(other) > most or _shares(here, here, bands) == _shares(other, other, bands):
        return
    raise _trouble(
        test, "RD4", f"“{plain}” could be {show(wide, AMPERE)} or {show(fine, AMPERE)}",
        f"Write {plain} A or {plain} mA, by the range that the meter is on",
    )  # fmt: skip


def _interval(plain: str, test: Test) -> Interval:
    """The values that the text allows, troubles put as sentences."""
    try:
        return read_interval(plain, _printed_unit(test))
    except WrongUnitError as error:
        unit = _unit(test)
        raise _trouble(
            test,
            "RD2",
            f"This test wants {_WORD.get(unit, unit)}, and “{plain}” is in "
            f"{_WORD.get(error.unit, error.unit)}",
            _advice(test),
        ) from None
    except TooLargeError:
        raise _trouble(
            test, "RD3", f"“{plain}” can't be: it is larger than anything a bench knows",
            _advice(test),
        ) from None  # fmt: skip
    except ValueError:
        raise _trouble(test, "RD1", f"“{plain}” is not a reading", _advice(test)) from None


def _cut(
    interval: Interval,
    plain: str,
    test: Test,
    bands: Sequence[Band],
    arrangement: Arrangement | None,
) -> Interval:
    """The interval, cut to what can be; RD3 where nothing of it can."""
    least, most = possible(interval.unit, arrangement)
    if interval.low > most or (interval.high < least and least < 0):
        raise _trouble(
            test,
            "RD3",
            f"“{plain}” can't be: nothing reads beyond {show(most, interval.unit)} here",
            "Look at the meter's range, its decimal point and the supply, then read again",
        )
    floor = 0.0 if _upright(bands) else least
    if interval.high < floor:
        return _below_zero(interval, plain, test, bands)
    low, high = max(interval.low, floor), interval.high
    if math.isfinite(high):
        high = min(high, most)
    if low < high and low <= floor and high >= most:
        raise _trouble(
            test,
            "RD1",
            f"“{plain}” says nothing: all that can be read here lies within it",
            _advice(test),
        )
    return Interval(low, high, interval.unit)


def possible(unit: str, arrangement: Arrangement | None = None) -> tuple[float, float]:
    """The least and the most that a meter can show in a base unit on this bench."""
    least, most = _POSSIBLE.get(unit, (-math.inf, math.inf))
    if unit == VOLT and arrangement is not None and arrangement.max_volts > 0:
        # Twice leaves room for the peak, for mains 10 % high and for a rail doubled by a fault.
        most = min(most, 2 * arrangement.max_volts)
        least = -most
    return least, most


def _upright(bands: Sequence[Band]) -> bool:
    """Whether every bound of the bands is zero or above: then nothing below zero is expected."""
    bounds = [edge for band in bands for edge in (band.low, band.high) if math.isfinite(edge)]
    return min(bounds, default=0.0) >= 0


def _below_zero(interval: Interval, plain: str, test: Test, bands: Sequence[Band]) -> Interval:
    """A reading below zero where none is expected: a meter's offset, or a mistake to mend."""
    if interval.unit == OHM:
        raise _trouble(
            test,
            "RD3",
            f"“{plain}”: no resistance is below zero; the circuit still holds charge",
            "Unplug, discharge, measure that it is discharged, then read the ohms again",
        )
    first = next((b.high for b in bands if 0 < b.high < math.inf), 0.0)
    if interval.unit in (VOLT, AMPERE) and interval.high >= -first / 20:
        return Interval(0.0, 0.0, interval.unit)
    raise _trouble(
        test,
        "RD3",
        f"“{plain}” is below zero, where this test has no answer",
        "Swap the two leads if they are reversed, then read again",
    )


def _shares(low: float, high: float, bands: Sequence[Band]) -> tuple[tuple[str, float], ...]:
    """Each band's part of [low, high]; a plain value belongs to one band, lower bounds included."""
    if low == high:
        return tuple((b.outcome, 1.0) for b in bands if b.low <= low < b.high)[:1]
    parts = [
        (b.outcome, min(high, b.high) - max(low, b.low))
        for b in bands
        if min(high, b.high) > max(low, b.low)
    ]
    total = sum(part for _, part in parts)
    if not math.isfinite(total):
        return tuple((outcome, 1 / len(parts)) for outcome, _ in parts)
    return tuple((outcome, part / total) for outcome, part in parts)


def _advice(test: Test) -> str:
    """One sentence that says what to answer, with an example."""
    names = [f"“{o.id}”" for o in test.outcomes]
    choices = names[0] if len(names) == 1 else ", ".join(names[:-1]) + " or " + names[-1]
    if not bands(test):
        return f"Answer {choices}"
    unit = _unit(test)
    example = show(_example(bands(test)), unit)
    return f"Write the reading in {_WORD.get(unit, unit)}, such as {example}, or answer {choices}"


def _example(bands: Sequence[Band]) -> float:
    """A value from the middle of the first bounded band, else near a bound."""
    for band in bands:
        if math.isfinite(band.low) and math.isfinite(band.high):
            return (band.low + band.high) / 2
    edge = next((b.low for b in bands if math.isfinite(b.low)), 1.0)
    return edge or 1.0


def _trouble(test: Test, code: str, what: str, mend: str) -> TroubleError:
    return TroubleError(Trouble(code, Place(f"answer to {test.id}"), what, mend))


def band_words(outcome: Outcome) -> str:
    """A measured outcome's band in words, `4.6 V to 5.6 V`, `below 10 Ω`, empty if unmeasured."""
    if outcome.unit is None or (outcome.low is None and outcome.high is None):
        return ""
    low, high = (
        None if edge is None else in_base(edge, outcome.unit)
        for edge in (outcome.low, outcome.high)
    )
    if low is None or high is None:
        edge = high if low is None else low
        assert edge is not None
        return f"{'below' if low is None else 'from'} {show(edge.value, edge.unit)}" + (
            "" if low is None else " up"
        )
    return f"{show(low.value, low.unit)} to {show(high.value, high.unit)}"
