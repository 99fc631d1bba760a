"""Units that do something else than light: their words, their loads, and what stands across a
switch; each kind of part is one that a stranger's folder brings along."""

from __future__ import annotations

import re

import pytest

from engine.assembly.builder import build
from engine.deduce.composition import Bench
from engine.deduce.deduction import Reasoner
from kb.language import loader
from kb.language.lint import lint
from kb.trouble import TroubleError
from tests.knowledge import services
from tests.knowledge.shop import folder

BENCH = Bench(230.0, 50.0)
LAMP_WORDS = re.compile(r"\b(LEDs?|lights|lit|dims?|glares?|string)\b")


@pytest.fixture(scope="module")
def units(tmp_path_factory):
    own = folder(tmp_path_factory.mktemp("shop"), **services.FILES)
    knowledge = loader.read((own,))
    assert list(lint(knowledge)) == []
    reasoner = Reasoner(knowledge)
    deductions = {name: reasoner.deduce(name, BENCH) for name in services.UNITS}
    return {name: (d, build(d, name, BENCH, "part", None)) for name, d in deductions.items()}


def shown(units, unit, test, fault):
    return units[unit][0].values[test, fault]


@pytest.mark.parametrize("unit", services.UNITS)
def test_nobody_is_asked_about_light(units, unit):
    """But by the bench's own series lamp and test LED, and by the sensor of a light control."""
    _, model = units[unit]
    own = ("fires-", "limiter-glow", "sensor-node-", "light-on-sensor")
    texts = [text for test in model.tests if not test.id.startswith(own)
             for text in (test.says, test.good, *(o.says for o in test.outcomes))]  # fmt: skip
    texts += [caution.says for caution in model.cautions if caution.hazard == "live-led-board"]
    texts += [text for fault in model.faults for text in (fault.says,)]
    texts += [text for proof in model.proofs for text in (proof.says, proof.how)]
    assert [text for text in texts if LAMP_WORDS.search(text)] == []


def test_words_are_those_of_the_duty(units):
    tests = {test.id: test for test in units["fan-control"][1].tests}
    bridged = tests["turn-with-Q1-bridged"]
    assert bridged.says == "With Q1 (triac) bridged, does it turn on limited mains?"
    assert [outcome.id for outcome in bridged.outcomes] == ["turns", "races", "unsteady", "still"]
    proofs = {proof.id: proof for proof in units["fan-control"][1].proofs}
    assert "every speed" in proofs["function"].how


def test_a_gate_is_spoken_of_where_there_is_one(units):
    """A triac's gate is kept from the bridge; a relay's contact has none."""
    fan = next(r for r in units["fan-control"][1].rigs if r.id == "Q1-bridged")
    relay = next(r for r in units["twilight-switch"][1].rigs if r.id == "K1-bridged")
    assert "never to its gate" in fan.how
    assert "gate" not in relay.how


def test_a_switch_that_fires_one_way_passes_half_waves(units):
    assert shown(units, "fan-control", "known-good-outlet", "Q1-half") == "weak"
    assert shown(units, "fan-control", "turn-with-Q1-bridged", "Q1-dead") == "normal"


def test_a_shorted_part_across_a_switch_carries_the_power_past_it(units):
    """By day the relay is off, and the lamp burns through the shorted snubber."""
    shows = {fault: shown(units, "twilight-switch", "light-on-sensor", fault)
             for fault in ("no-fault", "C4-short")}  # fmt: skip
    assert shows == {"no-fault": "none", "C4-short": "normal"}
    assert shown(units, "twilight-switch", "ohms-K1", "C4-short") == "zero"


def test_a_load_behind_a_converter_does_as_it_is_fed(units):
    shows = {fault: shown(units, "fan-drive", "turn-on-limited-mains", fault)
             for fault in ("U1-improper-retries", "C2-open", "U1Q-short", "U1-improper-weak")}
    assert shows == {
        "U1-improper-retries": "pulses", "C2-open": "rough", "U1Q-short": "races",
        "U1-improper-weak": "weak",
    }  # fmt: skip


def test_a_bus_keeps_what_a_reservoir_before_an_open_part_holds(units):
    """The choke between two reservoirs opens: what lies in front of it stays as it was."""
    assert shown(units, "fan-drive", "ripple-TP1", "L2-open") == "normal"
    assert shown(units, "fan-drive", "ripple-TP1", "C1-open") == "rippled"


def test_a_load_outside_is_told_by_a_borrowed_one(units):
    for fault in ("M1-open", "M1-worn", "M1-loose", "M1-short"):
        assert shown(units, "fan-control", "known-good-outlet", fault) != "normal"
        assert shown(units, "fan-control", "good-load-for-M1", fault) == "normal"
    assert shown(units, "fan-control", "good-load-for-M1", "Q1-dead") == "none"
    _, model = units["fan-control"]
    assert next(r for r in model.remedies if r.id == "tell-owner-M1").kind == "outside"


def test_a_relay_is_heard(units):
    """It clicks while its coil is driven, whatever its contact does; on a weak rail it chatters."""
    heard = {fault: shown(units, "twilight-switch", "listen-K1", fault)
             for fault in ("K1-burnt", "K1-coil", "R2-drifted-some", "R7-open", "no-fault")}
    assert heard == {
        "K1-burnt": "clicks", "K1-coil": "silent", "R2-drifted-some": "chatters",
        "R7-open": "silent", "no-fault": "clicks",
    }  # fmt: skip


def test_a_welded_contact_shows_by_day(units):
    assert shown(units, "twilight-switch", "light-on-sensor", "K1-welded") == "normal"
    assert shown(units, "twilight-switch", "light-on-sensor", "no-fault") == "none"


WRONG = [
    ("does: turn", "does: trun", "KB416", "Write 'turn'"),
    ("parallel_to: Q1", "parallel_to: M1", "KB415", "is no part in line"),
    ("parallel_to: Q1", "parallel_to: Q2", "KB415", "Write one of: J1, R1, Q1"),
]


@pytest.mark.parametrize(("before", "after", "code", "words"), WRONG)
def test_what_is_wrong_is_told_at_its_line(tmp_path, before, after, code, words):
    lamp = services.FAN.replace(before, after)
    own = folder(tmp_path / "shop", **{**services.FILES, "fan-control": lamp})
    with pytest.raises(TroubleError) as caught:
        Reasoner(loader.read((own,))).survey("fan-control", BENCH)
    (trouble,) = caught.value.troubles
    assert (trouble.code, trouble.place.line) == (code, 1 + lamp[: lamp.index(after)].count("\n"))
    assert words in str(trouble)
