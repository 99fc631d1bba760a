"""What is printed on a part of a value: the other way round from `engine.electrics.codes`.

IEC 60062: digits and a power of ten, or R where the decimal sign would stand; colour bands.
"""

from __future__ import annotations

import math
from decimal import Decimal

_COLOURS = (
    "black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white",
)  # fmt: skip
_BAND_OF = {**dict(enumerate(_COLOURS)), -1: "gold", -2: "silver"}
_EXACT = 1e-6
"""Rounding of a float, as a share; of the algorithm."""
FINE = 0.01
"""Chips of 1 % and finer carry four digits, others three: common practice, no standard says so."""


def chip_code(ohms: float, tolerance: float = 0.05) -> str:
    """What a chip resistor of a value mostly carries: 474, 2R2, R47, 4703 at 1 %.

    One digit more where the value has it. ValueError for what no resistor has.
    """
    digits = 3 if tolerance <= FINE or not _fits(ohms, 2) else 2
    mantissa, exponent = _digits(ohms, digits)
    if exponent >= 0:
        return f"{mantissa}{exponent}"
    text = f"{Decimal(mantissa).scaleb(exponent):f}"
    whole, _, rest = text.partition(".")
    return f"{whole if whole != '0' else ''}R{rest}"


def colour_bands(ohms: float) -> str:
    """The bands of a value, without that of its tolerance: `brown, black, black` for 10 Ω.

    Three digits where the value has them. ValueError for what no resistor has.
    """
    mantissa, exponent = _digits(ohms, 2 if _fits(ohms, 2) else 3)
    if exponent not in _BAND_OF:
        raise ValueError(f"no bands tell {ohms:g} Ω")
    return ", ".join((*(_BAND_OF[int(digit)] for digit in str(mantissa)), _BAND_OF[exponent]))


def _fits(ohms: float, digits: int) -> bool:
    mantissa, exponent = _digits(ohms, digits)
    return math.isclose(mantissa * 10.0**exponent, ohms, rel_tol=_EXACT)


def _digits(ohms: float, digits: int) -> tuple[int, int]:
    """The value as so many digits and a power of ten."""
    if not 0 < ohms < math.inf:
        raise ValueError(f"no resistor has {ohms:g} Ω")
    exponent = math.floor(math.log10(ohms) + _EXACT) - digits + 1
    mantissa = round(ohms / 10.0**exponent)
    return (mantissa // 10, exponent + 1) if mantissa >= 10**digits else (mantissa, exponent)
