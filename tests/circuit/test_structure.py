"""Circuits are no rules in disguise: what may stand in them, and what a fault may alter."""

import re

import pytest

from engine.circuit.netlist import parse, spice_number
from engine.circuit.unit import acts_of, at_severity, with_fault
from kb.language import circuit
from kb.trouble import TroubleError
from tests.circuit.shipped_units import MAINS, shipped, single_faults

CIRCUITS = circuit.circuits()
UNITS = [(topology, mains.volts) for topology in CIRCUITS for mains in MAINS]
SOURCES = "VIBEFGH"


def test_the_two_first_topologies_carry_circuits():
    """The parametrised checks below would pass on none."""
    assert {"light-controlled-lamp", "buck-lamp"} <= set(CIRCUITS)


@pytest.mark.parametrize("topology", CIRCUITS)
def test_a_unit_holds_no_source(topology):
    """Outside the named subcircuits stand only parts; every source is the bench's."""
    elements = parse(circuit.netlist_text(f"{topology}.cir")).elements
    assert elements
    assert [e.name for e in elements if e.name[0].upper() in SOURCES] == []


@pytest.mark.parametrize("topology", CIRCUITS)
def test_the_bench_drives_no_test_point(topology):
    """No source of the bench sits straight across the two nodes of a test point."""
    bench = circuit.bench()
    scenes = [line for kinds in bench.scenes.values() for lines in kinds.values() for line in lines]
    lines = [line for supply in bench.supplies.values() for line in supply] + scenes
    lines += [line for rig in bench.rigs for line in rig.lines]
    lines += [line for known in bench.measurements for line in known.lines]
    points = [set(pair) for pair in circuit.circuit(topology).points.values()]
    driven = [set(line.split()[1:3]) for line in lines if line[0] in SOURCES]
    assert driven
    assert [pair for pair in driven if pair in points] == []


@pytest.mark.parametrize(("topology", "volts"), UNITS)
def test_a_fault_alters_only_its_own_elements(topology, volts):
    """Models and every other part stay as they are; a cut, a short, a bad joint is added."""
    made = shipped(topology, volts)
    for fault in single_faults(made):
        after = with_fault(made, fault).netlist
        assert after.rest == made.netlist.rest
        before = {element.name: element for element in made.netlist.elements}
        part = fault.parts[0].part
        for element in after.elements:
            if element.name in before:
                same = element == before[element.name]
                assert same or element.part == part, (fault.id, element.name)
            else:
                added = rf"(Rcut|Rshort|Xloose)_X?{part}(_|$)"
                assert re.match(added, element.name), fault.id


@pytest.mark.parametrize(("topology", "volts"), UNITS)
def test_a_fault_of_a_part_in_the_circuit_does_alter_it(topology, volts):
    """Only causes outside the unit leave the circuit as it was."""
    made = shipped(topology, volts)
    unaltered = {
        fault.parts[0].part
        for fault in single_faults(made)
        if with_fault(made, fault).netlist == made.netlist
    }
    assert unaltered == {part for part in made.parts if not made.netlist.of(part)}


def test_values_follow_the_mains():
    """The dropper is 470 kohm at 230 V and 220 kohm at 120 V, as the topology says."""
    values = [
        shipped("light-controlled-lamp", volts).netlist.of("R2")[0].number("value", {})
        for volts in (230, 120)
    ]
    assert values == [470e3, 220e3]


@pytest.mark.parametrize(("topology", "volts"), UNITS)
def test_a_fault_changes_only_parameters_that_a_part_has(topology, volts):
    """Each figure a mode changes is a declared parameter of the part's subcircuit, or its value."""
    made = shipped(topology, volts)
    for part, modes in made.kinds.items():
        for mode in modes:
            act = acts_of(made, part, mode)
            for element in made.netlist.of(part):
                declared = {"value", *made.netlist.defaults.get(element.model, {})}
                declared |= {"ohms"} if act.across else set()  # of the path laid across it
                assert {*act.scale, *act.put, *act.range} <= declared, (part, mode)


@pytest.mark.parametrize(("topology", "volts"), UNITS)
def test_severity_runs_from_mild_to_grave_through_the_typical_case(topology, volts):
    """The typical figure of every ranged mode lies within its range."""
    made = shipped(topology, volts)
    for part, modes in made.kinds.items():
        for mode in modes:
            act = acts_of(made, part, mode)
            ends = [at_severity(act, severity) for severity in (0.0, 1.0)]
            for name, (mild, grave) in act.range.items():
                figures = {**act.scale, **act.put, "leak": act.leak or act.put.get("leak", 0)}
                figures |= {"ohms": act.ohms} if act.across else {}
                typical = spice_number(str(figures[name]))
                assert min(mild, grave) <= typical <= max(mild, grave), (part, mode, name)
            assert (ends[0] != ends[1]) == bool(act.range)


def test_behavioural_sources_stand_in_named_subcircuits_only():
    """Of the library, and of every line that the bench lays on."""
    for library in circuit.SHIPPED.glob("*.lib"):
        text = circuit.netlist_text(library.name)
        assert not any(line.startswith((".control", ".include")) for line in text.splitlines())
        assert parse(text).elements == ()
    bench = circuit.bench()
    lines = [line for rig in bench.rigs for line in rig.lines]
    lines += [line for known in bench.measurements for line in known.lines]
    lines += [line for supply in bench.supplies.values() for line in supply]
    assert [line for line in lines if line[0].upper() in "BEFGH"] == []


def test_a_damaged_circuit_is_no_missing_one(tmp_path):
    """It is told of; a topology without a circuit has none, and that is all."""
    assert circuit.circuit_of("porch-lamp", tmp_path) is None
    (tmp_path / "porch-lamp.cir").write_text("* nothing yet\n", encoding="utf-8")
    (tmp_path / "porch-lamp.yml").write_text("beyond: [", encoding="utf-8")
    with pytest.raises(TroubleError):
        circuit.circuit_of("porch-lamp", tmp_path)
