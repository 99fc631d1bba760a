"""Closed forms against the published or independently computed figures, source beside each.

Figures marked "computed" stand in the project's fact sheet as worked from the named formula by
hand and by script, apart from this code; the ngspice runs are in `test_electrics_spice.py`.
"""

import math

import pytest

from engine.electrics import (
    comparator,
    converters,
    discharge,
    dropper,
    ledcheck,
    limiter,
    mains,
)


@pytest.mark.parametrize(
    ("rms", "peak", "mean"),
    [
        # IEC 60038: 230 V +-10 %; ANSI C84.1 range A: 114 to 126 V. Both limits from memory.
        (230, 325.27, 207.07),
        (253, 357.80, 227.78),
        (120, 169.71, 108.04),
        (126, 178.19, 113.44),
    ],
)
def test_rectified_mains_has_the_textbook_peak_and_average(rms, peak, mean):
    """Vp = √2 V; the average of a full-wave rectified sine is 2 Vp/π (any textbook; computed)."""
    assert mains.peak(rms) == pytest.approx(peak, abs=0.005)
    assert mains.rectified_mean(rms) == pytest.approx(mean, abs=0.005)


@pytest.mark.parametrize(
    ("rms", "hertz", "farads", "amperes", "bound", "exact"),
    [
        (230, 50, 10e-6, 0.040, 40.0, 33.9),
        (120, 60, 10e-6, 0.080, 66.7, 48.8),
        (12, 50, 2200e-6, 1.0, 4.55, 3.53),
    ],
)
def test_ripple_matches_bound_and_exact_solution(rms, hertz, farads, amperes, bound, exact):
    """I/(2fC) as a bound and the ideal-diode, constant-current solution (computed)."""
    assert mains.ripple_bound(amperes, farads, hertz) == pytest.approx(bound, rel=2e-3)
    assert mains.ripple(rms, amperes, farads, hertz) == pytest.approx(exact, abs=0.05)


@pytest.mark.parametrize(
    ("rms", "amperes", "farads", "hertz", "trough"),
    [(230, 0.040, 10e-6, 50, 291.4), (120, 0.080, 10e-6, 60, 120.9)],
)
def test_ripple_leaves_the_computed_trough(rms, amperes, farads, hertz, trough):
    """Peak less ripple (computed)."""
    left = mains.peak(rms) - mains.ripple(rms, amperes, farads, hertz)
    assert left == pytest.approx(trough, abs=0.05)


def test_ripple_without_worthwhile_capacitor_is_the_whole_peak():
    """A bus with next to no capacitance follows the rectified sine down to zero."""
    assert mains.ripple(230, 0.1, 1e-9, 50) == pytest.approx(mains.peak(230))


@pytest.mark.parametrize(
    ("farads", "rms", "hertz", "volts", "milliamperes"),
    [
        (1.0e-6, 230, 50, 150, 35.05),
        (0.8e-6, 230, 50, 150, 28.04),
        (1.5e-6, 120, 60, 60, 39.49),
    ],
)
def test_capacitive_dropper_current(farads, rms, hertz, volts, milliamperes):
    """I = 4fC(Vp - Vs), charge balance over a half cycle (computed; ngspice agrees to 1 %)."""
    amperes = dropper.capacitive_current(farads, rms, hertz, volts)
    assert amperes * 1000 == pytest.approx(milliamperes, abs=0.005)


def test_capacitive_dropper_gives_nothing_to_a_string_above_the_peak():
    """A string that needs more than the peak stays dark."""
    assert dropper.capacitive_current(1e-6, 120, 60, 170) == 0.0


@pytest.mark.parametrize(
    ("rms", "ohms", "rail", "milliamperes", "drop", "milliwatts", "peak"),
    [
        (230, 470e3, 5.1, 0.4297, 202.0, 108, 320),
        (120, 220e3, 5.1, 0.4679, 102.9, 60.6, 164.6),
        (230, 220e3, 5.1, 0.9181, 202.0, 231, 320),
        (120, 100e3, 5.1, 1.0294, 102.9, 133, 164.6),
        (230, 470e3, 3.0, 0.4342, 204.1, None, None),
        (120, 220e3, 3.0, 0.4775, 105.0, None, None),
    ],
)
def test_dropper_feeds_the_rail(rms, ohms, rail, milliamperes, drop, milliwatts, peak):
    """I = (2Vp/π - Vz)/R, mean-square heat, peak across the resistor (computed). The formula lets
    current flow back near the zero crossing, which is worth 0.1 % at most."""
    feed = dropper.resistor_feed(rms, ohms, rail)
    assert feed.amperes * 1000 == pytest.approx(milliamperes, rel=1e-3)
    assert feed.drop_volts == pytest.approx(drop, rel=1e-3)
    if milliwatts is not None:
        assert feed.watts * 1000 == pytest.approx(milliwatts, rel=5e-3)
        assert feed.peak_drop_volts == pytest.approx(peak, abs=0.5)


@pytest.mark.parametrize(
    ("rms", "ohms", "milliamperes"), [(230, 470e3, 0.4277), (120, 220e3, 0.4637)]
)
def test_two_bridge_diodes_come_off_the_sine(rms, ohms, milliamperes):
    """The fact sheet's own ngspice runs of these feeds; half a volt is what a 1 A diode drops at
    half a milliampere (I = Is exp(V/nVt) with a common 1N4007 model)."""
    feed = dropper.resistor_feed(rms, ohms, 5.1, diode_volts=0.5)
    assert feed.amperes * 1000 == pytest.approx(milliamperes, rel=1e-3)


@pytest.mark.parametrize("drop", [0.0, 1.4, 60.0, 160.0])
def test_mean_and_square_of_a_clipped_sine_match_a_plain_sum(drop):
    """Both closed forms against a midpoint sum over 200 000 points of max(0, Vp sin - drop)."""
    points = 200_000
    values = [
        max(0.0, 169.70563 * math.sin(math.pi * (k + 0.5) / points) - drop) for k in range(points)
    ]
    assert mains.rectified_mean(120, drop) == pytest.approx(sum(values) / points, rel=1e-6)
    square = sum(value**2 for value in values) / points
    assert mains.rectified_square(120, drop) == pytest.approx(square, rel=1e-6)


@pytest.mark.parametrize(("rms", "ohms", "share"), [(230, 470e3, 0.010), (120, 220e3, 0.020)])
def test_a_rail_pulled_low_hardly_changes_the_drop(rms, ohms, share):
    """5.1 V down to 3.0 V moves the drop by 1 % and 2 %: volts over it tell nothing (computed)."""
    healthy = dropper.resistor_feed(rms, ohms, 5.1).drop_volts
    pulled = dropper.resistor_feed(rms, ohms, 3.0).drop_volts
    assert pulled / healthy - 1 == pytest.approx(share, abs=0.0006)


@pytest.mark.parametrize(
    ("farads", "volts", "joules", "ohms", "watts", "to_60", "to_34"),
    [
        (10e-6, 325.27, 0.529, 10e3, 10.58, 0.1690, 0.2258),
        (100e-6, 400, 8.00, 10e3, 16.0, 1.897, 2.465),
        (100e-6, 400, 8.00, 2.2e3, 72.7, 0.417, 0.542),
        (22e-6, 200, 0.440, 330e3, 0.121, 8.74, 12.86),
        (0.47e-6, 325.27, 24.9e-3, 1e6, 0.106, 0.794, 1.061),
        (1e-6, 325.27, 52.9e-3, 1e6, 0.106, 1.690, 2.258),
        (1.5e-6, 325.27, 79.3e-3, 1e6, 0.106, 2.535, 3.387),
    ],
)
def test_discharge(farads, volts, joules, ohms, watts, to_60, to_34):
    """E = CV²/2, t = RC ln(V0/V), V0²/R. Limits: 60 V DC of IEC 60598-1 cl. 8.2.3, 34 V at plug
    pins of IEC 60335-1 cl. 22.5; the times are computed."""
    assert discharge.energy(farads, volts) == pytest.approx(joules, rel=2e-3)
    assert discharge.peak_watts(ohms, volts) == pytest.approx(watts, rel=3e-3)
    assert discharge.seconds_to(ohms, farads, volts, 60) == pytest.approx(to_60, rel=1e-3)
    assert discharge.seconds_to(ohms, farads, volts, 34) == pytest.approx(to_34, rel=1e-3)


def test_a_megohm_bleed_on_470_nanofarads_misses_34_volts_after_a_second():
    """38.7 V left at 1 s where IEC 60335-1 cl. 22.5 allows 34 V (computed)."""
    assert discharge.volts_after(1e6, 0.47e-6, 325.27, 1.0) == pytest.approx(38.7, abs=0.05)


@pytest.mark.parametrize(
    ("microfarads", "megohms"), [(0.1, 4.25), (0.22, 1.93), (0.33, 1.29), (0.47, 0.904), (1, 0.425)]
)
def test_largest_bleed_for_34_volts_in_a_second(microfarads, megohms):
    """From 357.80 V, the peak of 253 V mains (computed)."""
    ohms = discharge.largest_ohms(microfarads * 1e-6, 357.80, 34, 1)
    assert ohms / 1e6 == pytest.approx(megohms, rel=2e-3)


@pytest.mark.parametrize(
    ("volts", "joules", "hazard"),
    [
        *[(99, 100, False), (99, 101, True), (100, 2, True), (400, 1, False), (400, 1.01, True)],
        *[(401, 0.25, False), (401, 0.26, True)],
    ],
)
def test_capacitor_hazard_thresholds(volts, joules, hazard):
    """NFPA 70E article 360, from memory."""
    assert discharge.hazardous(volts, joules) is hazard


@pytest.mark.parametrize(
    ("milliamperes", "seconds", "within"), [(6, 5.594, 0.001), (264, 0.025, 0.0005)]
)
def test_ground_fault_interrupter_trips_in_time(milliamperes, seconds, within):
    """UL 943: t = (20 mA/I)^1.43, both ends of its range as quoted in trade texts."""
    trip = limiter.gfci_trip_seconds(milliamperes / 1000)
    assert trip == pytest.approx(seconds, abs=within)


@pytest.mark.parametrize(
    ("dies", "ohms", "battery", "milliamperes"),
    [
        (2, 300, 9, 10.0),
        (2, 330, 9, 9.09),
        (1, 300, 9, 20.0),
        (2, 1000, 9, 3.0),
        (1, 1000, 9, 6.0),
        (2, 300, 7, 3.33),
    ],
)
def test_led_check_current(dies, ohms, battery, milliamperes):
    """(Vb - 3n)/R with white dies of 3 V (2.8 to 3.4 V, from memory; computed)."""
    check = ledcheck.led_check(battery, ohms, dies)
    assert check.amperes * 1000 == pytest.approx(milliamperes, abs=0.005)


@pytest.mark.parametrize(
    ("battery", "ohms", "short", "milliwatts"),
    [(9, 300, 30, 270), (9.6, 300, 32, 307), (9, 1000, 9, 81)],
)
def test_led_check_bears_shorted_probes(battery, ohms, short, milliwatts):
    """Vb/R and Vb²/R; a fresh 9 V battery has 9.6 V (computed)."""
    check = ledcheck.led_check(battery, ohms, 2)
    assert check.short_amperes * 1000 == pytest.approx(short, abs=0.05)
    assert check.short_watts * 1000 == pytest.approx(milliwatts, abs=0.5)


def test_led_check_resistor_for_a_two_die_package():
    """R = (9 - 3n)/I: n 2 at 10 mA is 300 Ω; one die at 20 mA puts 120 mW in it (computed)."""
    assert ledcheck.resistor_for(9, 2, 0.010) == pytest.approx(300)
    assert ledcheck.led_check(9, 300, 1).watts == pytest.approx(0.120)


def test_a_diode_range_lights_no_two_die_package():
    """Open-circuit 1.5 to 3 V (IDEAL, PeakTech and Elenco manuals) is below two dies."""
    with pytest.raises(ValueError, match="take a source above 6 V"):
        ledcheck.resistor_for(3.0, 2, 0.001)


@pytest.mark.parametrize(
    ("volts", "watts", "ohms", "amperes"),
    [
        (230, 40, 1322.5, 0.174),
        (230, 60, 881.7, 0.261),
        (230, 100, 529, 0.435),
        (120, 40, 360, 0.333),
        (120, 60, 240, 0.500),
        # 100 W at 120 V is 144 Ω hot: common lamp tables.
        (120, 100, 144, 0.833),
    ],
)
def test_series_lamp(volts, watts, ohms, amperes):
    """Hot V²/P, short P/V (computed)."""
    lamp = limiter.series_lamp(volts, watts)
    assert lamp.hot_ohms == pytest.approx(ohms, abs=0.05)
    assert lamp.short_amperes == pytest.approx(amperes, abs=0.0005)


@pytest.mark.parametrize(
    ("unit_watts", "lamp"),
    [(0.5, (40, 60)), (20, (40, 60)), (25, (60, 100)), (30, (100, 100)), (60, (100, 100))],
)
def test_series_lamp_for_a_unit(unit_watts, lamp):
    """Common practice: 40 to 60 W for lamps to about 20 W, 100 W for 30 to 60 W supplies, either
    between the two."""
    assert limiter.lamp_for(unit_watts) == lamp


@pytest.mark.parametrize(
    ("supply", "cool", "hot"), [(3.0, 1.5, 1.0), (5.1, 3.6, 3.1), (1.0, 0.0, 0.0)]
)
def test_comparator_window(supply, cool, hot):
    """Inputs to V+ - 1.5 V at 25 °C, V+ - 2.0 V over temperature, supply from 2 V: data
    sheets of the 393 and 2903 class."""
    window = comparator.window(supply, least_supply=2.0, headroom=1.5, headroom_hot=2.0)
    assert (window.high_volts, window.high_volts_hot) == pytest.approx((cool, hot))
    assert window.supplied is (supply >= 2.0)
    assert window.low_volts == 0.0


def test_buck():
    """D = Vo/Vi, ΔI = Vo(1-D)/(Lf): 300 to 60 V, 1 mH, 60 kHz (computed)."""
    buck = converters.buck(300, 60, 1e-3, 60e3)
    assert buck.duty == pytest.approx(0.200)
    assert buck.ripple_amperes == pytest.approx(0.800)
    assert buck.ripple_amperes == pytest.approx(2 * buck.boundary_amperes)


@pytest.mark.parametrize(("volts", "duty", "switch"), [(300, 0.250, 400.0), (357.8, None, 457.8)])
def test_flyback(volts, duty, switch):
    """D = nVo/(nVo + Vi), switch Vi + nVo: n 8, 12.5 V (computed)."""
    flyback = converters.flyback(volts, 12.5, 8)
    assert flyback.switch_volts == pytest.approx(switch, abs=0.05)
    if duty is not None:
        assert flyback.duty == pytest.approx(duty)


def test_discontinuous_flyback_power():
    """P = L Ip² f/2: 500 µH, 1.3 A, 65 kHz (computed)."""
    assert converters.flyback_watts(500e-6, 1.3, 65e3) == pytest.approx(27.46, abs=0.005)


def test_linear_supply_keeps_a_7805_above_dropout():
    """√2·9 V less two 1 V diodes and 1.4 V ripple leaves 9.33 V; dropout of an L7805 is 2 V (ST).
    Worked by hand: 12.73 - 2 - 1.4."""
    bus = converters.linear_bus(9, 1.0, 1.4)
    assert bus == pytest.approx(9.33, abs=0.005)
    assert converters.linear_bus(9, 0.7, 1.4) == pytest.approx(9.93, abs=0.005)
    assert converters.regulator_watts(bus, 5.0, 0.5) == pytest.approx(2.164, abs=0.005)


def test_class_ab_power():
    """(V - drop)²/(2R): ±35 V rails, 3 V drop, 8 Ω is 64 W, worked by hand."""
    assert converters.class_ab_watts(35, 3, 8) == pytest.approx(64.0)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: mains.ripple_bound(1, 0, 50), "farads must be greater than zero"),
        (lambda: mains.ripple_bound(1, 1e-6, 0), "hertz must be greater than zero"),
        (lambda: mains.ripple(0, 1, 1e-6, 50), "rms volts must be greater than zero"),
        (lambda: dropper.resistor_feed(230, 0, 5.1), "more than 0 Ω"),
        (lambda: dropper.resistor_feed(230, 1e3, -1), "0 V or above"),
        (lambda: discharge.seconds_to(1e3, 1e-6, 100, 0), "no bleed reaches zero"),
        (lambda: discharge.peak_watts(0, 325), "never a short"),
        (lambda: discharge.volts_after(0, 1e-6, 1, 1), "greater than zero"),
        (lambda: discharge.volts_after(1e3, 0, 1, 1), "greater than zero"),
        (lambda: discharge.largest_ohms(0, 1, 1, 1), "greater than zero"),
        (lambda: discharge.largest_ohms(1, 1, 0, 1), "greater than zero"),
        (lambda: discharge.largest_ohms(1, 1, 1, 0), "greater than zero"),
        (lambda: limiter.series_lamp(230, 0), "greater than zero"),
        (lambda: limiter.series_lamp(0, 40), "greater than zero"),
        (lambda: limiter.lamp_for(0), "up to 60 W"),
        (lambda: limiter.lamp_for(61), "up to 60 W"),
        (lambda: limiter.gfci_trip_seconds(0.005), "not for 5 mA"),
        (lambda: limiter.gfci_trip_seconds(0.3), "6 to 264 mA"),
        (lambda: ledcheck.led_check(9, 0, 1), "never without a resistor"),
        (lambda: ledcheck.resistor_for(6, 2, 0.01), "take a source above 6 V"),
        (lambda: ledcheck.resistor_for(9, 1, 0), "current above 0 A"),
        (lambda: converters.buck(60, 300, 1e-3, 6e4), "less than it is fed"),
        (lambda: converters.buck(60, 0, 1e-3, 6e4), "less than it is fed"),
        (lambda: converters.flyback(0, 12, 8), "greater than zero"),
        (lambda: converters.flyback(300, 0, 8), "greater than zero"),
        (lambda: converters.class_ab_watts(35, 3, 0), "more than 0 Ω"),
    ],
)
def test_numbers_that_describe_no_circuit_are_refused(call, says):
    """Each refusal is a sentence that names the number at fault."""
    with pytest.raises(ValueError, match=says):
        call()


def test_a_store_below_the_limit_needs_no_time_and_any_bleed():
    """Nothing to wait for where the capacitor is under the limit from the start."""
    assert discharge.seconds_to(1e6, 1e-6, 30, 34) == 0.0
    assert discharge.largest_ohms(1e-6, 30, 34, 1) == math.inf


@pytest.mark.parametrize(
    ("result", "value"),
    [
        # Each by its formula, worked by hand.
        (lambda: discharge.volts_after(0.5, 0.5, 1, 0.25), 0.36788),
        (lambda: discharge.seconds_to(0.5, 0.5, 0.5, 0.25), 0.17329),
        (lambda: discharge.peak_watts(0.5, 0.5), 0.5),
        (lambda: discharge.largest_ohms(0.5, 0.5, 0.25, 0.5), 1.4427),
        (lambda: limiter.series_lamp(0.5, 0.5).hot_ohms, 0.5),
        (lambda: ledcheck.led_check(0.5, 0.5, 0).amperes, 1.0),
        (lambda: ledcheck.resistor_for(3.5, 1, 0.5), 1.0),
        (lambda: dropper.resistor_feed(230, 0.5, 0.5).peak_drop_volts, 324.77),
        (lambda: mains.ripple_bound(0.5, 0.5, 0.5), 1.0),
        (lambda: converters.buck(0.5, 0.25, 0.5, 0.5).ripple_amperes, 0.5),
        (lambda: converters.flyback(0.5, 0.5, 0.5).switch_volts, 0.75),
        (lambda: converters.class_ab_watts(1, 0, 0.5), 1.0),
    ],
)
def test_parts_of_a_unit_are_numbers_like_any_other(result, value):
    """What is refused is nothing at all and less, not half a volt, an ohm's half or half a watt."""
    assert result() == pytest.approx(value, rel=1e-4)


def test_a_package_above_the_battery_stays_dark():
    """No current flows backwards out of a package, and no heat comes of it."""
    dark = ledcheck.led_check(5, 300, 2)
    assert (dark.amperes, dark.watts) == (0.0, 0.0)


def test_a_sine_that_a_drop_swallows_leaves_nothing():
    """A drop of the peak and more: no mean, no mean square, no current, no peak across it."""
    for drop in (mains.peak(12), 20.0):
        assert mains.rectified_mean(12, drop) == mains.rectified_square(12, drop) == 0.0
    feed = dropper.resistor_feed(12, 1e3, 30)
    assert (feed.amperes, feed.peak_drop_volts, feed.watts) == (0.0, 0.0, 0.0)


def test_the_spike_of_a_flyback_comes_on_top():
    """Vi + n Vo + spike: 300 + 100 + 50 V."""
    assert converters.flyback(300, 12.5, 8, 50).switch_volts == pytest.approx(450)
