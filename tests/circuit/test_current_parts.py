"""The part models of `kb/circuits/current.lib` against closed forms, our solver against ngspice.

Each circuit is run by both; their means lie within 2 % or 20 mV of each other, as the solver
promises, and both within the tolerance that stands beside each test of the closed form.
"""

import math

import pytest

from engine.circuit.job import Job, Request, judged, solved
from engine.electrics import dropper, mains, regulator
from kb.language.circuit import netlist_text

PARTS = netlist_text("parts.lib") + netlist_text("current.lib")


def both(lines, nodes, seconds, begin, hertz=50.0):
    """Figures of each node by our solver, once ngspice was heard on the same circuit."""
    waves = tuple(Request("wave", node, "0", begin, seconds) for node in nodes)
    job = Job(PARTS + lines + "\n", seconds, hertz, waves)
    ours, theirs = solved(job), judged(job)
    for node, own, due in zip(nodes, ours, theirs, strict=True):
        assert own["mean"] == pytest.approx(due["mean"], rel=0.02, abs=0.02), node
        assert own["ac"] == pytest.approx(due["ac"], rel=0.05, abs=0.02), node
    return dict(zip(nodes, ours, strict=True))


def dropper_lamp(volts, hertz, farads, dies, store, amperes):
    return f"""
V1 l n SIN(0 {volts * math.sqrt(2)} {hertz})
RL n 0 100Meg
X1 l k fusible r=47
X2 k a filmcap c={farads}
R2 k a 1Meg
X3 a n bus 0 bridge
X4 bus 0 electrolytic c={store} esr=1 vr=450
X5 bus 0 glow leds n={dies} volts=3 rated={amperes}
"""


@pytest.mark.parametrize(
    ("volts", "hertz", "farads", "dies", "due"),
    [
        (230, 50, 1e-6, 50, 34.8e-3),
        (230, 50, 0.8e-6, 50, 27.9e-3),
        (230, 50, 1e-6, 30, 46.6e-3),
        (120, 60, 1.5e-6, 20, 39.2e-3),
    ],
)
def test_a_film_capacitor_in_line_sets_the_string_s_current(volts, hertz, farads, dies, due):
    """`4 f C (Vp - Vs)` within 2 %, with the volts that the string there holds and two junctions.

    The capacitor's charge counts whatever the string's ripple; 2 % is what its ripple and 47 ohm in
    front cost.
    """
    seen = both(
        dropper_lamp(volts, hertz, farads, dies, 47e-6, due), ["bus", "glow"],
        60 / hertz, 40 / hertz, hertz,
    )  # fmt: skip
    amperes = seen["glow"]["mean"] * due
    load = seen["bus"]["mean"] + 1.4
    assert amperes == pytest.approx(
        dropper.capacitive_current(farads, volts, hertz, load), rel=0.02
    )
    assert amperes == pytest.approx(due, rel=0.02)


def test_half_the_capacitance_is_half_the_light_and_hardly_less_volts():
    """What a film capacitor loses the light loses; dies of 3 V fall by some 0.2 V each."""
    sound = both(dropper_lamp(230, 50, 1e-6, 40, 47e-6, 0.04), ["bus", "glow"], 1.2, 0.8)
    worn = both(dropper_lamp(230, 50, 0.5e-6, 40, 47e-6, 0.04), ["bus", "glow"], 1.2, 0.8)
    assert worn["glow"]["mean"] / sound["glow"]["mean"] == pytest.approx(0.5, abs=0.03)
    assert worn["bus"]["mean"] / sound["bus"]["mean"] == pytest.approx(0.95, abs=0.02)


@pytest.mark.parametrize("amperes", [0.02, 0.06, 0.15])
@pytest.mark.parametrize("dies", [3, 12])
def test_packages_hold_three_volts_a_die_at_their_own_current(amperes, dies):
    """String volts are packages x dies x 3 V, within a hundredth, whatever the rating."""
    seen = both(f"I1 0 a {amperes}\nX1 a 0 glow leds n=8 volts={3 * dies} rated={amperes}",
                ["a", "glow"], 0.05, 0.02)  # fmt: skip
    assert seen["a"]["mean"] == pytest.approx(8 * dies * 3.0, rel=0.01)
    assert seen["glow"]["mean"] == pytest.approx(1.0, rel=0.01)
    third = both(f"I1 0 a {amperes / 3}\nX1 a 0 glow leds n=8 volts={3 * dies} rated={amperes}",
                 ["a"], 0.05, 0.02)  # fmt: skip
    assert (seen["a"]["mean"] - third["a"]["mean"]) / (8 * dies) == pytest.approx(0.18, abs=0.03)


def linear_lamp(volts, hertz, dies, ohms, store, more=""):
    return f"""
V1 l n SIN(0 {volts * math.sqrt(2)} {hertz})
RL n 0 100Meg
X1 l n bus 0 bridge
X2 bus 0 electrolytic c={store} esr=1 vr=450
X3 bus low glow leds n={dies} volts=3 rated={0.6 / ohms}
X4 low set 0 warmth linear {more}
R1 set 0 {ohms}
"""


@pytest.mark.parametrize(
    ("volts", "hertz", "dies", "ohms", "store"),
    [(230, 50, 84, 15, 10e-6), (230, 50, 78, 30, 10e-6), (120, 60, 42, 12, 22e-6)],
)
def test_a_linear_regulator_holds_its_current_and_takes_the_rest_as_heat(
    volts, hertz, dies, ohms, store
):
    """`Vref/R` within 1 %; heat `(Vbus - Vstring) I` within 2 %; ripple `I/(2 f C)` at most and
    the exact closed form's within 3 %: the regulator is a constant load."""
    nodes = ["bus", "low", "glow", "warmth"]
    seen = both(linear_lamp(volts, hertz, dies, ohms, store), nodes, 60 / hertz, 40 / hertz, hertz)
    amperes = regulator.set_amperes(0.6, ohms)
    assert seen["glow"]["mean"] * 0.6 / ohms == pytest.approx(amperes, rel=0.01)
    string = seen["bus"]["mean"] - seen["low"]["mean"]
    assert string == pytest.approx(3.0 * dies, rel=0.01)
    watts = regulator.heat_watts(seen["bus"]["mean"], string, amperes)
    assert seen["warmth"]["mean"] == pytest.approx(50 + 25 * watts, rel=0.02)
    assert 2 * (seen["bus"]["top"] - seen["bus"]["mean"]) < 1.15 * mains.ripple_bound(
        amperes, store, hertz
    )
    swing = mains.ripple(volts, amperes, store, hertz)
    # of a saw-tooth the alternating part is the swing over the root of twelve
    assert seen["bus"]["ac"] == pytest.approx(swing / math.sqrt(12), rel=0.06)


def test_a_warm_regulator_takes_back_what_its_data_sheet_s_line_says():
    """Linked packages add their volts to its heat; share and heat meet within 2 %."""
    nodes = ["bus", "low", "glow", "warmth"]
    seen = both(linear_lamp(230, 50, 70, 15, 22e-6, "fold=120"), nodes, 2.0, 1.5)
    bus, left = seen["bus"]["mean"], seen["low"]["mean"]
    cold = regulator.heat_watts(bus, bus - left, 0.04)
    due = regulator.folded_share(cold, 50.0, 25.0, 120.0, 0.02)
    assert 0.6 < due < 0.9
    assert seen["glow"]["mean"] == pytest.approx(due, rel=0.02)
    assert seen["warmth"]["mean"] == pytest.approx(50 + 25 * cold * due, rel=0.02)


def test_below_its_knee_a_regulator_is_a_resistor():
    """Where the string leaves fewer volts than `ron` asks for, the channel's resistance decides."""
    lines = "V1 low 0 {}\nX4 low set 0 warmth linear ron=100 start=1\nR1 set 0 15"
    under = both(lines.format(2.3), ["set"], 0.2, 0.1)["set"]["mean"] / 15
    assert under == pytest.approx(2.3 / 115, rel=0.05)
    over = both(lines.format(12), ["set"], 0.2, 0.1)["set"]["mean"] / 15
    assert over == pytest.approx(0.04, rel=0.01)


def test_a_string_over_the_bus_is_dark_and_one_near_it_only_blinks_at_the_crests():
    """A regulator can't lift: 125 dies want 375 V, 104 some 312 V of a 325 V crest."""
    dark = both(linear_lamp(230, 50, 125, 15, 10e-6), ["glow"], 0.3, 0.2)["glow"]
    assert dark["mean"] < 0.02
    near = both(linear_lamp(230, 50, 104, 15, 4.7e-6), ["glow"], 0.2, 0.1)["glow"]
    assert 0.2 < near["mean"] < 0.97
    assert near["ripple"] > 0.1


def test_a_component_meter_reads_a_film_capacitor():
    """1 kHz sees its capacitance past a bleed across it; a bleed alone and a short have none."""
    waits = (Request("capacitance", "a", "0"),)
    for lines, due in (
        ("X1 a 0 filmcap c=0.68u\nR1 a 0 470k\n", 0.68e-6),
        ("X1 c 0 filmcap c=0.68u\nR1 a 0 470k\nR2 a c 1e10\n", 0.0),
        ("X1 a 0 filmcap c=0.68u\nR1 a 0 1\n", 0.0),
    ):
        for maker in (solved, judged):
            shown = maker(Job(PARTS + lines, 0.0, 50, waits))[0]["farads"]
            assert shown == pytest.approx(due, rel=0.01, abs=1e-9)
