"""What a sum says when it can't be worked."""

import pytest

from engine.calc import calculate
from kb.trouble import TroubleError


@pytest.mark.parametrize(
    ("name", "given", "told"),
    [
        ("led-chek", {}, "CA1 There is no sum “led-chek”. Perhaps you mean “led-check”."),
        ("soup", {}, "CA1 There is no sum “soup”. Take one of led-check, series-lamp,"),
        ("discharge", {"capactor": "1 µF"}, "CA2 “capactor” is not something this sum takes."),
        ("discharge", {"volts": "400 V"}, "CA3 capacitor is missing. Give the capacitance."),
        ("zener-rail", {"dropper": "470n"}, "CA4 “470n” is in F. Write it in Ω."),
        ("zener-rail", {"dropper": "lots"}, "CA4 “lots” is not a quantity. Write a number and"),
        ("discharge", {"capacitor": "4.7", "volts": "325 V"}, "4.7 µF may be meant"),
        ("zener-rail", {"dropper": "0 Ω"}, "CA4 “0 Ω” is too small. It must be above 100 Ω."),
        ("series-lamp", {"unit": "100 W"}, "CA4 “100 W” is too large. At most 60 W makes sense"),
        ("discharge", {"capacitor": "0 F"}, "CA4 “0 F” is too small. It must be above 0."),
        ("ripple", {"capacitor": "0.15 F"}, "CA4 “0.15 F” is too large. At most 100\u2009"),
        ("discharge", {"capacitor": "0.15 F"}, "CA4 “0.15 F” is too large. At most 100\u2009"),
        ("capacitive-dropper", {"capacitor": "0.15 mF"}, "too large. At most 100 µF makes sense"),
        ("capacitive-dropper", {"load": "500 V"}, "CA4 “500 V” is too large. At most 400 V makes"),
        ("capacitive-dropper", {"hertz": "500 Hz"}, "too large. At most 400 Hz makes sense"),
        ("ripple", {"current": "25 A"}, "CA4 “25 A” is too large. At most 20 A makes sense"),
        ("ripple", {"mains": "400 V"}, "CA4 “400 V” is too large. At most 260 V makes sense"),
        ("discharge", {"volts": "1500 V"}, "CA4 “1500 V” is too large. At most 1 kV makes sense"),
        ("zener-rail", {"rail": "150 V"}, "CA4 “150 V” is too large. At most 100 V makes sense"),
        ("zener-rail", {"rail": "-1 V"}, "CA4 “-1 V” is too small."),
        ("led-check", {"dies": "13"}, "CA4 “13” is too large. At most 12 makes sense here."),
        ("led-check", {"battery": "100 V"}, "CA4 “100 V” is too large. At most 60 V makes sense"),
        ("led-check", {"current": "0.2 A"}, "CA4 “0.2 A” is too large. At most 100 mA makes sense"),
        ("series-lamp", {"mains": "400 V"}, "CA4 “400 V” is too large. At most 260 V makes sense"),
        ("comparator", {"supply": "60 V"}, "CA4 “60 V” is too large. At most 36 V makes sense"),
        ("comparator", {"supply": "-1 V"}, "CA4 “-1 V” is too small."),
        ("led-check", {"dies": "1.5"}, "CA4 “1.5” is not a whole number. Write one such as 2."),
        ("preferred", {"value": "5k", "series": "E7"}, "CA4 “E7” is none of the choices. Take E6,"),
        ("led-check", {"dies": "3"}, "CA5 9 V can't light 3 dies of 3 V. Take a source above 9 V."),
        ("resistor-code", {"marking": "47R"}, "CA5 “47R” is 47 Ω by letter code or 3.01 Ω by"),
    ],
)
def test_a_sum_that_can_not_be_worked_is_told_with_its_mend(name, given, told):
    """Code, what is wrong, and what to write instead."""
    with pytest.raises(TroubleError) as caught:
        calculate(name, **given)
    assert any(told in str(trouble) for trouble in caught.value.troubles)


def test_all_troubles_of_a_sum_are_told_at_once():
    """Nobody mends them one call at a time."""
    with pytest.raises(TroubleError) as caught:
        calculate("discharge", capacitor="10 V", watts="3 W")
    assert [trouble.code for trouble in caught.value.troubles] == ["CA2", "CA4", "CA3"]


def test_a_sum_shows_what_went_in_defaults_and_tolerances_included():
    """So that a printed sum can be worked again."""
    shown = {entry.name: entry.text for entry in calculate("zener-rail", dropper="470k").inputs}
    assert shown == {"mains": "230 V ±10 %", "dropper": "470 kΩ ±5 %", "rail": "5.1 V ±6 %"}
    led = {entry.name: entry.text for entry in calculate("led-check", dies="1").inputs}
    assert led == {"dies": "1", "battery": "9 V", "current": "10 mA"}


def test_a_lopsided_tolerance_is_shown_with_both_its_sides():
    """Electrolytics are often marked so; IEC 60062 has a letter for it."""
    given = {"capacitor": "100 µF -20 % +80 %", "volts": "20 V"}
    assert calculate("discharge", **given).inputs[0].text == "100 µF −20/+80 %"


def test_the_ends_of_what_a_sum_takes_belong_to_it():
    """A limit is the last value that makes sense; of what lies above, only the limit itself is
    left out."""
    assert calculate("series-lamp", unit="60 W").results
    assert calculate("comparator", supply="0 V").results
    assert calculate("zener-rail", dropper="470k", rail="0 V").results
    with pytest.raises(TroubleError, match="above 100 Ω"):
        calculate("zener-rail", dropper="100")


def test_a_number_of_farads_with_its_unit_is_taken_as_it_stands():
    """Only a bare number may be microfarads that somebody left the unit from."""
    with pytest.raises(TroubleError) as caught:
        calculate("discharge", capacitor="4.7 F", volts="325 V")
    assert "may be meant" not in str(caught.value.troubles[0])
