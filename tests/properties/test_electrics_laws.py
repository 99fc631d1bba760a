"""Laws that the closed forms keep for any circuit, not only for the tabled ones."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.electrics import codes, discharge, dropper, mains, preferred
from kb.quantities import show

volts = st.floats(5, 400)
ohms = st.floats(1, 1e7)
farads = st.floats(1e-9, 1e-2)
amperes = st.floats(1e-4, 2)
hertz = st.sampled_from([50.0, 60.0])
series = st.sampled_from(sorted(preferred.SERIES))


@given(volts, amperes, farads, hertz)
def test_exact_ripple_never_exceeds_its_bound_or_the_peak(rms, current, capacitance, frequency):
    """I/(2fC) is a bound, and no ripple is larger than the peak itself."""
    swing = mains.ripple(rms, current, capacitance, frequency)
    assert 0 <= swing <= mains.peak(rms) * (1 + 1e-9)
    assert swing <= mains.ripple_bound(current, capacitance, frequency) * (1 + 1e-6)


@given(volts, amperes, farads, hertz)
def test_more_capacitance_never_ripples_more(rms, current, capacitance, frequency):
    """Doubling the capacitor lowers the ripple or leaves it at the peak."""
    once = mains.ripple(rms, current, capacitance, frequency)
    assert mains.ripple(rms, current, 2 * capacitance, frequency) <= once * (1 + 1e-9)


@given(ohms, farads, st.floats(61, 1000), st.floats(1, 60))
def test_time_to_a_voltage_and_voltage_after_a_time_undo_each_other(r, c, start, limit):
    """t = RC ln(V0/V) and V0 exp(-t/RC)."""
    seconds = discharge.seconds_to(r, c, start, limit)
    assert discharge.volts_after(r, c, start, seconds) == pytest.approx(limit, rel=1e-9)


@given(farads, st.floats(61, 1000), st.floats(1, 60), st.floats(0.1, 100))
def test_the_largest_bleed_just_makes_it(c, start, limit, seconds):
    """With the largest allowed resistor the limit is met exactly in time."""
    r = discharge.largest_ohms(c, start, limit, seconds)
    assert discharge.seconds_to(r, c, start, limit) == pytest.approx(seconds, rel=1e-9)


@given(st.floats(80, 260), st.floats(1e3, 1e7), st.floats(0, 60), st.floats(0, 1))
def test_a_feed_keeps_ohms_law_and_its_mean_square(rms, r, rail, diode):
    """I R is the mean drop; heat is at least I²R (a mean square is no less than a squared mean)
    and at most the peak drop times the current."""
    feed = dropper.resistor_feed(rms, r, rail, diode)
    assert feed.amperes * r == pytest.approx(feed.drop_volts)
    assert feed.watts >= feed.amperes**2 * r * (1 - 1e-9)
    assert feed.watts <= feed.peak_drop_volts * feed.amperes * (1 + 1e-9)


@given(st.floats(1e-12, 1e9), series)
def test_a_value_lies_between_its_preferred_neighbours(value, name):
    """At most, at least and nearest agree, and a preferred value is its own neighbour."""
    below, above = preferred.neighbours(value, name)
    assert below <= value * (1 + 1e-9)
    assert above >= value * (1 - 1e-9)
    assert preferred.nearest(value, name) in (below, above)
    assert preferred.neighbours(below, name) == (below, below)


@given(st.sampled_from(sorted(preferred.SERIES["E24"])), st.integers(0, 6))
def test_colours_digits_and_letters_of_a_value_agree(mantissa, exponent):
    """The same E24 value by four bands, by three digits and as printed reads the same."""
    names = [
        "black",
        "brown",
        "red",
        "orange",
        "yellow",
        "green",
        "blue",
        "violet",
        "grey",
        "white",
    ]
    first, second = divmod(round(mantissa * 10), 10)
    ohms_wanted = round(mantissa * 10) * 10**exponent
    bands = [names[first], names[second], names[exponent], "gold"]
    assert codes.resistor_colours(bands).value == ohms_wanted
    assert codes.resistor_code(f"{first}{second}{exponent}").value == ohms_wanted
    assert codes.resistor_code(show(ohms_wanted, "Ω")).value == ohms_wanted


@given(volts, st.floats(0, 500))
def test_a_drop_lowers_mean_and_square_together(rms, drop):
    """Neither rises with the drop, and the square stays above the squared mean."""
    mean, square = mains.rectified_mean(rms, drop), mains.rectified_square(rms, drop)
    assert mean <= mains.rectified_mean(rms) + 1e-9
    assert square <= rms**2 * (1 + 1e-9)
    assert math.sqrt(max(square, 0.0)) >= mean - 1e-6
