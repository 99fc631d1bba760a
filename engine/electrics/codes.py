"""What is printed on resistors and capacitors: colours, letters and digits.

IEC 60062 (colours, letter codes, tolerance letters), EIA-96 (two digits and a letter on 1 % chips)
and EIA-198 (three digits in picofarads).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from types import MappingProxyType
from typing import TypeVar

from engine.electrics.preferred import SERIES
from kb.quantities import FARAD, OHM, Quantity, Tolerance, read_quantity

_Meaning = TypeVar("_Meaning", int, str)

_DIGIT_OF = {
    colour: digit
    for digit, colour in enumerate(
        ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
    )
}
_EXPONENT_OF = {**_DIGIT_OF, "gold": -1, "silver": -2}
"""Multiplier bands as powers of ten, IEC 60062; gold and silver from memory."""
_NO_BAND = "none"
_TOLERANCE_OF = {
    "brown": "1", "red": "2", "green": "0.5", "blue": "0.25", "violet": "0.1",
    "gold": "5", "silver": "10", _NO_BAND: "20",
}  # fmt: skip
_SPELT = {"gray": "grey", "purple": "violet"}

_TOLERANCE_LETTER = {
    "B": "0.1", "C": "0.25", "D": "0.5", "F": "1", "G": "2", "J": "5", "K": "10", "M": "20",
}  # fmt: skip
_EIA96_EXPONENT = {
    "Z": -3, "Y": -2, "R": -2, "X": -1, "S": -1, "A": 0, "B": 1, "H": 1, "C": 2, "D": 3,
    "E": 4, "F": 5,
}  # fmt: skip
"""EIA-96 multiplier letters as powers of ten."""


def _share(percent: str) -> Tolerance:
    share = float(Decimal(percent) / 100)
    return Tolerance(share, share)


TOLERANCES = MappingProxyType(
    {
        **{letter: _share(percent) for letter, percent in _TOLERANCE_LETTER.items()},
        "Z": Tolerance(0.20, 0.80),
    }
)
"""Tolerance letters of IEC 60062 as fractions below and above."""


def resistor_colours(bands: Sequence[str]) -> Quantity:
    """Resistance by three to six colour bands, tolerance included (three bands: 20 %).

    Four bands are two digits, multiplier, tolerance; five have a third digit; a sixth tells the
    temperature coefficient and is left aside. ValueError with a sentence for anything else.
    """
    colours = [_SPELT.get(band.strip().lower(), band.strip().lower()) for band in bands]
    if not 3 <= len(colours) <= 6:
        raise ValueError(f"a resistor has three to six bands, not {len(colours)}")
    if len(colours) == 6:
        colours.pop()
    digits = 3 if len(colours) == 5 else 2
    mantissa = "".join(str(_colour(c, _DIGIT_OF, "digit")) for c in colours[:digits])
    exponent = _colour(colours[digits], _EXPONENT_OF, "multiplier")
    last = colours[digits + 1] if len(colours) > digits + 1 else _NO_BAND
    return _quantity(mantissa, exponent, OHM, _share(_colour(last, _TOLERANCE_OF, "tolerance")))


def resistor_code(text: str) -> Quantity:
    """Resistance by what is printed: 4k7, 4K7J, R47, 103, 1001, 12R0 or the EIA-96 form 66B.

    Three or four digits are digits and a power of ten; a lone 0, 000 or 0000 is a link. ValueError
    with a sentence where the text is none of these.
    """
    code = text.strip()
    if re.fullmatch(r"0|000|0000", code):
        return Quantity(0.0, OHM)
    if re.fullmatch(r"[0-9]{3,4}", code):
        # Four digits are printed on 1 % chips and three on 5 % ones, but no standard promises it.
        return _quantity(code[:-1], int(code[-1]), OHM, None)
    if re.fullmatch(r"[0-9]{2}[A-Z]", code) and code[2] in _EIA96_EXPONENT and code[2] != "R":
        return _eia96(code)
    if re.fullmatch(r"[0-9]{2}R", code) and 1 <= int(code[:2]) <= 96:
        raise ValueError(
            f"“{code}” is {code[:2]} Ω by letter code or {_eia96(code)} by EIA-96 (R is "
            "an old form of Y): measure it"
        )
    return _letter_code(code, OHM, "4k7, 103, 1001, 12R0 or 66B")


def capacitor_code(text: str) -> Quantity:
    """Capacitance by what is printed: 104, 473K, 225, 109 (1.0 pF), 4n7, 1µ0, p47, 10p.

    The third digit is the power of ten in picofarads, but 8 and 9 mean a hundredth and a tenth.
    Two digits alone are picofarads. A tolerance letter may follow.
    """
    code = text.strip()
    digits = re.fullmatch(r"([0-9]{2})([0-9])?([BCDFGJKMZ])?", code)
    if digits is None:
        return _letter_code(code, FARAD, "104, 473K, 4n7 or 1µ0")
    power = {"8": -2, "9": -1}.get(digits[2] or "0", int(digits[2] or "0"))
    tolerance = TOLERANCES[digits[3]] if digits[3] else None
    return _quantity(digits[1], power - 12, FARAD, tolerance)


def _letter_code(code: str, unit: str, examples: str) -> Quantity:
    """An IEC 60062 letter code, with or without its tolerance letter."""
    # `47K` is a value, `4K7K` a value and its tolerance; the F of `100nF` is the unit, not 1 %.
    letters = "BCDGJKMZ" if unit == FARAD else "BCDFGJKMZ"
    match = re.fullmatch(rf"(.*(?:[RLkKMGpnµμu][0-9]+|[0-9][RLpnµμu]))([{letters}])", code)
    body, letter = (match[1], match[2]) if match else (code, None)
    try:
        quantity = read_quantity(body)
    except ValueError:
        raise ValueError(f"“{code}” is no code known here: write one such as {examples}") from None
    if quantity.unit != unit:
        raise ValueError(f"“{code}” reads as {quantity}, which is not in {unit}")
    tolerance = TOLERANCES[letter] if letter else quantity.tolerance
    return Quantity(quantity.value, unit, tolerance)


def _eia96(code: str) -> Quantity:
    place = int(code[:2])
    if not 1 <= place <= 96:
        raise ValueError(f"“{code}” is no EIA-96 code: the number runs from 01 to 96")
    mantissa = Decimal(f"{SERIES['E96'][place - 1]:.2f}") * 100
    value = float(mantissa.scaleb(_EIA96_EXPONENT[code[2]]))
    return Quantity(value, OHM, Tolerance(0.01, 0.01))


def _quantity(digits: str, exponent: int, unit: str, tolerance: Tolerance | None) -> Quantity:
    return Quantity(float(Decimal(digits).scaleb(exponent)), unit, tolerance)


def _colour(colour: str, table: Mapping[str, _Meaning], job: str) -> _Meaning:
    try:
        return table[colour]
    except KeyError:
        colours = ", ".join(table)
        raise ValueError(f"{colour or 'nothing'} is no {job} band: take one of {colours}") from None
