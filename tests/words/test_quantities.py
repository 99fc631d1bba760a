"""The quantities that stand on parts and in knowledge files, word for word."""

import pytest

from kb.quantities import Tolerance, in_base, read_quantity, show


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("4k7", 4700.0, "Ω"),
        ("4K7", 4700.0, "Ω"),
        ("4k7 ohm", 4700.0, "Ω"),
        ("10 ohm", 10.0, "Ω"),
        ("470 kΩ", 470e3, "Ω"),
        ("470 k\u2126", 470e3, "Ω"),
        ("10 megohm", 10e6, "Ω"),
        ("2 kilohms", 2e3, "Ω"),
        ("470R", 470.0, "Ω"),
        ("R47", 0.47, "Ω"),
        ("4R7", 4.7, "Ω"),
        ("2M2", 2.2e6, "Ω"),
        ("10M", 10e6, "Ω"),
        ("10 k", 10e3, "Ω"),
        ("4.7uF", 4.7e-6, "F"),
        ("4.7 uf", 4.7e-6, "F"),
        ("4µ7 F", 4.7e-6, "F"),
        ("0.33 µF", 0.33e-6, "F"),
        ("0,33 \u03bcF", 0.33e-6, "F"),
        ("4n7", 4.7e-9, "F"),
        ("100n", 100e-9, "F"),
        ("1µ0", 1e-6, "F"),
        ("p47", 0.47e-12, "F"),
        ("5V1", 5.1, "V"),
        ("230 V", 230.0, "V"),
        ("3100 mV", 3.1, "V"),
        ("1e3 V", 1000.0, "V"),
        ("−5 V", -5.0, "V"),
        ("50Hz", 50.0, "Hz"),
        ("10\u2009000 Ω", 10e3, "Ω"),
        ("1.5 mH", 1.5e-3, "H"),
        ("12 min", 12.0, "min"),
        ("0.5 s", 0.5, "s"),
        ("105 °C", 105.0, "°C"),
        ("5 %", 5.0, "%"),
        ("45 µC", 45e-6, "C"),
        ("100 VA", 100.0, "VA"),
    ],
)
def test_a_marking_reads_as_its_value(text, value, unit):
    """Markings of IEC 60062, SI notation, and what hurried fingers type."""
    quantity = read_quantity(text)
    assert (quantity.value, quantity.unit) == (value, unit)


@pytest.mark.parametrize(
    ("text", "minus", "plus"),
    [
        ("4.7 kΩ ±5 %", 0.05, 0.05),
        ("4k7 5%", 0.05, 0.05),
        ("470kΩ5%", 0.05, 0.05),
        ("4k7 +/-1%", 0.01, 0.01),
        ("100 nF 0,25 %", 0.0025, 0.0025),
        ("10 µF -20/+80 %", 0.2, 0.8),
        ("10 µF +80 -20 %", 0.2, 0.8),
    ],
)
def test_a_tolerance_follows_the_value(text, minus, plus):
    """With or without its sign, and lopsided for old electrolytics."""
    quantity = read_quantity(text)
    assert quantity.tolerance == Tolerance(minus, plus)
    assert quantity.low == pytest.approx(quantity.value * (1 - minus))
    assert quantity.high == pytest.approx(quantity.value * (1 + plus))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is not a quantity"),
        ("abc", "is not a quantity"),
        ("1N4007", "is not a quantity"),
        ("1N5", "is not a quantity"),
        ("4k7k", "is not a quantity"),
        ("R1.5", "is not a quantity"),
        ("1,000,000 V", "is not a quantity"),
        ("1_000 V", "is not a quantity"),
        ("\u0663 V", "is not a quantity"),
        ("nan V", "is not a quantity"),
        ("inf V", "is not a quantity"),
        ("470", "names no unit"),
        ("10m", "name the unit"),
        ("1e999 V", "larger than anything"),
        ("3 mhz", "is not a quantity"),
    ],
)
def test_what_is_no_quantity_gets_a_sentence(text, says):
    """Part numbers, thousands commas and foreign digits are not guessed at."""
    with pytest.raises(ValueError, match=says):
        read_quantity(text)


def test_a_unit_left_out_is_taken_from_the_caller():
    """A bare prefix then belongs to that unit; a letter that means ohms or volts does not."""
    assert read_quantity("3100m", "V").value == 3.1
    assert read_quantity("470", "Ω").value == 470.0
    assert read_quantity("100n", "A").unit == "A"
    assert read_quantity("5V1", "Ω").unit == "V"


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (4.7e-6, "F", "4.7 µF"),
        (2200e-6, "F", "2200 µF"),
        (10e3, "Ω", "10 kΩ"),
        (999.96, "Ω", "1 kΩ"),
        (0.2, "Ω", "0.2 Ω"),
        (0.02, "Ω", "0.02 Ω"),
        (0.002, "Ω", "2 mΩ"),
        (0.65, "V", "0.65 V"),
        (0.0004297, "A", "430 µA"),
        (0.108, "W", "0.108 W"),
        (-3.1, "V", "−3.1 V"),
        (0.0, "V", "0 V"),
        (10000, "h", "10\u2009000 h"),
        (12, "min", "12 min"),
        (5, "%", "5 %"),
        (65, "°C", "65 °C"),
    ],
)
def test_a_value_is_shown_in_si_style(value, unit, text):
    """SI Brochure 5.4: a space before the unit, also for °C and %; zero before the sign; groups of
    three parted by a thin space, from five digits up."""
    assert show(value, unit) == text


@pytest.mark.parametrize(
    ("value", "unit", "base", "in_it"),
    [(4.7, "µF", 4.7e-6, "F"), (2, "MΩ", 2e6, "Ω"), (600, "mV", 0.6, "V"), (3, "min", 3.0, "min")],
)
def test_a_number_in_a_prefixed_unit_comes_to_the_base(value, unit, base, in_it):
    """Exact in decimal, so that a band's edge typed as a reading is on the edge."""
    assert (in_base(value, unit).value, in_base(value, unit).unit) == (base, in_it)


def test_an_unknown_unit_is_told():
    """The sentence lists the units there are."""
    with pytest.raises(ValueError, match="no unit known here"):
        in_base(1, "furlong")
