"""The part models of `kb/circuits/parts.lib` against closed forms and published figures.

The figures stand with their sources in `engine.electrics` and beside each test; ngspice integrates
the same subcircuits that the shipped units are made of.
"""

import math

import pytest

from engine.circuit.figures import figures
from engine.circuit.job import Job, Request, run
from engine.circuit.spice import transient
from engine.electrics import discharge, dropper, ledcheck, mains
from kb.language.circuit import netlist_text

PARTS = netlist_text("parts.lib")


def settled(lines, nodes, seconds, begin, hertz=50.0, step=5e-5):
    """Figures of each node of a few lines built from the parts, from `begin` to the end."""
    waves = transient(PARTS + lines + "\n", seconds, step, nodes)
    return {n: figures(waves["time"], waves[n], begin, seconds, hertz) for n in nodes}


@pytest.mark.parametrize(
    ("volts", "hertz", "ohms"), [(230, 50, 470e3), (120, 60, 220e3), (230, 50, 220e3)]
)
def test_dropper_into_a_zener_rail(volts, hertz, ohms):
    """The mean feed is the closed form's at the rail there is, within half a per cent.

    230 V, 470 kohm, 5.1 V: 0.4277 mA (closed form 0.4278 with two drops of 0.7 V).
    """
    peak = volts * math.sqrt(2)
    lines = f"""
V1 l n SIN(0 {peak} {hertz})
RL n 0 100Meg
X1 l n bus 0 bridge
R1 bus fed {ohms}
V2 fed rail 0
X2 rail 0 zener vz=5.1 nbv=5
X3 rail 0 ceramic c=10u
B1 amps 0 V=i(V2)*1000
"""
    seen = settled(lines, ["rail", "amps"], 24 / hertz, 14 / hertz, hertz)
    rail = seen["rail"]["mean"]
    assert 4.5 < rail < 5.1
    feed = dropper.resistor_feed(volts, ohms, rail, diode_volts=0.5)
    assert seen["amps"]["mean"] / 1000 == pytest.approx(feed.amperes, rel=5e-3)


@pytest.mark.parametrize(
    ("volts", "hertz", "milliamperes", "bound", "exact"),
    [(230, 50, 40, 40.0, 33.9), (120, 60, 80, 66.7, 48.8)],
)
def test_ripple_of_a_bulk_capacitor(volts, hertz, milliamperes, bound, exact):
    """10 uF at both mains: under I/(2 f C), and the exact closed form's within two per cent.

    Ideal diodes, constant current; the exact figures are those of `engine.electrics.mains.ripple`.
    """
    lines = f"""
V1 l n SIN(0 {volts * math.sqrt(2)} {hertz})
RL n 0 100Meg
D1 l b quick
D2 n b quick
D3 0 l quick
D4 0 n quick
.model quick D(IS=1e-9 N=0.1)
R1 b 0 1Meg
X1 b 0 ceramic c=10u
B1 b 0 I={milliamperes}m*tanh(max(0,v(b))/10)
"""
    waves = transient(PARTS + lines, 12 / hertz, 2e-5, ["b"])
    late = waves["b"][waves["time"] > 8 / hertz]
    swing = late.max() - late.min()
    assert swing < bound
    assert swing == pytest.approx(exact, rel=0.02)
    load = milliamperes / 1000
    assert mains.ripple_bound(load, 10e-6, hertz) == pytest.approx(bound, abs=0.05)
    assert mains.ripple(volts, load, 10e-6, hertz) == pytest.approx(exact, abs=0.05)


@pytest.mark.parametrize(
    ("volts", "hertz", "farads", "load"),
    [(230, 50, 1e-6, 150), (230, 50, 0.8e-6, 150), (120, 60, 1.5e-6, 60)],
)
def test_capacitive_dropper(volts, hertz, farads, load):
    """4 f C (Vp - Vs) within 1.5 %: 35.05, 28.04 and 39.49 mA (Vs with two diode drops)."""
    lines = f"""
V1 l n SIN(0 {volts * math.sqrt(2)} {hertz})
RL n 0 100Meg
R1 l m 47
C1 m k {farads}
X1 k n bus 0 bridge
V2 bus s 0
V3 s 0 {load - 1.4}
B1 amps 0 V=i(V2)*1000
RA amps 0 1k
"""
    seen = settled(lines, ["amps"], 20 / hertz, 10 / hertz, hertz)["amps"]["mean"] / 1000
    assert seen == pytest.approx(dropper.capacitive_current(farads, volts, hertz, load), rel=0.015)


@pytest.mark.parametrize(
    ("supply", "low", "high", "drives"),
    [(5.0, 0.5, 1.0, True), (5.0, 1.0, 0.5, False), (5.0, 3.0, 4.9, True), (1.5, 0.1, 0.3, False)],
)
def test_a_comparator_decides_within_its_promise(supply, low, high, drives):
    """One input within supply - 1.5 V decides, from 2 V of supply up (2903 class); not under it."""
    lines = f"""
V1 v 0 {supply}
V2 p 0 {high}
V3 n 0 {low}
X1 p n v 0 out comparator
R1 out 0 100k
"""
    shown = settled(lines, ["out"], 0.05, 0.03)["out"]["mean"]
    assert (shown > supply / 2) == drives


def test_a_bench_source_keeps_to_its_limit():
    """Into 10 kohm it holds 4.6 V, into a short 5 mA."""
    for ohms, volts in ((10e3, 4.6), (10, 0.05)):
        seen = settled(f"X1 a 0 benchsource\nR1 a 0 {ohms}", ["a"], 0.1, 0.05)["a"]["mean"]
        assert seen == pytest.approx(volts, rel=0.03)


def test_nine_volts_and_330_ohms_light_a_two_die_package():
    """About 9 mA, as the LED check resistor's closed form says of two dies of 3 V."""
    lines = "V1 b 0 9\nR1 b a 330\nX1 a 0 glow led n=1 rated=90m"
    glow = settled(lines, ["glow"], 0.05, 0.02)["glow"]["mean"]
    assert 0.09 * glow == pytest.approx(ledcheck.led_check(9, 330, dies=2).amperes, rel=0.2)


def test_a_diode_range_does_not_light_a_two_die_package():
    """2.8 V open circuit is under two dies: not a microampere flows, the meter shows over range."""
    shown = run(Job(PARTS + "X1 a 0 glow led n=1\n", 0.0, 50, (Request("diode", "a", "0"),)))
    assert shown[0]["lower"] > 2.79


@pytest.mark.parametrize(("volts", "watts"), [(230, 60), (120, 60)])
def test_a_series_lamp_shorted_carries_its_own_current(volts, watts):
    """P over V: 60 W at 230 V carries 0.261 A, at 120 V 0.500 A, once hot."""
    lines = f"""
V1 m 0 SIN(0 {volts * math.sqrt(2)} 50)
X1 m s t filament volts={volts} watts={watts}
R1 s 0 0.1
"""
    seen = settled(lines, ["s", "t"], 1.5, 1.0)
    assert seen["s"]["rms"] / 0.1 == pytest.approx(watts / volts, rel=0.02)
    assert seen["t"]["mean"] == pytest.approx(1.0, rel=0.03)


def test_a_cold_series_lamp_has_a_tenth_to_a_fifteenth_of_its_hot_resistance():
    """A 60 W 230 V lamp: 882 ohm hot, 59 to 88 ohm cold (tungsten, 1/10 to 1/15)."""
    lines = "V1 m 0 0.1\nX1 m s t filament\nR1 s 0 0.001"
    seen = settled(lines, ["s"], 0.01, 0.005)
    cold = 0.1 / (seen["s"]["mean"] / 0.001)
    assert 230**2 / 60 / 15 < cold < 230**2 / 60 / 10


def test_a_bulk_capacitor_empties_through_its_bleed():
    """4.7 uF charged to 325 V falls to 60 V through 1 Mohm when the closed form says."""
    lines = """
V1 s 0 PULSE(325.27 0 0.1 1u 1u 100 200)
R1 s a 1k
D1 a b quick
.model quick D(IS=1e-12 N=0.5)
X1 b 0 electrolytic c=4.7u esr=1 leak=1e12 vr=400
R2 b 0 1Meg
"""
    waves = transient(PARTS + lines, 9.0, 1e-3, ["b"])
    falls = waves["b"] > 60
    moment = waves["time"][falls][-1] - 0.1
    assert moment == pytest.approx(discharge.seconds_to(1e6, 4.7e-6, 325.27, 60), rel=0.01)


def test_an_ohm_range_reads_a_plain_resistor():
    """Over seven decades, within a part in a thousand; 100 Mohm is over range."""
    for ohms in (2.2, 330, 4.7e3, 100e3, 1e6, 10e6):
        shown = run(Job(f"R1 a 0 {ohms}\n", 0.0, 50, (Request("ohms", "a", "0"),)))
        assert shown[0]["ohms"] == pytest.approx(ohms, rel=1e-3)
    shown = run(Job("R1 a 0 1e8\n", 0.0, 50, (Request("ohms", "a", "0"),)))
    assert math.isinf(shown[0]["ohms"])


def test_an_esr_meter_reads_the_series_resistance():
    """100 kHz sees the resistance, 10 uF being 0.16 ohm there; 1 kHz sees the inductance."""
    text = PARTS + "X1 a 0 electrolytic c=10u esr=3\nX2 b 0 choke l=2.2m dcr=6\n"
    requests = (Request("esr", "a", "0"), Request("inductance", "b", "0"))
    esr, coil = run(Job(text, 0.0, 50, requests))
    assert esr["ohms"] == pytest.approx(3, rel=1e-3)
    assert coil["henries"] == pytest.approx(2.2e-3, rel=1e-3)
