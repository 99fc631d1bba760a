"""The bench sums from text to result, against the same published figures as the closed forms."""

import pytest

from engine.calc import calculate, calculations
from kb.language import loader


@pytest.mark.parametrize(
    ("name", "given", "result", "value"),
    [
        # (9 - 3n)/I, white dies of 3 V from memory; computed.
        ("led-check", {}, "exact resistor", 300.0),
        ("led-check", {}, "resistor", 330.0),
        ("led-check", {}, "current", 9.09e-3),
        ("led-check", {"resistor": "300 Ω 5 %"}, "current", 10e-3),
        ("led-check", {"dies": "1", "resistor": "1k"}, "current", 6e-3),
        # V²/P and P/V; computed.
        ("series-lamp", {"unit": "9 W"}, "40 W lamp, shorted unit", 0.174),
        ("series-lamp", {"unit": "9 W"}, "60 W lamp, hot", 881.7),
        ("series-lamp", {"unit": "9 W", "mains": "120 V"}, "60 W lamp, shorted unit", 0.5),
        # TI SLCS005, onsemi LM393/D.
        ("comparator", {"supply": "3.0 V"}, "inputs to", 1.5),
        ("comparator", {"supply": "3.0 V"}, "inputs to, hot or cold", 1.0),
        ("comparator", {"supply": "5V1"}, "inputs to", 3.6),
        # R C ln(V0/V); computed.
        ("discharge", {"capacitor": "10 µF", "volts": "325.27 V", "limit": "60 V"}, "time", 0.1690),
        ("discharge", {"capacitor": "100u", "volts": "400", "resistor": "2k2", "limit": "60 V"},
         "time", 0.417),
        ("discharge", {"capacitor": "10 µF", "volts": "325.27 V"}, "time", 0.2383),
        ("discharge", {"capacitor": "100u", "volts": "400", "resistor": "2k2"}, "time", 0.5699),
        ("discharge", {"capacitor": "0.47 µF 0 %", "volts": "357.80 V", "limit": "34 V",
                       "within": "1 s"}, "largest resistor", 904e3),
        ("discharge", {"capacitor": "0.47 µF 0 %", "volts": "357.80 V", "limit": "34 V",
                       "within": "1 s"}, "take", 820e3),
        # (2Vp/π - Vz)/R with diodes; ngspice figures of the fact sheet.
        ("zener-rail", {"dropper": "470k"}, "current", 0.4277e-3),
        ("zener-rail", {"mains": "120 V", "dropper": "220k"}, "current", 0.4637e-3),
        # 4fC(Vp - Vs); computed.
        ("capacitive-dropper", {"capacitor": "1 µF", "load": "150 V"}, "current", 35.05e-3),
        ("capacitive-dropper", {"capacitor": "1 µF", "load": "150"}, "worn by a fifth", 28.04e-3),
        ("capacitive-dropper", {"mains": "120 V", "hertz": "60 Hz", "capacitor": "1.5 µF",
                                "load": "60 V"}, "current", 39.49e-3),
        # I/(2fC) and the exact solution; computed.
        ("ripple", {"capacitor": "10 µF", "current": "40 mA"}, "ripple", 33.9),
        ("ripple", {"capacitor": "10 µF", "current": "40 mA"}, "at most", 40.0),
        ("ripple", {"mains": "120", "hertz": "60", "capacitor": "10 µF", "current": "80 mA"},
         "trough", 120.9),
        # IEC 60063.
        ("preferred", {"value": "904k", "take": "at most"}, "preferred value", 820e3),
        ("preferred", {"value": "4.81 µF", "series": "e6"}, "preferred value", 4.7e-6),
        # IEC 60062, EIA-96, EIA-198.
        ("resistor-code", {"marking": "yellow violet red gold"}, "value", 4700.0),
        ("resistor-code", {"marking": "66B"}, "value", 4750.0),
        ("resistor-code", {"marking": "R47"}, "value", 0.47),
        ("capacitor-code", {"marking": "473K"}, "value", 47e-9),
        ("capacitor-code", {"marking": "473K"}, "most", 51.7e-9),
    ],
)  # fmt: skip
def test_a_sum_comes_to_the_published_figure(name, given, result, value):
    """Through text parsing, defaults and the formula."""
    assert calculate(name, **given).result(result).value == pytest.approx(value, rel=2e-3)


def test_rail_tolerances_bracket_the_middle():
    """230 V +-10 %, 470 kΩ +-5 %, 5.1 V +-6 %: worked by hand as (0.9·207.07 - 1 - 5.406)/493.5k
    and (1.1·207.07 - 1 - 4.794)/446.5k, mean of a rectified sine."""
    rail = calculate("zener-rail", dropper="470k 5%")
    assert rail.result("least current").value == pytest.approx(0.3646e-3, rel=1e-3)
    assert rail.result("greatest current").value == pytest.approx(0.4971e-3, rel=1e-3)
    assert rail.result("highest across the dropper").value == pytest.approx(352.0, abs=0.2)


def test_every_sum_names_formula_rating_and_source():
    """Nothing is told without saying by what and from where."""
    for calculation in calculations():
        assert calculation.formula
        assert calculation.rating
        assert calculation.source
        assert all(parameter.says for parameter in calculation.parameters)


def test_a_marking_that_is_no_preferred_value_is_doubted():
    """4.9 kΩ stands in no series of IEC 60063; 5.1/4.9 is less than 4.9/4.7."""
    assert "5.1 kΩ" in calculate("resistor-code", marking="4k9").result("beware").text


def test_the_resistor_of_an_led_check_bears_shorted_probes():
    """A fresh 9 V battery (9.6 V) on 330 Ω less 5 % is 0.294 W (computed): twice that is sold as
    1 W."""
    led = calculate("led-check")
    assert led.result("short heat").value == pytest.approx(0.294, abs=0.0005)
    assert led.result("rating").value == 1.0


def test_a_discharge_ends_where_hands_may_go_in():
    """Below 30 V DC, the stricter bare-live-part limit of IEC 60598-1 cl. 8.2.3; the sum and the
    knowledge have the same."""
    touch = loader.as_shipped().numbers["touch-volts"].value
    assert calculate("discharge", capacitor="1 µF", volts="325 V").inputs[-1].value == touch == 30
