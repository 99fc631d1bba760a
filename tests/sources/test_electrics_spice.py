"""Closed forms against ngspice runs of the same circuit.

ngspice is an independent implementation: it integrates the circuit with real diodes and knows none
of our formulas. `tests/run.sh` installs it; where it is missing these tests fail and say so.
"""

import re
import subprocess

import pytest

from engine.electrics import discharge, dropper, mains

# A diode close to ideal: 0.0258 V / 20 slope leaves some 30 mV at these currents.
NEAR_IDEAL = ".model diode D(IS=1e-9 N=0.05)"
SILICON = ".model diode D(IS=7.02768e-9 N=1.80803 RS=0.0341512)"
BRIDGE = """
D1 live bus diode
D2 neutral bus diode
D3 0 live diode
D4 0 neutral diode
Rleak neutral 0 100Meg
"""


def measure(netlist, **expressions):
    """The values ngspice's `meas` gives for each expression after running the netlist."""
    names = list(expressions)
    control = "\n".join(f"meas tran {name} {expressions[name]}" for name in names)
    deck = f"* check\n{netlist}\n.control\nrun\n{control}\nquit\n.endc\n.end\n"
    try:
        run = subprocess.run(
            ["ngspice", "-b", "-n", "/dev/stdin"], input=deck, capture_output=True, text=True
        )
    except FileNotFoundError:
        pytest.fail("ngspice is not installed: bash tests/run.sh installs it", pytrace=False)
    found = dict(re.findall(r"^(\w+)\s*=\s*([-+.\deE]+)", run.stdout, re.MULTILINE))
    assert set(names) <= set(found), run.stdout + run.stderr
    return {name: float(found[name]) for name in names}


def dropper_netlist(rms, hertz, ohms):
    """A bridge, its dropper resistor onto the node `rail`, and the dropper's heat on `heat`."""
    return f"""
Vmains live neutral SIN(0 {mains.peak(rms)} {hertz})
{BRIDGE}{SILICON}
Rbus bus 0 10Meg
Rdropper bus fed {ohms}
Vsense fed rail DC 0
Bheat 0 heat I=(v(bus)-v(rail))*(v(bus)-v(rail))/{ohms}
Cheat heat 0 1 IC=0
"""


@pytest.mark.parametrize(
    ("rms", "hertz", "ohms", "rail"),
    [(230, 50, 470e3, 5.1), (120, 60, 220e3, 5.1), (230, 50, 470e3, 3.0), (120, 60, 220e3, 3.0)],
)
def test_dropper_current_into_a_held_rail(rms, hertz, ohms, rail):
    """Mean current within 0.2 % and heat within 0.5 % of the closed form with silicon diodes."""
    begin, end = 5 / hertz, 10 / hertz
    netlist = f"""{dropper_netlist(rms, hertz, ohms)}
Vrail rail 0 DC {rail}
.tran {0.01 / hertz} {end} 0 {0.002 / hertz} UIC
"""
    seen = measure(
        netlist,
        amperes=f"AVG i(Vrail) FROM={begin} TO={end}",
        before=f"FIND v(heat) AT={begin}",
        after=f"FIND v(heat) AT={0.9999 * end}",
    )
    # At half a milliampere the diode's own law gives 0.5 V a junction rather than 0.7 V.
    feed = dropper.resistor_feed(rms, ohms, rail, diode_volts=0.5)
    assert seen["amperes"] == pytest.approx(feed.amperes, rel=2e-3)
    watts = (seen["after"] - seen["before"]) / (end - begin)
    assert watts == pytest.approx(feed.watts, rel=5e-3)


@pytest.mark.parametrize(("rms", "hertz", "ohms"), [(230, 50, 470e3), (120, 60, 220e3)])
def test_dropper_current_into_a_zener_rail(rms, hertz, ohms):
    """The rail a 5.1 V zener and 10 µF settle on sits just below the 5 mA value, and the current
    is within 0.2 % of the closed form at that rail."""
    begin, end = 20 / hertz, 25 / hertz
    netlist = f"""{dropper_netlist(rms, hertz, ohms)}
Dzener 0 rail zener
.model zener D(BV=5.1 IBV=5m NBV=2)
Crail rail 0 10u IC=5
.tran {0.01 / hertz} {end} 0 {0.002 / hertz} UIC
"""
    seen = measure(
        netlist,
        volts=f"AVG v(rail) FROM={begin} TO={end}",
        amperes=f"AVG i(Vsense) FROM={begin} TO={end}",
    )
    assert 4.8 < seen["volts"] < 5.1
    feed = dropper.resistor_feed(rms, ohms, seen["volts"], diode_volts=0.5)
    assert seen["amperes"] == pytest.approx(feed.amperes, rel=2e-3)


@pytest.mark.parametrize(
    ("farads", "rms", "hertz", "string"),
    [(1e-6, 230, 50, 150), (0.8e-6, 230, 50, 150), (1.5e-6, 120, 60, 60)],
)
def test_capacitive_dropper_current(farads, rms, hertz, string):
    """Mean current into a smooth string within 1 % of the closed form."""
    netlist = f"""
Vmains plug neutral SIN(0 {mains.peak(rms)} {hertz})
Rinrush plug film 47
Cfilm film live {farads}
Rbleed film live 1Meg
{BRIDGE}{NEAR_IDEAL}
Vstring bus 0 DC {string}
.tran {0.01 / hertz} {20 / hertz} 0 {0.002 / hertz}
"""
    seen = measure(netlist, amperes=f"AVG i(Vstring) FROM={10 / hertz} TO={20 / hertz}")
    expected = dropper.capacitive_current(farads, rms, hertz, string)
    assert seen["amperes"] == pytest.approx(expected, rel=1e-2)


@pytest.mark.parametrize(
    ("rms", "hertz", "farads", "amperes"),
    [(230, 50, 10e-6, 0.040), (120, 60, 10e-6, 0.080), (12, 50, 2200e-6, 1.0)],
)
def test_ripple_of_a_bulk_capacitor(rms, hertz, farads, amperes):
    """Peak-to-peak within 1.5 % of the exact solution, and never above the bound."""
    netlist = f"""
Vmains live neutral SIN(0 {mains.peak(rms)} {hertz})
{BRIDGE}{NEAR_IDEAL}
Cbulk bus 0 {farads}
Iload bus 0 DC {amperes}
.ic v(bus)={mains.peak(rms)}
.tran {0.005 / hertz} {10 / hertz} 0 {0.001 / hertz} UIC
"""
    seen = measure(netlist, swing=f"PP v(bus) FROM={5 / hertz} TO={10 / hertz}")
    assert seen["swing"] == pytest.approx(mains.ripple(rms, amperes, farads, hertz), rel=1.5e-2)
    assert seen["swing"] < mains.ripple_bound(amperes, farads, hertz)


@pytest.mark.parametrize(
    ("farads", "volts", "ohms"), [(10e-6, 325.27, 10e3), (100e-6, 400, 2.2e3), (22e-6, 200, 330e3)]
)
def test_discharge_time_and_energy(farads, volts, ohms):
    """Times to 60 V and 34 V within 0.1 %, heat in the resistor within 0.2 % of CV²/2."""
    tau = ohms * farads
    netlist = f"""
Cbulk bus 0 {farads} IC={volts}
Rbleed bus 0 {ohms}
Bheat 0 heat I=v(bus)*v(bus)/{ohms}
Cheat heat 0 1 IC=0
.tran {tau / 1000} {8 * tau} 0 {tau / 1000} UIC
"""
    seen = measure(
        netlist,
        to_60="WHEN v(bus)=60 FALL=1",
        to_34="WHEN v(bus)=34 FALL=1",
        joules=f"FIND v(heat) AT={7.99 * tau}",
    )
    assert seen["to_60"] == pytest.approx(discharge.seconds_to(ohms, farads, volts, 60), rel=1e-3)
    assert seen["to_34"] == pytest.approx(discharge.seconds_to(ohms, farads, volts, 34), rel=1e-3)
    assert seen["joules"] == pytest.approx(discharge.energy(farads, volts), rel=2e-3)
