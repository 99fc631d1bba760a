"""Failures that every bench meets, beside plain opens and shorts: what each shows, what cures it.

Common practice: leaky and open rail capacitors, drifted start resistors, output capacitors leaky
enough to dim, joints of tall parts, half a bridge, an open freewheel diode that takes more along.
"""

from __future__ import annotations

from functools import cache

import pytest

from engine import library
from engine.circuit.unit import unit, with_fault
from engine.model.records import Mains
from kb.language import circuit, loader

MAINS = Mains(230, 50)
PLAIN, LIT, OWN = "buck-lamp", "light-controlled-lamp", "enabled-lamp"


@cache
def model(topology):
    return library.model(topology, mains=MAINS, having=library.everything())


def likeliest(topology, test, fault):
    row = model(topology).row(test, fault)
    return max(row, key=lambda outcome: row[outcome])


SHOWN = [
    # a rail capacitor that leaks pulls the rail down, and reads like it unplugged
    (LIT, "C2-leaky-some", "volts-TP2", "sagging"),
    (LIT, "C2-leaky-far", "volts-TP2", "starved"),
    (LIT, "C2-leaky-far", "rail-current-control", "heavy"),
    (LIT, "C2-leaky-far", "lifted-C2", "leaks"),
    (LIT, "C2-leaky-far", "ohms-C2", "leaks"),
    # one that is open lets the rail swing with the bus: lit, and it won't go off
    (LIT, "C2-open", "ripple-TP2", "swings"),
    (LIT, "C2-open", "known-good-socket", "lights-well"),
    (LIT, "C2-open", "light-on-sensor", "lights"),
    (OWN, "C2-open", "ripple-TP2", "swings"),
    (OWN, "C2-open", "known-good-socket", "dark"),
    # a start resistor that drifted
    (PLAIN, "R4-drifted", "ohms-R4", "above"),
    (PLAIN, "R4-drifted", "known-good-socket", "flashes"),
    (PLAIN, "R4-drifted", "supply-at-C2", "hunts"),
    (LIT, "R10-drifted", "light-with-Q1-bridged", "unsteady"),
    # an output capacitor that takes the LEDs' current
    (PLAIN, "C3-leaky-hot", "known-good-socket", "dim"),
    (PLAIN, "C3-leaky-hot", "volts-TP4", "as-due"),
    (PLAIN, "C3-leaky-hot", "ohms-C3", "leaks"),
    # tall parts on joints that come and go
    (PLAIN, "L2-joint", "tap-it", "changes"),
    (PLAIN, "L2-joint", "joint-L2", "cracked"),
    (PLAIN, "L2-joint", "joint-L1", "sound"),
    (PLAIN, "C1-joint", "tap-it", "changes"),
    (PLAIN, "C1-joint", "known-good-socket", "flickers"),
    (LIT, "BR1-joint", "look-driver", "cracked"),
    # half a bridge: a plain lamp lights nearly as before, a rail gets half its feed
    (PLAIN, "BR1-open-one", "known-good-socket", "lights-well"),
    (PLAIN, "BR1-open-one", "ripple-TP3", "large"),
    (PLAIN, "BR1-open-one", "junctions-BR1", "open"),
    (LIT, "BR1-open-one", "volts-TP1", "low"),
    (LIT, "BR1-open-one", "volts-TP2", "sagging"),
    (LIT, "BR1-open-one", "light-with-Q1-bridged", "lights"),
    # an open freewheel diode, what it breaks down, and what goes with that
    (PLAIN, "D1-open-took-U1Q", "ohms-U1Q", "near-nothing"),
    (PLAIN, "D1-open-took-U1Q", "lifted-D1", "open"),
    (PLAIN, "D1-open-took-U1Q", "limiter-glow", "stays-bright"),
    (PLAIN, "D1-open-took-U1Q-took-R1", "ohms-R1", "open"),
    (PLAIN, "D1-open-took-U1Q-took-R1", "lifted-D1", "open"),
    # a thyristor that leaks: right in the dark, flashing by day
    (LIT, "Q1-leaky", "known-good-socket", "lights-well"),
    (LIT, "Q1-leaky", "light-on-sensor", "lights"),
    (LIT, "Q1-leaky", "ohms-Q1", "leaks"),
    (LIT, "Q1-leaky", "fires-Q1", "fires-and-holds"),
]


@pytest.mark.parametrize(("topology", "fault", "test", "outcome"), SHOWN)
def test_it_shows_as_benches_see_it(topology, fault, test, outcome):
    assert likeliest(topology, test, fault) == outcome


def cures(topology, remedy):
    return next(r for r in model(topology).remedies if r.id == remedy).cures


def test_a_loose_joint_is_remade_and_nothing_else_of_the_part_is_cured_by_that():
    assert cures(PLAIN, "resolder-L2") == ("L2-joint",)
    assert {"L2-joint", "L2-open", "L2-turns"} <= set(cures(PLAIN, "renew-L2"))


def test_what_the_freewheel_diode_took_along_is_renewed_with_it():
    """A chip alone, or the chip and the fuse, would go again."""
    trio = "D1-open-took-U1Q-took-R1"
    assert trio in cures(PLAIN, "renew-D1-and-U1-and-R1")
    assert "D1-open-took-U1Q" in cures(PLAIN, "renew-D1-and-U1")
    for remedy in ("renew-U1", "renew-D1", "renew-D1-and-U1", "renew-U1-and-R1"):
        assert trio not in cures(PLAIN, remedy)


def test_whoever_fits_a_new_chip_is_told_to_look_at_the_diode_first():
    renewing = next(r for r in model(PLAIN).remedies if r.id == "renew-U1")
    assert any("D1" in words and "Before the new chip" in words for words in renewing.companions)


def test_shares_of_what_goes_along_come_out_of_the_cause():
    """Half of the open diodes take the switch, and these in turn the fuse or the sense resistor, as
    85 to 25 of 100 would each alone."""
    priors = {fault.id: fault.prior for fault in model(PLAIN).faults}
    alone, pair, fuse, sense = (
        priors[f"D1-open{rest}"]
        for rest in ("", "-took-U1Q", "-took-U1Q-took-R1", "-took-U1Q-took-R3")
    )
    assert alone == pytest.approx(pair + fuse + sense)
    assert fuse / sense == pytest.approx(0.85 / 0.25)


def faulty(topology, fault):
    """The nominal circuit with a fault of its model."""
    made = unit(
        loader.read(), topology, MAINS, circuit.circuit(topology), circuit.devices()
    )
    return with_fault(made, next(f for f in model(topology).faults if f.id == fault)).netlist


def test_a_loose_joint_stands_in_series_with_the_parts_leg():
    netlist = faulty(PLAIN, "L2-joint")
    joint = next(e for e in netlist.elements if e.name == "Xloose_XL2_pad1")
    coil = netlist.of("L2")[0]
    assert joint.model == "contact"
    assert joint.parameters["shaky"] == "1"
    assert joint.nodes == ("ledm", coil.nodes[0])


def test_half_a_bridge_keeps_three_of_its_diodes():
    bridge = faulty(PLAIN, "BR1-open-one").of("BR1")[0]
    assert float(bridge.parameters["rone"]) >= 1e9
    assert faulty(PLAIN, "BR1-open-bond").of("BR1")[0].parameters.get("rone") is None
