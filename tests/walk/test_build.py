"""How the unit is built narrows its designs: whenever it is told, for all readings, taken back."""

from __future__ import annotations

import copy
import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from engine import library
from engine.audit import audit_walk
from engine.circuit import dictionary
from engine.evidence import load_witness, witness
from engine.model.records import Mains, document
from engine.planner import plan
from engine.readings import bands
from engine.walk import fitting, job, record, undo
from engine.walk.events import Event, Fitted, Known, NotFitted, OfKind
from engine.walk.job import Outset, Walk
from kb.language import circuit
from kb.trouble import TroubleError
from tests.sampled_rail import rail_model, rail_readings
from tests.words.cli import Desk

LAMP, MAINS = "light-controlled-lamp", Mains(230.0, 50.0)
NUMBERS = (("volts-TP1", "205 V"), ("ohms-C2", "11.6 kΩ"), ("volts-TP2", "3.6 V"))


@pytest.fixture(scope="module")
def begun() -> Walk:
    """The lamp before its first question, its readings weighed by the sampled designs."""
    model = library.model(LAMP, mains=MAINS, complaint="never-lights")
    return job.begin(
        Outset(model, witness=load_witness(model)),
        lambda model, /, **brief: plan(model, seconds=0.02, **brief),
    )


def read(walk: Walk, numbers: Sequence[tuple[str, str]] = NUMBERS) -> Walk:
    """The walk with these readings."""
    for name, text in numbers:
        test = walk.model.test(name)
        answer = bands.read(text, test, walk.model.arrangement(test.supply))
        shares = answer.shares if answer.straddles else ()
        walk = job.take(walk, Known(name, answer.outcome, text, shares))
    return walk


def held_by(walk: Walk, part: str) -> float:
    """The odds of the sampled designs that have a part, of all that are sampled."""
    designs = walk.joint.designs(walk.history)
    dictionary = walk.joint.witness.dictionary
    assert dictionary is not None
    odds = np.array([walk.belief[fault.id] for fault in walk.model.faults]) @ designs
    has = np.array([part not in unit.absent for unit in dictionary.units])
    return float(odds[1:-1][has].sum() / odds[1:-1].sum())


EVENTS: tuple[Event, ...] = (NotFitted("L1"), Fitted("R6"), OfKind("C2", "electrolytic"))


@pytest.mark.parametrize("event", EVENTS)
def test_it_is_one_fact_whenever_it_is_told(begun: Walk, event: Event) -> None:
    """Before the readings, between them, after them: the same belief, by Bayes' rule."""
    first = read(job.take(begun, event))
    between = read(job.take(read(begun, NUMBERS[:2]), event), NUMBERS[2:])
    last = job.take(read(begun), event)
    for fault, odds in first.belief.items():
        assert between.belief[fault] == pytest.approx(odds, rel=1e-9, abs=1e-15)
        assert last.belief[fault] == pytest.approx(odds, rel=1e-9, abs=1e-15)


@pytest.mark.parametrize("event", EVENTS)
def test_it_changes_what_readings_say(begun: Walk, event: Event) -> None:
    """Beyond the faults of the part itself."""
    told, heard = read(job.take(begun, event)), read(begun)
    assert max(abs(told.belief[f] - heard.belief[f]) for f in told.suspects) > 1e-3


def test_designs_without_the_part_go_or_stay_alone(begun: Walk) -> None:
    """Half of the sampled lamps have no choke; after it is told which, hardly any other is left."""
    assert 0.1 < held_by(begun, "L1") < 0.9
    assert held_by(job.take(begun, NotFitted("L1")), "L1") < 0.01
    assert held_by(job.take(begun, Fitted("L1")), "L1") > 0.99


def test_a_kind_that_no_design_names_is_the_listed_one(begun: Walk) -> None:
    """Ceramic is what the topology lists; all designs with an electrolytic there go."""
    listed, other = fitting.kinds(begun, "C2")
    assert (listed, other) == ("ceramic-capacitor", "electrolytic")
    made = begun.joint.witness.dictionary
    assert made is not None
    for kind, has in ((listed, False), (other, True)):
        weights = job.take(begun, OfKind("C2", kind)).joint.witness.make.weights
        kept = {"C2" in u.kinds for u, w in zip(made.units, weights, strict=True) if w > 0}
        assert kept == {has}


def test_a_part_that_every_design_has_makes_an_unlisted_one_likelier(begun: Walk) -> None:
    """As a marking near no design's does."""
    assert begun.joint.prior[-1] < 0.2
    assert job.take(begun, NotFitted("R2")).joint.prior[-1] == 0.5
    assert job.take(begun, Fitted("R2")).joint.prior[-1] < 0.2


@pytest.mark.parametrize(
    ("event", "code"),
    [
        (OfKind("C1", "ceramic-capacitor"), "WK138"), (OfKind("C2", "zener"), "WK138"),
        (Fitted("R77"), "WK136"), (NotFitted("R77"), "WK136"),
    ],
)  # fmt: skip
def test_what_no_design_is_built_like_is_refused(begun: Walk, event: Event, code: str) -> None:
    with pytest.raises(TroubleError, match=code):
        job.take(begun, event)


@pytest.mark.parametrize("event", EVENTS)
def test_it_can_be_taken_back_and_told_again(begun: Walk, event: Event) -> None:
    told = job.take(read(begun, NUMBERS[:1]), event)
    back = undo.undo(told)
    assert back.own_joint is None
    assert back.belief == read(begun, NUMBERS[:1]).belief
    again = job.replay(told.outset, told.events, told.planner)
    assert again.belief == told.belief
    assert record.reopen(record.document(told), "walk").events == told.events


@pytest.mark.parametrize(
    ("words", "event"),
    [
        ("L1=none", NotFitted("L1")), ("L1 = not fitted", NotFitted("L1")),
        ("L1=fitted", Fitted("L1")), ("C2=Electrolytic", OfKind("C2", "electrolytic")),
        ("C2=ceramic", OfKind("C2", "ceramic-capacitor")),
        ("C2=ceramic capacitor", OfKind("C2", "ceramic-capacitor")),
    ],
)  # fmt: skip
def test_words_are_understood(begun: Walk, words: str, event: Event) -> None:
    assert fitting.is_build(words)
    assert fitting.build_event(begun, words) == event


@pytest.mark.parametrize("words", ["R2=330k", "volts-TP2=4.6V", "R2", "R2=", "ohms-R1=OL"])
def test_values_and_readings_are_left_to_others(words: str) -> None:
    assert not fitting.is_build(words)


@pytest.fixture(scope="module")
def audited(begun: Walk) -> tuple[dict[str, Any], dict[str, Any], dict[str, Any]]:
    """A walk with all three, readings before, between and after: model, walk, readings."""
    walk = read(begun, NUMBERS[:1])
    for event, numbers in zip(EVENTS, (NUMBERS[1:2], NUMBERS[2:], ()), strict=True):
        walk = read(job.take(walk, event), numbers)
    file = dictionary.path(LAMP, MAINS)
    plain = json.loads(json.dumps(record.document(walk)))
    return document(walk.model), plain, json.loads(file.read_text(encoding="utf-8"))


def codes(model: dict[str, Any], walk: dict[str, Any], readings: dict[str, Any]) -> set[str]:
    """Breaches but for the verdict, which a walk under way has not reached."""
    data = circuit.circuit_of(model["topology"])
    beyond = [
        {"faults": b.faults, "tests": b.tests}
        for b in (data.beyond if data is not None else ())
        if not b.heeded
    ]
    return {breach.code for breach in audit_walk(model, walk, readings, beyond)} - {"AU404"}


def test_the_audit_comes_to_the_same_by_itself(audited: Any) -> None:
    """Factors of what is told of the build, and of readings before and after it."""
    assert codes(*audited) == set()


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], ...]:
    """As `audited`, on an invented rail of four designs; one lacks R2, one has another kind."""
    made, model = rail_readings(), rail_model()
    units = (
        *made.units[:2], replace(made.units[2], kinds={"R2": "film-resistor"}),
        replace(made.units[3], values={}, absent=frozenset({"R2"})),
    )  # fmt: skip
    folder = tmp_path_factory.mktemp("readings")
    file = dictionary.write(replace(made, units=units), folder)
    heard = witness(model, dictionary.read(model.topology, model.mains, folder))
    walk = job.take(job.begin(Outset(model, witness=heard), plan), Known("rail", "low", "3.7 V"))
    for event in (Fitted("R2"), OfKind("R2", "film-resistor"), NotFitted("R2")):
        walk = job.take(walk, event)
    walk = job.take(walk, Known("feed", "above", "1.2 MΩ"))
    plain = json.loads(json.dumps(record.document(walk)))
    return document(model), plain, json.loads(file.read_text(encoding="utf-8"))


def test_a_small_walk_is_clean(small: Any) -> None:
    assert codes(*small) == set()
    assert [step["kind"] for step in small[1]["steps"]] == [
        "known", "fitted", "of-kind", "not-fitted", "known"
    ]  # fmt: skip


@pytest.mark.parametrize("kind", ["not-fitted", "fitted", "of-kind"])
def test_another_part_or_factor_is_seen(small: Any, kind: str) -> None:
    """A factor, the part itself, or no factors at all."""
    model, walk, readings = small
    number = next(n for n, step in enumerate(walk["steps"]) if step["kind"] == kind)
    least = min(walk["steps"][number]["factors"].items(), key=lambda pair: pair[1])[0]
    changed = copy.deepcopy(walk)
    changed["steps"][number]["factors"][least] *= 0.9
    assert "AU407" in codes(model, changed, readings)
    changed = copy.deepcopy(walk)
    changed["steps"][number]["part"] = "R3"
    assert "AU407" in codes(model, changed, readings)
    changed = copy.deepcopy(walk)
    changed["steps"][number]["factors"][least] = 0.0
    assert "AU406" in codes(model, changed, readings)
    del changed["steps"][number]["factors"]
    assert "AU406" in codes(model, changed, readings)


def test_the_command_line_begins_with_what_it_is_told(desk: Desk) -> None:
    """As events, each once: a saved walk that is told the same again stays as it was."""
    (desk.folder / "answers.yaml").write_text("known-good-socket: dark\n", encoding="utf-8")
    unit = (LAMP, "--value", "L1=none", "--value", "C2=electrolytic", "--value", "R9=1.8")
    ran = desk.run("walk", *unit, "--answers", "answers.yaml", "--time", "0.1", "--json")
    assert ran.code == 0, ran.err
    told = json.loads(ran.out)
    assert told["events"][:2] == [
        {"event": "not-fitted", "part": "L1"},
        {"event": "of-kind", "part": "C2", "part_kind": "electrolytic"},
    ]
    assert told["options"]["values"] == "R9=1.8"
    (desk.folder / "walk.json").write_text(ran.out, encoding="utf-8")
    again = desk.run(
        "walk", "--from", "walk.json", "--value", "L1=none", "--answers", "answers.yaml", "--time",
        "0.1", "--json",
    )  # fmt: skip
    assert again.code == 0, again.err
    assert [e["event"] for e in json.loads(again.out)["events"]].count("not-fitted") == 1


def test_a_part_that_is_not_there_can_be_typed(desk: Desk) -> None:
    """Behind known, at any question; what is no such part gets a sentence."""
    typed = "no\nno\nno\nyes\nno\nknown L1=none\nknown C1=ceramic\nstop\n"
    ran = desk.run("walk", LAMP, "--complaint", "never-lights", "--time", "0.1", typed=typed)
    assert "Noted: L1=none." in ran.out
    assert "Nothing here hangs on C1's kind" in ran.out
