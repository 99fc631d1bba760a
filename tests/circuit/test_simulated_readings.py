"""What a simulated unit reads, as a repairer would expect it from the trade's checks."""

import math

import pytest

from engine.circuit.batch import batch
from engine.circuit.dictionary import Cell, Dictionary, Sibling, band_of, read, write
from engine.circuit.figures import figures
from engine.circuit.job import Job, Request, run
from engine.circuit.spice import PROGRAM, present
from engine.circuit.taking import reading, taking
from engine.circuit.unit import with_fault
from engine.model.records import Mains, Outcome
from engine.model.records import Test as Check
from kb.language import circuit
from kb.trouble import TroubleError
from tests.circuit.shipped_units import shipped, single_faults

LAMP = "light-controlled-lamp"
RAIL = Check(
    "volts-TP2", "", 1, (), "isolated-limited", "meter-on-leads", False,
    (
        Outcome("dead", "", None, 0.5, "V"),
        Outcome("starved", "", 0.5, 2.0, "V"),
        Outcome("sagging", "", 2.0, 4.08, "V"),
        Outcome("as-due", "", 4.08, 5.86, "V"),
        Outcome("high", "", 5.86, None, "V"),
    ),
    instrument="DC volts", point="TP2",
)  # fmt: skip


def ill(volts, name):
    """The lamp with one fault, `none` for the healthy one."""
    made = shipped(LAMP, volts)
    if name == "none":
        return made
    return with_fault(made, next(f for f in single_faults(made) if f.id == name))


def taken(unit, test):
    """The reading of a test on a unit."""
    wanted = taking(unit, circuit.bench(), test)
    return reading(wanted, {w.job.key: run(w.job)[0] for w in wanted.needs})


@pytest.mark.parametrize(
    ("fault", "outcome"),
    [
        ("none", "as-due"),
        ("R2-open", "dead"),
        ("D1-short", "dead"),
        ("C2-short", "dead"),
        ("R2-drifted-far", "starved"),
        ("D1-drifted-some", "sagging"),
        ("D1-drifted-far", "starved"),
        ("R2-drifted-some", "sagging"),
    ],
)
def test_the_control_rail_tells_feed_from_clamp(fault, outcome):
    """The rail of a lamp at 230 V, from its own circuit."""
    assert taken(ill(230, fault), RAIL).outcome == outcome


@pytest.mark.parametrize("volts", [230, 120])
def test_a_healthy_rail_sits_tenths_of_a_volt_under_its_marking(volts):
    """Fed under half a milliampere, up to a volt low (BZX79-C5V1, 480 ohm at 1 mA)."""
    assert 4.1 < taken(ill(volts, "none"), RAIL).value < 5.1


def at_rest(unit, name, instrument="ohm range", rig="none"):
    """A reading of an unplugged unit."""
    band = (Outcome("all", "", None, None, "Ω"), Outcome("unsteady", ""))
    return taken(unit, Check(name, "", 1, (), "unplugged", rig, True, band, instrument=instrument))


def test_volts_over_the_dropper_tell_nothing_and_its_ohms_all():
    """A drifted dropper and a leaky clamp drop nearly the same volts; ohms part them."""
    healthy, drifted = (at_rest(ill(230, f), "ohms-R2").value for f in ("none", "R2-drifted-some"))
    assert healthy < 470e3 < drifted


def test_a_resistor_in_circuit_never_reads_above_its_value():
    """Parallel paths only lower it: every resistor of both healthy units."""
    for topology in circuit.circuits():
        unit = shipped(topology, 230)
        for element in unit.netlist.elements:
            if not element.model and element.name.startswith("R"):
                shown = at_rest(unit, f"ohms-{element.part}").value
                assert shown <= 1.001 * element.number("value", {}), element.name


def test_a_cut_leg_reads_over_range_and_a_lifted_one_frees_the_part():
    """The meter sits outside a break inside the part; a lifted leg takes the paths beside away."""
    band = (Outcome("all", "", None, None, "Ω"),)
    lifted = Check("lifted-C2", "", 1, (), "unplugged", "C2-lifted", True, band,
                  instrument="ohm range")  # fmt: skip
    assert at_rest(ill(230, "none"), "ohms-C2").value < 1e6
    assert math.isinf(taken(ill(230, "none"), lifted).value)
    assert math.isinf(at_rest(ill(230, "J1-open"), "continuity-J1").value)


def test_a_joint_that_moves_reads_sound_until_it_is_moved():
    """The reading jumps: that is an outcome of its own."""
    assert at_rest(ill(230, "J1-loose-moved"), "continuity-J1").outcome == "unsteady"


def test_sampled_units_differ_but_only_within_their_tolerance():
    """Seeded: the same chance makes the same unit."""
    made = shipped(LAMP, 230)
    one, same, other = (batch(made, 10, seed) for seed in (1, 1, 2))
    assert [u.netlist for u in one.units] == [u.netlist for u in same.units]
    assert one.units[0].netlist != other.units[0].netlist
    for sibling, unit in zip(one.siblings, one.units, strict=True):
        due = sibling.values["R2"]
        ohms = unit.netlist.of("R2")[0].number("value", {})
        assert 0.95 * due <= ohms <= 1.05 * due


def test_figures_of_a_rectified_sine():
    """Mean 2/pi and rms 1/sqrt(2) of the peak: 207.07 V at 230 V."""
    import numpy as np

    time = np.arange(0, 1, 1e-4)
    wave = np.abs(230 * math.sqrt(2) * np.sin(2 * math.pi * 50 * time))
    seen = figures(time, wave, 0.2, 1.0, 50)
    assert seen["mean"] == pytest.approx(207.07, rel=1e-3)
    assert seen["rms"] == pytest.approx(230, rel=1e-3)
    assert seen["swing"] < 0.01


def test_figures_of_a_light_that_flashes():
    """Three flashes a second, evenly: three beats a second, little unevenness."""
    import numpy as np

    time = np.arange(0, 3, 1e-3)
    seen = figures(time, (np.sin(2 * math.pi * 3 * time) > 0).astype(float), 0.0, 3.0, 50)
    assert seen["beats"] in (8, 9)
    assert seen["swing"] > 0.9
    assert seen["uneven"] < 0.05


def test_readings_below_the_lowest_band_fall_into_it():
    """An offset of a meter under zero is no outcome of its own."""
    assert [band_of(RAIL, v) for v in (-0.1, 0.5, 4.0799, 1e9)] == [
        "dead", "starved", "sagging", "high",
    ]  # fmt: skip


def test_a_dictionary_is_read_back_as_it_was_written(tmp_path):
    """To three significant digits, over range included, equal cells written once."""
    mains = Mains(230, 50)
    cells = {
        "a": {"f": Cell(None, 1.2345678, ((None, 1.2), (None, None)))},
        "b": {"f": Cell(None, math.inf, (("x", None), ("y", 2.0))), "g": Cell("x", None)},
    }
    listed = {"R1": 10.0, "C2": 1e-5}
    units = (
        Sibling({"R1": 22.0}, frozenset({"C2"}), {}, 0.25, 1.0, 0.5),
        Sibling({"R1": 10.0, "C2": 2.2e-5}, frozenset(), {"C2": "electrolytic"}, 0.75, 1.02, 0.5),
    )
    made = Dictionary("some-lamp", mains, {"circuit": "k"}, listed, units, cells, {"a": "V"})
    write(made, tmp_path)
    back = read("some-lamp", mains, tmp_path)
    assert back.cells["a"]["f"] == Cell(None, 1.23, ((None, 1.2), (None, None)))
    assert back.cells["b"] == cells["b"]
    assert (back.listed, back.units, back.measures) == (listed, units, {"a": "V"})
    assert read("other-lamp", mains, tmp_path) is None


def test_damaged_readings_are_told_with_their_mend(tmp_path):
    """CI401, and what to run."""
    (tmp_path / "some-lamp-230.json").write_text('{"format": "nextprobe-readings/1"}')
    with pytest.raises(TroubleError, match=r"CI401 .* Run nextprobe derive some-lamp again"):
        read("some-lamp", Mains(230, 50), tmp_path)


def test_a_topology_without_circuit_is_told_by_name():
    """CI101 names those that have one."""
    with pytest.raises(TroubleError, match=r"CI101 Topology 'kettle' has no circuit.*buck-lamp"):
        circuit.circuit("kettle")


def test_a_machine_without_ngspice_is_told_what_to_install(monkeypatch):
    """CI301, not a traceback."""
    monkeypatch.setenv("PATH", "")
    with pytest.raises(TroubleError, match=rf"CI301 {PROGRAM} is not installed.*apt-get"):
        present()


def test_a_circuit_that_can_t_be_solved_gives_no_figures():
    """Two voltage sources in parallel: empty figures, no reading, no exception."""
    text = "V1 a 0 1\nV2 a 0 2\n"
    assert run(Job(text, 0.01, 50, (Request("wave", "a", "0", 0, 0.01),))) == ({},)
