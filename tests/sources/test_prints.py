"""What is printed on a part, against IEC 60062: its examples, and the reading of them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.electrics import codes, preferred, prints

# IEC 60062 writes R47, 4R7, 47R, 4K7; chips carry digits and a power of ten instead from 10 ohms on
CHIPS = {
    0.47: "R47", 2.2: "2R2", 4.7: "4R7", 10: "100", 47: "470", 100: "101", 4_700: "472",
    22_000: "223", 100_000: "104", 470_000: "474", 1_000_000: "105",
}  # fmt: skip
FINE = {1.5: "1R50", 10: "10R0", 49.9: "49R9", 100: "1000", 4_990: "4991", 470_000: "4703"}
BANDS = {
    0.47: "yellow, violet, silver", 2.2: "red, red, gold", 10: "brown, black, black",
    4_700: "yellow, violet, red", 1_000_000: "brown, black, green",
}  # fmt: skip


@pytest.mark.parametrize(("ohms", "code"), CHIPS.items())
def test_a_chip_of_five_per_cent(ohms: float, code: str) -> None:
    """Two digits and a power of ten."""
    assert prints.chip_code(ohms) == code


@pytest.mark.parametrize(("ohms", "code"), FINE.items())
def test_a_chip_of_one_per_cent(ohms: float, code: str) -> None:
    """Three digits and a power of ten."""
    assert prints.chip_code(ohms, 0.01) == code


@pytest.mark.parametrize(("ohms", "bands"), BANDS.items())
def test_the_bands_of_a_leaded_resistor(ohms: float, bands: str) -> None:
    """IEC 60062, colours: gold a tenth, silver a hundredth."""
    assert prints.colour_bands(ohms) == bands


def test_a_third_digit_gets_a_band_of_its_own() -> None:
    """49.9 kohm."""
    assert prints.colour_bands(49_900) == "yellow, white, white, red"


@given(st.sampled_from(preferred.SERIES["E24"]), st.integers(-1, 6))
def test_what_is_printed_reads_back(mantissa: float, power: int) -> None:
    """Every preferred value, as a chip of either kind and in bands."""
    ohms = mantissa * 10.0**power
    for tolerance in (0.05, 0.01):
        assert codes.resistor_code(prints.chip_code(ohms, tolerance)).value == pytest.approx(ohms)
    bands = prints.colour_bands(ohms).split(", ")
    assert codes.resistor_colours([*bands, "gold"]).value == pytest.approx(ohms)


@pytest.mark.parametrize("ohms", [0.0, -1.0, float("inf")])
def test_what_no_resistor_has_is_refused(ohms: float) -> None:
    """In a sentence."""
    with pytest.raises(ValueError, match="no resistor has"):
        prints.chip_code(ohms)


def test_a_third_digit_gets_a_place_on_a_chip_of_five_per_cent() -> None:
    """49.9 kohm has no two digits, whatever the tolerance."""
    assert prints.chip_code(49_900) == "4992"


@pytest.mark.parametrize(("ohms", "code"), [(99.96, "1000"), (0.9996, "1R00"), (9_996, "1002")])
def test_a_value_that_rounds_up_to_the_next_decade(ohms: float, code: str) -> None:
    """Three digits of 99.96 are 100: a one, and a power of ten more."""
    assert prints.chip_code(ohms, 0.01) == code


@pytest.mark.parametrize("ohms", [1e-4, 1e13])
def test_what_no_bands_tell_is_refused(ohms: float) -> None:
    """Bands end at a hundredth (silver) and a thousand millions (white)."""
    with pytest.raises(ValueError, match="no bands tell"):
        prints.colour_bands(ohms)
