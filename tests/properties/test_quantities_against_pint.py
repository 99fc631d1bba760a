"""Quantities read by `kb.quantities` against pint, and printed ones read back."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pint import UnitRegistry

from kb.quantities import read_quantity, show

PINT = UnitRegistry()

# Ours and pint's name of the same unit; pint reads `Ω` and `µ` only in part, so it gets words.
UNITS = {
    "Ω": "ohm",
    "\u2126": "ohm",
    "ohm": "ohm",
    "V": "volt",
    "A": "ampere",
    "W": "watt",
    "F": "farad",
    "H": "henry",
    "Hz": "hertz",
    "s": "second",
    "J": "joule",
    "C": "coulomb",
}
PREFIXES = {
    "p": "pico",
    "n": "nano",
    "µ": "micro",
    "μ": "micro",
    "u": "micro",
    "m": "milli",
    "": "",
    "k": "kilo",
    "M": "mega",
    "G": "giga",
}
BASE = {"\u2126": "Ω", "ohm": "Ω"}

numbers = st.decimals(
    min_value="-9999", max_value="9999", places=3, allow_nan=False, allow_infinity=False
)


@given(numbers, st.sampled_from(sorted(PREFIXES)), st.sampled_from(sorted(UNITS)))
def test_prefix_and_unit_scale_as_pint_scales_them(number, prefix, unit):
    """Any prefix with any unit is the quantity that pint makes of the same words."""
    ours = read_quantity(f"{number} {prefix}{unit}")
    theirs = PINT.Quantity(float(number), PREFIXES[prefix] + UNITS[unit]).to(UNITS[unit])
    assert ours.unit == BASE.get(unit, unit)
    assert ours.value == pytest.approx(theirs.magnitude, rel=1e-12, abs=1e-30)


@given(numbers, st.sampled_from(["", " ", "  ", "\u00a0", "\u202f", "\u2009"]))
def test_space_before_the_unit_changes_nothing(number, space):
    """No space, a plain one, or one of the typographic ones."""
    assert read_quantity(f"{number}{space}kΩ") == read_quantity(f"{number} kΩ")


@given(numbers)
def test_point_and_comma_are_the_same_decimal_sign(number):
    """No locale is asked."""
    point = read_quantity(f"{number} mV")
    assert read_quantity(f"{number} mV".replace(".", ",")) == point


@given(
    st.integers(0, 999),
    st.integers(0, 999),
    st.sampled_from([("R", ""), ("k", "k"), ("M", "M"), ("G", "G"), ("L", "m")]),
)
def test_a_letter_code_is_the_number_with_its_letter_for_the_point(whole, part, letter):
    """4k7 is 4.7 kΩ for every pair of digits and every letter of IEC 60062 that means ohms."""
    code, prefix = letter
    expected = read_quantity(f"{whole}.{part} {prefix}Ω")
    assert read_quantity(f"{whole}{code}{part}") == expected


@given(
    st.floats(min_value=1e-12, max_value=9.99e11),
    st.sampled_from(["Ω", "V", "A", "W", "H", "Hz", "s", "J", "VA"]),
    st.sampled_from([1, -1]),
)
def test_what_is_shown_reads_back_to_three_digits(magnitude, unit, sign):
    """Printing loses no more than the digits it leaves out."""
    value = sign * magnitude
    shown = read_quantity(show(value, unit))
    assert shown.unit == unit
    assert math.isclose(shown.value, value, rel_tol=5.001e-3)


@given(st.floats(min_value=1e-12, max_value=9.99e8), st.sampled_from(["A", "H", "Hz"]))
def test_the_shown_number_stands_between_one_and_a_thousand(value, unit):
    """One prefix of the SI, chosen so that at most three digits stand before the point."""
    number = float(show(value, unit).split(" ")[0])
    assert 1 <= number < 1000


@given(st.text(max_size=12))
def test_any_text_is_a_quantity_or_a_sentence(text):
    """Whatever is typed: a finite quantity, or ValueError with words."""
    told = ""
    try:
        quantity = read_quantity(text)
    except ValueError as error:
        told = str(error)
    if told:
        assert len(told.split()) > 4
    else:
        assert math.isfinite(quantity.value)
        assert quantity.unit
