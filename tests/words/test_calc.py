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
