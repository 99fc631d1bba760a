"""The committed readings: as old as what they stand on, and rules and circuits at one."""

import pytest

from engine.circuit import accord, campaign, dictionary
from engine.library import everything, model
from kb.language import circuit
from tests.circuit.shipped_units import MAINS

LAMPS = [(topology, mains) for topology in circuit.circuits() for mains in MAINS]
FEW = 0.02
"""The share of cells that may be argued away: the house's own limit."""


@pytest.fixture(scope="module", params=LAMPS, ids=lambda lamp: f"{lamp[0]}-{lamp[1].volts:g}")
def lamp(request):
    """The model of a lamp with a circuit on a full bench, and what is committed of its readings."""
    topology, mains = request.param
    return model(topology, mains=mains, having=everything()), dictionary.read(topology, mains)


def test_readings_are_those_of_circuit_bench_and_knowledge(lamp):
    """Nothing they stand on was changed after them."""
    assert campaign.stale(lamp[0]) is None


def test_rules_and_circuit_agree_in_every_cell_that_nothing_argues_for(lamp):
    """The open list is empty."""
    assert [accord.sentence(one) for one in accord.compare(*lamp).open] == []


def test_few_cells_are_argued_away(lamp):
    """Under 2 % of them, each with its reason in the circuit's data."""
    found = accord.compare(*lamp)
    assert len(found.disagreements) < FEW * found.cells


def test_every_fault_and_measured_test_was_simulated(lamp):
    """The listed hypotheses all stand in the readings, and some simulation ended for each."""
    made, readings = lamp
    listed = {f.id for f in made.faults if dictionary.UNLISTED not in (f.id, f.variant_of)}
    for test in readings.measures:
        assert set(readings.cells[test]) == listed
        shown = [cell.value is not None for cell in readings.cells[test].values()]
        assert sum(shown) > 0.95 * len(shown)


def test_the_rail_of_a_sound_lamp_is_read_a_few_tenths_low(lamp):
    """Where there is a control rail: 5.1 V marked, 4.1 to 5.1 V read at both mains."""
    made, readings = lamp
    rails = [t.id for t in made.tests if t.id.startswith("volts-") and "zener" in t.says]
    for rail in rails:
        assert 4.1 < readings.cells[rail]["no-fault"].value < 5.1


def test_siblings_differ_and_their_weights_are_whole(lamp):
    """Sampled units are no copies of the nominal one."""
    _, readings = lamp
    assert sum(unit.weight for unit in readings.units) == pytest.approx(1, abs=1e-4)
    for test in readings.measures:
        found = dictionary.spread(readings, test, "no-fault")
        # a unit that lacks the part reads nothing there, or over range
        absent = sum(u.weight for u in readings.units if test.partition("-")[2] in u.absent)
        assert found.failed <= absent + 0.02 or found.values
    assert len({tuple(sorted(unit.values.items())) for unit in readings.units}) > 1
