"""How people write down what a meter shows: `3,1V`, `3100 mV`, `4k7`, `OL`, `>20M`, `0.6..0.7`.

Text in, a closed interval in the base unit out; what it means for a test is
`engine.readings.bands`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from kb import quantities
from kb.quantities import LARGEST, Quantity, TooLargeError, WrongUnitError, in_base, read_as, show


@dataclass(frozen=True, slots=True)
class Interval:
    """The values a reading allows, in the base unit; `low == high` for a plain number."""

    low: float
    high: float
    unit: str

    def __str__(self) -> str:
        if self.low == self.high:
            return show(self.low, self.unit, 5)
        if self.high == math.inf:
            return f"> {show(self.low, self.unit, 5)}"
        if self.low == -math.inf:
            return f"< {show(self.high, self.unit, 5)}"
        return f"{show(self.low, self.unit, 5)} to {show(self.high, self.unit, 5)}"


_OVER = re.compile(
    r"[+\-−>]?\s*(?:o\.?l\.?|0\.?l\.?|\.ol|over[ -]?(?:range|load|flow)|out of range|infinite"
    r"|infinity|∞)(?:\s*(?:[kKmMG]?(?:Ω|\u2126|ohms?)|V))?",
    re.IGNORECASE,
)
_KIND = re.compile(r"(?<=[VvAa])\s*(?:AC|DC|ac|dc|Ac|Dc|~|⎓)$")
_ABOUT = re.compile(r"^(?:~|≈|about|ca\.?|around)\s*", re.IGNORECASE)
_ONE_SIDED = re.compile(
    r"(>=|<=|[<>≥≤]|above|over|more than|below|under|less than)\s*(.+)", re.IGNORECASE
)
_UPWARD = frozenset((">", ">=", "≥", "above", "over", "more than"))
_SPREAD = re.compile(r"(.+?)\s*(?:±|\+/?[-−])\s*(.+)")
_SPAN = re.compile(
    r"(?:between\s+)?(.*[0-9].*?)\s*"
    r"(?:\.{2,3}|…|–|(?<=[0-9a-zA-ZΩ%\s])-|\bto\b|\band\b)\s*(.*[0-9].*)",
    re.IGNORECASE,
)
_NUMBER = re.compile(r"[+\-−]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+\-−]?[0-9]+)?")
_BARE = re.compile(r"[+\-−]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)")


LONGEST = 200
"""Letters of the longest text that may be a reading; our choice, far above any. Spans are sought by
trying every way to part a text, which takes as long as it is, squared and more."""


def grammar() -> dict[str, Any]:
    """The patterns that readings are read by, with the flags that JavaScript knows, and those of
    quantities: JSON-ready, for who reads them elsewhere."""
    own = {"over": _OVER, "kind": _KIND, "about": _ABOUT, "oneSided": _ONE_SIDED,
           "spread": _SPREAD, "span": _SPAN, "number": _NUMBER, "bare": _BARE}  # fmt: skip
    below = quantities.grammar()
    patterns = {
        name: [pattern.pattern, "i" if pattern.flags & re.IGNORECASE else ""]
        for name, pattern in own.items()
    }
    return {**below, "patterns": {**below["patterns"], **patterns}, "upward": sorted(_UPWARD),
            "longest": LONGEST}  # fmt: skip


def spaced(text: str) -> str:
    """A text with one space wherever it has white space, or the mark of a byte order that was
    copied along: what is white here and in JavaScript differs in that mark and some controls."""
    return " ".join(text.replace("\ufeff", " ").split())


def over_range(text: str) -> bool:
    """Whether `text` says over range in one of the ways meters and people do (not a bare 1)."""
    return _OVER.fullmatch(text.strip()) is not None


def is_bare(text: str) -> bool:
    """Whether `text` is a number and no more."""
    return _BARE.fullmatch(text.strip()) is not None


def read_interval(text: str, unit: str) -> Interval:
    """The values that `text` allows, in the base unit of `unit`; a bare number is in `unit`.

    Numbers, bounds (`>20M`, `below 2`), spans (`0.6..0.7`, `2-3 k`, `0.6 to 0.7 V`), spreads
    (`3.1 ± 0.2`, `3.1 V ±5 %`) and `~3`. Raises WrongUnitError for a quantity of another kind,
    TooLargeError for one beyond all bounds and ValueError for what is no reading.
    """
    if len(text) > LONGEST:
        raise ValueError(f"{len(text)} letters are no reading")
    plain = _ABOUT.sub("", " ".join(text.split()))
    base = in_base(1.0, unit).unit
    one_sided = _ONE_SIDED.fullmatch(plain)
    if one_sided:
        limit = _quantity(one_sided[2], unit).value
        upward = one_sided[1].lower() in _UPWARD
        return Interval(limit, math.inf, base) if upward else Interval(-math.inf, limit, base)
    try:
        whole = _quantity(plain, unit)
    except (WrongUnitError, TooLargeError):
        raise
    except ValueError:
        return _two_numbers(plain, unit, base)
    return Interval(whole.low, whole.high, base)


def _two_numbers(plain: str, unit: str, base: str) -> Interval:
    """A spread or a span; a first number without unit takes the one written after the second."""
    spread = _SPREAD.fullmatch(plain)
    parts = spread or _SPAN.fullmatch(plain)
    if parts is None:
        raise ValueError(f"“{plain}” is not a reading")
    first, second = parts[1], parts[2]
    number = _BARE.match(second)
    if _BARE.fullmatch(first) and number:
        first += second[number.end() :]
    elif number and number.end() == len(second):
        # `3.1 V ± 0.2`: the second number speaks in the first one's unit.
        lead = _NUMBER.match(first)
        second += first[lead.end() :] if lead else ""
    one, other = _quantity(first, unit).value, _quantity(second, unit).value
    low, high = (one - other, one + other) if spread else (one, other)
    return Interval(min(low, high), max(low, high), base)


def _quantity(text: str, unit: str) -> Quantity:
    """One number of the wanted kind; a bare one is in `unit` as written, prefix included."""
    bare = _KIND.sub("", text.strip())
    if _BARE.fullmatch(bare):
        number = float(bare.replace(",", ".").replace("−", "-"))
        if abs(number) > LARGEST:
            raise TooLargeError(f"“{text}” is larger than anything a bench knows")
        return in_base(number, unit)
    return read_as(bare, in_base(1.0, unit).unit)
