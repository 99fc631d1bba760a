"""The bench sums from text to result, against the same published figures as the closed forms."""

import pytest

from engine.calc import calculate, calculations
from engine.calc.rating import resistor_watts
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
        # 330 Ω ±5 % on 9.6 V fresh and 7 V tired, dies of 2.8 and 3.4 V; worked by hand:
        # 4.0/313.5, 0.2/346.5, 6.8/313.5, 9.6/313.5.
        ("led-check", {}, "greatest current", 12.76e-3),
        ("led-check", {}, "least current", 0.577e-3),
        ("led-check", {}, "on a single die", 21.69e-3),
        ("led-check", {}, "heat", 51.04e-3),
        ("led-check", {}, "short current", 30.62e-3),
        # V²/P and P/V; computed.
        ("series-lamp", {"unit": "9 W"}, "40 W lamp, shorted unit", 0.174),
        ("series-lamp", {"unit": "9 W"}, "60 W lamp, hot", 881.7),
        ("series-lamp", {"unit": "9 W", "mains": "120 V"}, "60 W lamp, shorted unit", 0.5),
        ("series-lamp", {"unit": "25 W"}, "60 W lamp, hot", 881.7),
        ("series-lamp", {"unit": "25 W"}, "100 W lamp, hot", 529),
        # Data sheets of the 393 and 2903 class.
        ("comparator", {"supply": "3.0 V"}, "inputs to", 1.5),
        ("comparator", {"supply": "3.0 V"}, "inputs to, hot or cold", 1.0),
        ("comparator", {"supply": "5V1"}, "inputs to", 3.6),
        ("comparator", {"supply": "5V1"}, "inputs from", 0.0),
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
        # 20 % more capacitance and 5 % more resistance, worked by hand: 12 µF V²/2, 10.5 kΩ 12 µF
        # ln(V/30), V²/R, V/R and V/e after one time constant.
        ("discharge", {"capacitor": "10 µF", "volts": "325.27 V"}, "energy", 0.6348),
        ("discharge", {"capacitor": "10 µF", "volts": "325.27 V"}, "longest time", 0.3003),
        ("discharge", {"capacitor": "10 µF", "volts": "325.27 V"}, "first heat", 10.58),
        ("discharge", {"capacitor": "10 µF", "volts": "325.27 V"}, "first current", 32.53e-3),
        ("discharge", {"capacitor": "10 µF", "volts": "325.27 V", "within": "100 ms"},
         "left then", 119.66),
        # (2Vp/π - Vz)/R with diodes; ngspice figures of the fact sheet.
        ("zener-rail", {"dropper": "470k"}, "current", 0.4277e-3),
        ("zener-rail", {"mains": "120 V", "dropper": "220k"}, "current", 0.4637e-3),
        # Mean square over R, by a plain sum of max(0, Vp sin - d)² with 6.1 V off 230 V, and with
        # 5.794 V off 253 V into 446.5 kΩ; twice 0.138 W is sold as 0.5 W.
        ("zener-rail", {"dropper": "470k"}, "mean across the dropper", 201.0),
        ("zener-rail", {"dropper": "470k"}, "heat", 0.10726),
        ("zener-rail", {"dropper": "470k"}, "greatest heat", 0.13752),
        ("zener-rail", {"dropper": "470k"}, "rating", 0.5),
        # 4fC(Vp - Vs); computed.
        ("capacitive-dropper", {"capacitor": "1 µF", "load": "150 V"}, "current", 35.05e-3),
        ("capacitive-dropper", {"capacitor": "1 µF", "load": "150"}, "worn by a fifth", 28.04e-3),
        ("capacitive-dropper", {"mains": "120 V", "hertz": "60 Hz", "capacitor": "1.5 µF",
                                "load": "60 V"}, "current", 39.49e-3),
        # 253 V and 207 V, 1.1 µF and 0.9 µF; worked by hand.
        ("capacitive-dropper", {"capacitor": "1 µF", "load": "150 V"}, "least current", 25.69e-3),
        ("capacitive-dropper", {"capacitor": "1 µF", "load": "150 V"}, "greatest current",
         45.72e-3),
        ("capacitive-dropper", {"capacitor": "1 µF", "load": "150 V"}, "peak without a string",
         357.8),
        # I/(2fC) and the exact solution; computed. With 5 µF by a stepwise simulation.
        ("ripple", {"capacitor": "10 µF", "current": "40 mA"}, "peak", 325.27),
        ("ripple", {"capacitor": "10 µF", "current": "40 mA"}, "highest peak", 357.8),
        ("ripple", {"capacitor": "10 µF", "current": "40 mA"}, "worn to half", 62.90),
        ("ripple", {"capacitor": "0.1 µF", "current": "40 mA"}, "at most", 325.27),
        ("ripple", {"capacitor": "10 µF", "current": "40 mA"}, "ripple", 33.9),
        ("ripple", {"capacitor": "10 µF", "current": "40 mA"}, "at most", 40.0),
        ("ripple", {"mains": "120", "hertz": "60", "capacitor": "10 µF", "current": "80 mA"},
         "trough", 120.9),
        # IEC 60063.
        ("preferred", {"value": "904k", "take": "at most"}, "preferred value", 820e3),
        ("preferred", {"value": "4.81 µF", "series": "e6"}, "preferred value", 4.7e-6),
        ("preferred", {"value": "904k"}, "next below", 820e3),
        ("preferred", {"value": "904k"}, "next above", 1e6),
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


@pytest.mark.parametrize(
    ("heat", "rating"),
    [
        *[(0.06, 0.125), (0.1, 0.25), (0.25, 0.5), (0.4, 1), (0.9, 2), (1.2, 3), (2.4, 5), (3, 7)],
        *[(4.5, 10), (8, 17), (12, 25), (20, 50), (45, 100), (60, 120)],
    ],
)
def test_a_resistor_is_rated_twice_its_heat_in_sizes_that_are_sold(heat, rating):
    """Common practice: the next size that shops sell; above the largest, the doubled heat."""
    assert resistor_watts(heat) == rating


@pytest.mark.parametrize(("ohms", "spark"), [("500", True), ("560", False)])
def test_a_bleed_that_would_spark_is_no_better_than_a_screwdriver(ohms, spark):
    """325 V into 500 Ω is 211 W and into 560 Ω 189 W: a 10 W resistor bears twenty times its
    rating for a blink, 200 W (our choice)."""
    heat = calculate("discharge", capacitor="1 µF", volts="325 V", resistor=ohms)
    assert ("screwdriver" in heat.result("first heat").text) is spark


@pytest.mark.parametrize(("farads", "hazard"), [("16 µF", True), ("10 µF", False)])
def test_a_charge_is_a_hazard_by_the_most_that_the_capacitor_may_hold(farads, hazard):
    """At 325 V 1 J is 18.9 µF (NFPA 70E article 360, from memory): 16 µF and a fifth more is."""
    energy = calculate("discharge", capacitor=farads, volts="325 V").result("energy")
    assert ("hazard" in energy.text) is hazard


def test_no_resistor_is_asked_of_a_store_that_is_below_its_limit():
    """Any resistor will do: there is no largest one."""
    names = [line.name for line in calculate(
        "discharge", capacitor="1 µF", volts="20 V", within="1 s").results]  # fmt: skip
    assert names[-1] == "left then"


def test_a_link_has_a_value_and_no_doubt():
    """0 Ω stands in no series of IEC 60063, and is no misread value."""
    assert [line.name for line in calculate("resistor-code", marking="000").results] == ["value"]


@pytest.mark.parametrize(
    ("value", "off"), [("910k", "+9.9 %"), ("109k", "−8.3 %"), ("100k", "+0.0 %")]
)
def test_how_far_off_the_preferred_value_is(value, off):
    """By the value asked for: 1 MΩ is 9.9 % above 910 kΩ, 100 kΩ 8.3 % below 109 kΩ."""
    assert off in calculate("preferred", value=value).result("preferred value").text


@pytest.mark.parametrize(("supply", "works"), [("1.9 V", False), ("2 V", True)])
def test_a_comparator_promises_nothing_below_its_least_supply(supply, works):
    """2 V: data sheets of the 2903 class."""
    verdict = calculate("comparator", supply=supply).result("supply").text
    assert ("in its supply range" in verdict) is works
