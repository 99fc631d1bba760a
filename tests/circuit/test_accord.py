"""Rules held against physics: which cells disagree, which are argued, which are not compared."""

import dataclasses

import pytest

from engine.circuit.accord import compare, sentence
from engine.circuit.campaign import key, stale, workbench
from engine.circuit.dictionary import Cell, Dictionary
from engine.library import everything, model
from kb.language import circuit
from tests.circuit.shipped_units import MAINS

TOPOLOGY = "buck-lamp"


@pytest.fixture(scope="module")
def deduced():
    """The buck lamp at 230 V as the rules see it."""
    return model(TOPOLOGY, mains=MAINS[0], having=everything())


def dictionary(made, **outcomes):
    """Readings of one test, in which each fault named shows the outcome given."""
    test = made.test("known-good-socket")
    cells = {fault.replace("_", "-"): Cell(shown, None) for fault, shown in outcomes.items()}
    return Dictionary(
        TOPOLOGY, made.mains, {}, {}, (), {test.id: cells}, {}
    )


def test_agreement_lists_nothing(deduced):
    """A dead joint is dark for both."""
    found = compare(deduced, dictionary(deduced, J1_open="dark", no_fault="lights-well"))
    assert (found.cells, found.disagreements) == (2, ())


def test_a_disagreement_has_both_sides_words(deduced):
    """Test, fault, the rules' outcome with its odds, the circuit's."""
    (one,) = compare(deduced, dictionary(deduced, J1_open="dim")).open
    assert sentence(one).startswith("known-good-socket with J1-open: the rules say dark (")
    assert sentence(one).endswith("the circuit shows dim.")


def test_what_the_circuit_can_t_speak_for_is_argued(deduced):
    """Shorted turns need a switching period, which the averaged converter has not."""
    found = compare(deduced, dictionary(deduced, L2_turns="lights-well"))
    assert found.disagreements[0].argued
    assert found.open == ()


def test_a_simulation_that_did_not_end_is_a_disagreement(deduced):
    """Nothing passes silently."""
    (one,) = compare(deduced, dictionary(deduced, J1_open=None)).open
    assert "no simulation ended" in sentence(one)


def test_the_key_changes_with_circuit_and_samples_and_nothing_else(deduced):
    """Equal circuits have equal keys; another value or another number of samples has not."""
    place = workbench(deduced)
    assert key(place) == key(workbench(deduced))
    assert key(workbench(deduced, 1)) != key(place)
    part = place.nominal.netlist.of("R4")[0].with_parameters({"value": 1.1e6})
    netlist = place.nominal.netlist.with_elements([part])
    changed = dataclasses.replace(place.nominal, netlist=netlist)
    assert key(dataclasses.replace(place, nominal=changed)) != key(place)


def test_readings_that_were_never_derived_are_told(deduced, tmp_path):
    """With the command that derives them."""
    told = stale(deduced, tmp_path)
    assert "never derived" in str(told)
    assert "nextprobe derive buck-lamp --mains 230/50" in str(told)


def test_every_exception_is_argued_and_there_are_few():
    """Each has a sentence, and names one fault of one unit."""
    for topology in circuit.circuits():
        for known in circuit.circuit(topology).beyond:
            assert len(known.says) > 30
            assert "*" not in known.faults
