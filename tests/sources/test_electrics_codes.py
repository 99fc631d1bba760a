"""Preferred values and printed codes against IEC 60063, IEC 60062, EIA-96 and EIA-198."""

import pytest

from engine.electrics import codes, preferred

# IEC 60063 as commonly printed; E96 below is typed from that table, not computed.
E24 = (
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
    3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
)  # fmt: skip
E96 = (
    100, 102, 105, 107, 110, 113, 115, 118, 121, 124, 127, 130, 133, 137, 140, 143,
    147, 150, 154, 158, 162, 165, 169, 174, 178, 182, 187, 191, 196, 200, 205, 210,
    215, 221, 226, 232, 237, 243, 249, 255, 261, 267, 274, 280, 287, 294, 301, 309,
    316, 324, 332, 340, 348, 357, 365, 374, 383, 392, 402, 412, 422, 432, 442, 453,
    464, 475, 487, 499, 511, 523, 536, 549, 562, 576, 590, 604, 619, 634, 649, 665,
    681, 698, 715, 732, 750, 768, 787, 806, 825, 845, 866, 887, 909, 931, 953, 976,
)  # fmt: skip


def test_e24_holds_e12_and_e12_holds_e6():
    """IEC 60063: each coarser series is every second value of the next finer one."""
    assert preferred.SERIES["E24"] == E24
    assert preferred.SERIES["E24"][::2] == preferred.SERIES["E12"]
    assert preferred.SERIES["E12"][::2] == preferred.SERIES["E6"]


def test_e96_is_the_printed_table():
    """IEC 60063, E96."""
    assert tuple(round(value * 100) for value in preferred.SERIES["E96"]) == E96


def test_e48_and_e192_nest_around_e96():
    """IEC 60063: E48 is every second E96 value, E96 every second E192; the 186th value of E192
    is 9.20 where the formula rounds to 9.19 (from memory)."""
    assert preferred.SERIES["E96"][::2] == preferred.SERIES["E48"]
    assert preferred.SERIES["E192"][::2] == preferred.SERIES["E96"]
    assert preferred.SERIES["E192"][185] == 9.20


@pytest.mark.parametrize(
    ("value", "series", "nearest"),
    [
        (300, "E12", 330),
        (300, "E24", 300),
        (904e3, "E12", 820e3),
        (4.81e-6, "E6", 4.7e-6),
        (0.98, "E6", 1.0),
        (9.7, "E6", 10.0),
        (82.5, "E96", 82.5),
        (1e-12, "E24", 1e-12),
        # Equally far by ratio from 1.0 and 1.5: the lower.
        (1.5**0.5, "E6", 1.0),
    ],
)
def test_nearest_preferred_value(value, series, nearest):
    """Nearest by ratio, checked by hand against IEC 60063."""
    assert preferred.nearest(value, series) == nearest


@pytest.mark.parametrize(
    ("value", "series", "below", "above"),
    [
        (904e3, "E12", 820e3, 1e6),
        (470, "E12", 470, 470),
        (999, "E6", 680, 1000),
        (0.1, "E6", 0.1, 0.1),
    ],
)
def test_neighbouring_preferred_values(value, series, below, above):
    """A limiting resistor takes the value above, a bleed the one below."""
    assert preferred.at_most(value, series) == below
    assert preferred.at_least(value, series) == above


@pytest.mark.parametrize(
    ("bands", "ohms", "percent"),
    [
        ("yellow violet red gold", 4700, 5),
        ("brown black black red brown", 10e3, 1),
        ("red red silver", 0.22, 20),
        ("green blue gold silver", 5.6, 10),
        ("brown black orange red", 10e3, 2),
        ("Orange Gray Violet Black Green", 387, 0.5),
        ("brown black black red brown red", 10e3, 1),
    ],
)
def test_colour_bands(bands, ohms, percent):
    """IEC 60062 colours; gold and silver multipliers from memory."""
    quantity = codes.resistor_colours(bands.split())
    assert quantity.value == pytest.approx(ohms, rel=1e-12)
    assert quantity.tolerance.plus == pytest.approx(percent / 100)


@pytest.mark.parametrize(
    ("code", "ohms"),
    [
        *[("R47", 0.47), ("4R7", 4.7), ("470R", 470), ("4K7", 4700), ("4k7", 4700)],
        *[("47K3", 47.3e3), ("4M7", 4.7e6), ("2M2", 2.2e6), ("1K0", 1000), ("4L7", 4.7e-3)],
    ],
)
def test_letter_codes(code, ohms):
    """IEC 60062:2016; L for thousandths of an ohm."""
    assert codes.resistor_code(code).value == ohms


@pytest.mark.parametrize(
    ("code", "ohms"),
    [
        *[("220", 22), ("103", 10e3), ("1001", 1e3), ("4992", 49.9e3), ("12R0", 12)],
        *[("0", 0), ("000", 0), ("0000", 0)],
    ],
)
def test_chip_digits(code, ohms):
    """Three and four digits on chips: digits and a power of ten; zero is a link."""
    assert codes.resistor_code(code).value == ohms


@pytest.mark.parametrize(
    ("code", "ohms"),
    [
        *[("01A", 100), ("01C", 10.0e3), ("66B", 4.75e3), ("68X", 49.9), ("30B", 2.00e3)],
        *[("51D", 332e3), ("96A", 976), ("01Z", 0.1), ("01Y", 1.0), ("01S", 10.0), ("01H", 1e3)],
    ],
)
def test_eia_96(code, ohms):
    """EIA-96: two digits for the place in E96, a letter for the multiplier, 1 %."""
    quantity = codes.resistor_code(code)
    assert quantity.value == ohms
    assert quantity.tolerance.plus == 0.01


@pytest.mark.parametrize(
    ("code", "farads"),
    [
        *[("104", 100e-9), ("473", 47e-9), ("225", 2.2e-6), ("101", 100e-12), ("109", 1.0e-12)],
        *[("478", 0.47e-12), ("10p", 10e-12), ("4n7", 4.7e-9), ("1µ0", 1e-6), ("p47", 0.47e-12)],
        ("100nF", 100e-9),
    ],
)
def test_capacitor_codes(code, farads):
    """EIA-198 digits in picofarads (from memory) and IEC 60062 letters."""
    assert codes.capacitor_code(code).value == farads


@pytest.mark.parametrize(
    ("code", "minus", "plus"),
    [("473K", 0.10, 0.10), ("104Z", 0.20, 0.80), ("104M", 0.20, 0.20), ("4n7J", 0.05, 0.05)],
)
def test_capacitor_tolerance_letters(code, minus, plus):
    """IEC 60062 tolerance letters (K, F seen again; the others from memory)."""
    tolerance = codes.capacitor_code(code).tolerance
    assert (tolerance.minus, tolerance.plus) == (minus, plus)


@pytest.mark.parametrize(("code", "plus"), [("4K7K", 0.10), ("4k7F", 0.01), ("470RJ", 0.05)])
def test_resistor_tolerance_letters(code, plus):
    """A letter after the decimals is a tolerance; in 47K it is the multiplier."""
    assert codes.resistor_code(code).tolerance.plus == plus
    assert codes.resistor_code("47K").tolerance is None


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: codes.resistor_colours(["red", "red"]), "three to six bands"),
        (lambda: codes.resistor_colours(["red"] * 7), "three to six bands, not 7"),
        (lambda: codes.resistor_colours(["red", "pink", "red", "gold"]), "pink is no digit band"),
        (lambda: codes.resistor_colours(["red", "red", "red", "black"]), "no tolerance band"),
        (lambda: codes.resistor_code("97A"), "from 01 to 96"),
        (lambda: codes.resistor_code("00A"), "from 01 to 96"),
        (lambda: codes.resistor_code("01R"), "1 Ω by EIA-96"),
        (lambda: codes.resistor_code("96R"), "9.76 Ω by EIA-96"),
        (lambda: codes.resistor_code("47R"), "47 Ω by letter code or 3.01 Ω by EIA-96"),
        (lambda: codes.resistor_code("1N4007"), "no code known here"),
        (lambda: codes.resistor_code("4n7"), "not in Ω"),
        (lambda: codes.capacitor_code("4k7"), "not in F"),
        (lambda: codes.capacitor_code("abc"), "no code known here"),
        (lambda: preferred.nearest(0), "greater than zero"),
        (lambda: preferred.nearest(float("inf")), "greater than zero"),
        (lambda: preferred.nearest(5, "E7"), "no series E7"),
    ],
)
def test_what_is_no_code_is_refused_in_a_sentence(call, says):
    """Nothing is guessed; `47R` has two readings and both are told."""
    with pytest.raises(ValueError, match=says):
        call()
