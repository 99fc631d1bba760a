"""Quantities as people write them: `4k7`, `0.33 µF`, `470 kΩ`, `5V1`, `10 µF -20/+80 %`.

`read_quantity` turns such text into a number in the base unit (ohm, farad, volt, never kilohm);
`show` prints a number the way the SI Brochure (section 5.4 and chapter 3) asks for: a space before
the unit, one prefix, at most three significant digits unless told otherwise.

Point and comma are both decimal signs, wherever the program runs; digit groups are parted by
spaces only (22nd CGPM, 2003, resolution 10), so `1,000` is one, not a thousand. Letter codes such
as 4k7, R47 and 1µ0 follow IEC 60062.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

OHM, VOLT, AMPERE, WATT, FARAD, HENRY = "Ω", "V", "A", "W", "F", "H"
HERTZ, SECOND, JOULE, COULOMB, VOLT_AMPERE = "Hz", "s", "J", "C", "VA"
MINUTE, HOUR, CELSIUS, PERCENT = "min", "h", "°C", "%"

UNITS = (
    *(OHM, VOLT, AMPERE, WATT, FARAD, HENRY, HERTZ, SECOND, JOULE, COULOMB, VOLT_AMPERE),
    *(MINUTE, HOUR, CELSIUS, PERCENT),
)

_EXPONENT = {
    "p": -12, "n": -9, "µ": -6, "μ": -6, "u": -6, "m": -3,
    "k": 3, "K": 3, "M": 6, "G": 9, "Meg": 6, "meg": 6,
}  # fmt: skip
_PREFIX_WORDS = {
    "pico": -12, "nano": -9, "micro": -6, "milli": -3, "": 0, "kilo": 3, "mega": 6, "giga": 9,
}  # fmt: skip
_UNIT_WORDS = {
    "ohm": OHM, "volt": VOLT, "amp": AMPERE, "ampere": AMPERE, "watt": WATT, "farad": FARAD,
    "henry": HENRY, "hertz": HERTZ, "second": SECOND, "joule": JOULE,
}  # fmt: skip
# Letters that stand where the decimal sign would (IEC 60062, and 5V1 by trade habit): power of
# ten, and the unit they bring along where no other is named.
_LETTER = {
    "R": (0, OHM), "Ω": (0, OHM), "L": (-3, OHM), "V": (0, VOLT),
    "k": (3, OHM), "K": (3, OHM), "M": (6, OHM), "G": (9, OHM),
    "p": (-12, FARAD), "n": (-9, FARAD), "µ": (-6, FARAD), "μ": (-6, FARAD), "u": (-6, FARAD),
}  # fmt: skip
_FIRM = frozenset("RΩLV")
_THOUSANDS = re.compile(r"(?<![\d.,])\d{1,3}(?:,\d{3})+(?![\d,])")
_OLD_FARADS = re.compile(r"(.*?)\s*(?:[mM]F|MFD|[mM][fF][dD])(?:\s.*)?")

_NUMBER = re.compile(r"[0-9]+(?:[ \u00a0\u2009\u202f][0-9]{3})*(?:[.,][0-9]*)?|[.,][0-9]+")
_POWER = re.compile(r"[eE][+\-−]?[0-9]{1,3}(?![0-9])")
_CODE = re.compile(r"([0-9]+)([RΩLVkKMGpnµμu])([0-9]+)(?![0-9.,])|([RLkKMGpnµμu])([0-9]+)")
_DIGITS = r"([0-9]+(?:[.,][0-9]+)?)"
# Parted from the value by a space, by ± or by the value's own unit, never by digits alone.
_SYMMETRIC = re.compile(rf"(.+?)(?:\s*(?:±|\+/[-−])\s*|\s+|(?<=[^0-9\s.,+\-−/±])){_DIGITS}\s*%")
_LOPSIDED = re.compile(rf"(.+?)\s*([+\-−])\s*{_DIGITS}\s*%?\s*[/,]?\s*([+\-−])\s*{_DIGITS}\s*%")
_BARE = re.compile(r"[+\-−]?[0-9][0-9 .,]*")


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a value may lie below and above its marking, as fractions: 0.2 and 0.8 for Z."""

    minus: float
    plus: float


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number in a base unit of `UNITS` (percent and minutes as such) with a stated tolerance."""

    value: float
    unit: str
    tolerance: Tolerance | None = None

    @property
    def low(self) -> float:
        """The least value the stated tolerance allows; the value itself where none is stated."""
        return self.value - abs(self.value) * (self.tolerance.minus if self.tolerance else 0.0)

    @property
    def high(self) -> float:
        """The greatest value the stated tolerance allows."""
        return self.value + abs(self.value) * (self.tolerance.plus if self.tolerance else 0.0)

    def __str__(self) -> str:
        return show(self.value, self.unit)


def read_quantity(text: str, unit: str = "") -> Quantity:
    """The quantity that `text` writes; a unit it leaves out is taken from `unit`, if given.

    A bare prefix means ohms from kilo up and farads from micro down (`10M`, `100n`) unless `unit`
    says otherwise. Raises ValueError with a sentence where the text is no quantity, names no unit
    and none is given, or is too large to be a number.
    """
    if len(text) > _LONGEST:
        raise ValueError(f"“{text[:20]}…” is too long to be a quantity")
    body, tolerance = _part_tolerance(" ".join(text.split()))
    value, written_unit = _read_value(body, unit, text)
    if written_unit == "":
        raise ValueError(f"“{text}” names no unit: write one, such as {text.strip()} Ω or V")
    return Quantity(value, written_unit, tolerance)


LARGEST = 1e30
_LONGEST = 200
"""Letters of the longest text that may be a quantity; our choice, far above any."""


class TooLargeError(ValueError):
    """A number that no quantity of a bench has."""


class WrongUnitError(ValueError):
    """The text is a quantity, but of another kind than wanted; `unit` is the one it has."""

    def __init__(self, text: str, unit: str, base: str) -> None:
        self.unit = unit
        super().__init__(f"“{text}” is in {unit}: write it in {base}")


def read_as(text: str, unit: str) -> Quantity:
    """The quantity that `text` writes, in the base unit `unit`, which it may leave out.

    A text that is whole without `unit` keeps its own, so that `4k7` stays a resistance where volts
    are wanted. Raises WrongUnitError for a quantity of another kind and ValueError for none.
    """
    try:
        quantity = read_quantity(text)
    except ValueError:
        quantity = read_quantity(text, unit)
    if quantity.unit != unit:
        raise WrongUnitError(text.strip(), quantity.unit, unit)
    return quantity


def as_marked(text: str, unit: str) -> Quantity:
    """The quantity that a marking in a file writes, in the base unit `unit`; stricter than
    `read_as`, for nobody is there to see what it was taken for.

    ValueError with a sentence for a number without its unit, one whose comma may part thousands,
    farads spelt mF, MF or mfd, and for nothing or less.
    """
    if _THOUSANDS.search(text):
        bare = _THOUSANDS.sub(lambda match: match[0].replace(",", ""), text)
        raise ValueError(
            f"the comma in “{text}” may part thousands or decimals: write {bare}, or a point for "
            "the decimals"
        )
    if unit == FARAD and (match := _OLD_FARADS.fullmatch(text.strip())):
        raise ValueError(
            f"“{text}” may be milli- or megafarads, or microfarads as old markings have it: write "
            f"{match[1]} uF, or the farads in uF"
        )
    quantity = read_quantity(text)
    if unit and quantity.unit != unit:
        raise WrongUnitError(text.strip(), quantity.unit, unit)
    if quantity.value <= 0:
        raise ValueError(f"“{text}” is nothing or less, which no part is marked with")
    return quantity


def in_base(value: float, unit: str) -> Quantity:
    """`value` in a unit as written (`kΩ`, `mV`, `ohm`) as a quantity in its base unit.

    Exact in decimal: 4.7 of µF is 4.7e-06. ValueError for an unknown unit.
    """
    if unit not in _SPELLINGS:
        raise ValueError(f"“{unit}” is no unit known here: write one of {', '.join(UNITS)}")
    exponent, base = _SPELLINGS[unit]
    return Quantity(float(Decimal(repr(float(value))).scaleb(exponent)), base)


def show(value: float, unit: str, digits: int = 3) -> str:
    """`value` (base unit) with one SI prefix and at most `digits` significant digits.

    Volts, watts, joules and seconds keep their unit down to 0.1 and ohms down to 0.01, farads skip
    the millifarad, as meters and parts are marked. Units without prefixes (min, h, %, °C) keep
    theirs.
    """
    decimal = Decimal(f"{value:.{max(digits, 1) - 1}e}")
    symbol, exponent = _prefix_for(decimal, unit)
    mantissa = decimal.scaleb(-exponent)
    return f"{_plain_digits(mantissa)} {symbol}{unit}".rstrip()


def grammar() -> dict[str, Any]:
    """The patterns and tables that texts are read by, JSON-ready, for who reads them elsewhere:
    each spelling of a unit and each letter with its power of ten and unit."""
    patterns = {"grouped": _NUMBER, "power": _POWER, "code": _CODE, "symmetric": _SYMMETRIC,
                "lopsided": _LOPSIDED, "digits": _BARE}  # fmt: skip
    return {
        "patterns": {name: [pattern.pattern, ""] for name, pattern in patterns.items()},
        "spellings": {text: list(unit) for text, unit in _SPELLINGS.items()},
        "letters": {letter: list(unit) for letter, unit in _LETTER.items()},
        "exponents": dict(_EXPONENT),
        "firm": "".join(sorted(_FIRM)),
        "largest": LARGEST,
    }


def _part_tolerance(text: str) -> tuple[str, Tolerance | None]:
    """The text before a trailing tolerance, and the tolerance. A lone `5 %` is a quantity."""
    match = _LOPSIDED.fullmatch(text)
    if match and match[2] != match[4]:
        first, second = _fraction(match[3]), _fraction(match[5])
        return match[1], (Tolerance(second, first) if match[2] == "+" else Tolerance(first, second))
    symmetric = _SYMMETRIC.fullmatch(text)
    if symmetric and not _BARE.fullmatch(symmetric[1]):
        share = _fraction(symmetric[2])
        return symmetric[1], Tolerance(share, share)
    return text, None


def _fraction(percent: str) -> float:
    return float(Decimal(percent.replace(",", ".")) / 100)


def _read_value(body: str, default: str, text: str) -> tuple[float, str]:
    """Value and unit (possibly empty) of a text without tolerance."""
    sign, rest = (-1, body[1:].lstrip()) if body[:1] in ("-", "−") else (1, body.removeprefix("+"))
    code = _CODE.match(rest)
    if code:
        digits, exponent, unit, tail = _read_code(code, rest, default)
    else:
        digits, exponent, unit, tail = _read_plain(rest, default, text)
    if tail:
        raise ValueError(_not_a_quantity(text))
    value = sign * float(Decimal(digits).scaleb(exponent))
    if abs(value) > LARGEST:
        raise TooLargeError(f"“{text}” is larger than anything a bench knows")
    return value, unit


def _read_code(code: re.Match[str], rest: str, default: str) -> tuple[str, int, str, str]:
    """Digits, power of ten, unit and what is left over of 4k7, R47, 5V1 or 4µ7 F."""
    whole, letter, part = code[1] or "0", code[2] or code[4], code[3] or code[5]
    exponent, letter_unit = _LETTER[letter]
    tail = rest[code.end() :].strip()
    unit = default if default and letter not in _FIRM else letter_unit
    if tail and _SPELLINGS.get(tail, (1, ""))[0] == 0:
        tail_unit = _SPELLINGS[tail][1]
        if letter not in _FIRM or tail_unit == letter_unit:
            unit, tail = tail_unit, ""
    return f"{whole}.{part}", exponent, unit, tail


def _read_plain(rest: str, default: str, text: str) -> tuple[str, int, str, str]:
    """Digits, power of ten, unit and what is left over of a number with or without a unit."""
    number = _NUMBER.match(rest)
    if number is None:
        raise ValueError(_not_a_quantity(text))
    digits = re.sub(r"[ \u00a0\u2009\u202f]", "", number[0]).replace(",", ".")
    tail, exponent = rest[number.end() :], 0
    power = _POWER.match(tail)
    if power:
        exponent = int(power[0][1:].replace("−", "-"))
        tail = tail[power.end() :]
    tail = tail.strip()
    if tail in _EXPONENT:
        return digits, exponent + _EXPONENT[tail], default or _unit_of_prefix(tail, text), ""
    if tail in _SPELLINGS:
        shift, unit = _SPELLINGS[tail]
        return digits, exponent + shift, unit, ""
    return digits, exponent, default, tail


def _unit_of_prefix(prefix: str, text: str) -> str:
    if prefix == "m":
        raise ValueError(f"“{text}” may be volts, amperes or henries: name the unit")
    return OHM if _EXPONENT[prefix] > 0 else FARAD


def _not_a_quantity(text: str) -> str:
    return f"“{text}” is not a quantity: write a number and a unit, such as 4.7 kΩ, 10 µF or 230 V"


def _spellings() -> dict[str, tuple[int, str]]:
    """Every accepted spelling of a unit, with its power of ten."""
    spellings: dict[str, tuple[int, str]] = {
        "min": (0, MINUTE), "minute": (0, MINUTE), "minutes": (0, MINUTE),
        "h": (0, HOUR), "hour": (0, HOUR), "hours": (0, HOUR), "sec": (0, SECOND),
        "°C": (0, CELSIUS), "℃": (0, CELSIUS), "degC": (0, CELSIUS),
        "%": (0, PERCENT), "percent": (0, PERCENT), "per cent": (0, PERCENT),
        "kilohm": (3, OHM), "kilohms": (3, OHM), "megohm": (6, OHM), "megohms": (6, OHM),
    }  # fmt: skip
    ohms = dict.fromkeys((OHM, "\u2126", "ohm", "ohms", "Ohm", "Ohms", "OHM", "R"), OHM)
    symbols = {**{unit: unit for unit in UNITS[:11]}, **ohms}
    for symbol, unit in symbols.items():
        spellings[symbol] = (0, unit)
        for prefix, exponent in _EXPONENT.items():
            spellings[prefix + symbol] = (exponent, unit)
            spellings.setdefault(f"{prefix} {symbol}", (exponent, unit))
    # Lower case is typed in haste; mhz is left out because milli and mega would be a guess.
    hasty = {"v": (VOLT, "mk"), "a": (AMPERE, "mµμu"), "w": (WATT, "mk"), "va": (VOLT_AMPERE, "k"),
             "f": (FARAD, "pnµμu"), "hz": (HERTZ, "k")}  # fmt: skip
    for symbol, (unit, prefixes) in hasty.items():
        for prefix in ("", *prefixes):
            spellings.setdefault(prefix + symbol, (_EXPONENT.get(prefix, 0), unit))
    for prefix, exponent in _PREFIX_WORDS.items():
        for word, unit in _UNIT_WORDS.items():
            spellings[prefix + word] = spellings[prefix + word + "s"] = (exponent, unit)
    return spellings


_SPELLINGS = _spellings()


# No meter on the bench has a milliohm range: shorts and leads are read as 0.2 Ω.
_LEAST_PLAIN = {
    **dict.fromkeys((VOLT, WATT, JOULE, SECOND), Decimal("0.1")),
    OHM: Decimal("0.01"),
}


def _prefix_for(value: Decimal, unit: str) -> tuple[str, int]:
    if value == 0 or unit in (MINUTE, HOUR, CELSIUS, PERCENT, ""):
        return "", 0
    magnitude = abs(value)
    if _LEAST_PLAIN.get(unit, Decimal(1)) <= magnitude < 1:
        return "", 0
    if unit == FARAD and magnitude < 1:
        steps = [("µ", -6), ("n", -9), ("p", -12)]
    else:
        steps = [("G", 9), ("M", 6), ("k", 3), ("", 0), ("m", -3), ("µ", -6), ("n", -9), ("p", -12)]
    for symbol, exponent in steps:
        if magnitude >= Decimal(1).scaleb(exponent):
            return symbol, exponent
    return steps[-1]


def _plain_digits(mantissa: Decimal) -> str:
    """Digits without exponent or trailing zeros, a true minus sign, groups of three above 9999."""
    text = f"{mantissa:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    sign, whole = ("−", text[1:]) if text.startswith("-") else ("", text)
    if whole == "0":
        return "0"
    head, dot, tail = whole.partition(".")
    if len(head) > 4:
        head = f"{int(head):,}".replace(",", "\u2009")
    return sign + head + dot + tail
