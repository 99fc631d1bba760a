"""The old hand: does he keep to his order, to what a short forbids, and come to an end?"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine import library
from engine.model import setup
from engine.model.notes import StageNote
from engine.model.records import FaultyPart, Mains, Model, Opening, Rig
from engine.model.shorts import is_live
from engine.readings.belief import prepare
from engine.readings.confusion import Readings
from engine.studies.contest import HinderedUnit, OldHand
from engine.studies.contest.oldhand import Turn
from tests.models import (
    OPENINGS,
    RIGS,
    cold_and_live,
    dense_random,
    simple_test,
    stage_chain,
    tiny_model,
    with_shorts,
)
from tests.safety.shop_models import mistaken

LAMPS = ("light-controlled-lamp", "buck-lamp", "enabled-lamp")
MAINS = {230: Mains(230.0, 50.0), 120: Mains(120.0, 60.0)}


@dataclass(slots=True)
class Logged(HinderedUnit):
    """A unit that keeps what was read, in order, and in which rig."""

    log: list[tuple[str, str, str]] = field(default_factory=list)

    def read(self, test: str, opened: frozenset[str] = frozenset()) -> int:
        told = HinderedUnit.read(self, test, opened)
        self.log.append((test, self.readings.outcomes[test][told], self.state.rig))
        return told


def worked(model: Model, fault: int, seed: int, skips: float = 0.0) -> tuple[Logged, str | None]:
    """A unit with that fault, and what he ends in."""
    made = Readings.of(model)
    unit = Logged(made, fault, np.random.default_rng(seed), setup.start(model), skips=skips)
    return unit, OldHand.of(model, prepare(model))(unit)


def drawn(seed: int) -> Model:
    family = stage_chain if seed % 2 else dense_random
    model = cold_and_live(family(seed, faults=8, tests=12, wrong_verdict_minutes=400.0), seed)
    return mistaken(with_shorts(model, seed), 0.08)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 7))
def test_he_feeds_no_short(seed: int, fault: int) -> None:
    """Nothing on mains or high-voltage DC once a check showed one."""
    model = drawn(seed)
    unit, _ = worked(model, fault, seed, skips=0.1)
    shorted = False
    for test, told, _ in unit.log:
        assert not (shorted and is_live(model, model.test(test)))
        shorted |= model.test(test).outcome(told).short


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 7))
def test_no_check_is_done_twice(seed: int, fault: int) -> None:
    unit, _ = worked(drawn(seed), fault, seed, skips=0.2)
    assert len(unit.log) == len({test for test, _, _ in unit.log})


@pytest.mark.parametrize("volts", MAINS)
@pytest.mark.parametrize("lamp", LAMPS)
def test_every_fault_of_a_shipped_lamp_comes_to_an_end(lamp: str, volts: int) -> None:
    """In a remedy of the model or in none; nothing live after a short, parts behind readings."""
    model = library.model(lamp, mains=MAINS[volts])
    made, hand = Readings.of(model), OldHand.of(model, prepare(model))
    for fault in range(len(made.faults)):
        unit = Logged(made, fault, np.random.default_rng(fault), setup.start(model))
        remedy = hand(unit)
        assert remedy is None or remedy in {one.id for one in model.remedies}
        assert unit.log
        shorted = False
        for test, told, _ in unit.log:
            assert not (shorted and is_live(model, model.test(test)))
            shorted |= model.test(test).outcome(told).short


def lay(lamp: str) -> tuple[Model, OldHand]:
    model = library.model(lamp, mains=MAINS[230])
    return model, OldHand.of(model, prepare(model))


@pytest.mark.parametrize("lamp", LAMPS)
def test_a_part_check_waits_for_every_reading_that_tells(lamp: str) -> None:
    """So no stage is traced before the readings have said which."""
    model, hand = lay(lamp)
    turn = hand.lay.turn
    for test in model.tests:
        if turn[test.id] is Turn.PARTS:
            assert test.on
            assert model.arrangement(test.supply).energy in ("none", "elv")
    names = [test.id for test in model.tests]
    odds = Readings.of(model).prior
    for cut in range(len(names)):
        wanted = names[cut:]
        chosen = hand._next(setup.start(model), odds, wanted)
        assert turn[chosen] is min(turn[name] for name in wanted)


def test_the_turns_of_the_lamp_with_a_thyristor() -> None:
    """Found by structure, as bench practice has them."""
    _, hand = lay("light-controlled-lamp")
    expected = {
        "known-good-socket": Turn.OUTSIDE, "how-is-it-used": Turn.OUTSIDE,
        "ohms-at-contacts": Turn.CONTACTS, "continuity-J1": Turn.CONTACTS,
        "look-leds": Turn.LIGHT, "each-package-LED": Turn.LIGHT, "look-driver": Turn.LOOK,
        "light-with-Q1-bridged": Turn.SPLIT, "light-with-Q1-gate-fed": Turn.SPLIT,
        "volts-TP1": Turn.POWERED, "volts-TP4": Turn.POWERED, "volts-TP2": Turn.POWERED,
        "ohms-R9": Turn.PARTS, "ohms-C1": Turn.PARTS, "fires-Q1": Turn.PARTS,
    }  # fmt: skip
    assert {name: hand.lay.turn[name] for name in expected} == expected


def test_the_power_path_comes_before_what_governs_it() -> None:
    _, hand = lay("light-controlled-lamp")
    order = sorted(hand.lay.along, key=hand.lay.along.__getitem__)
    assert order == ["entry", "rectifier", "switch", "filter", "driver", "leds", "control"]


def two_parts() -> Model:
    """Two parts, and a look at the stage that tells one from the other for sure."""
    tests = (
        replace(simple_test("look", opened=("cap",)), on="stage"),
        replace(simple_test("ohms-a", opened=("cap",)), on="a"),
        replace(simple_test("ohms-b", opened=("cap",)), on="b"),
        replace(simple_test("read", supply="limited"), point=""),
    )
    rows = {
        "look": {"a": "bad", "b": "good"},
        "ohms-a": {"a": "bad", "b": "good"},
        "ohms-b": {"a": "good", "b": "bad"},
        "read": {"a": "bad", "b": "good"},
    }
    model = tiny_model(
        {"a": 0.5, "b": 0.5}, tests, rows, openings=OPENINGS, rigs=RIGS, wrong_verdict_minutes=400.0
    )
    faults = tuple(replace(f, parts=(FaultyPart(f.id, "open"),)) for f in model.faults)
    stages = (StageNote("stage", "a stage", ("next",), parts=("a", "b")), StageNote("next", "next"))
    return replace(model, faults=faults, stages=stages)


@pytest.mark.parametrize("fault", [0, 1])
def test_a_part_is_measured_before_it_is_renewed(fault: int) -> None:
    """A reading that singles it out is not enough."""
    model = two_parts()
    only = tuple(test for test in model.tests if test.id != "look")
    unit, remedy = worked(replace(model, tests=only), fault, 0)
    name = "ab"[fault]
    assert remedy == f"mend-{name}"
    assert [test for test, _, _ in unit.log] == ["read", f"ohms-{name}"]


def test_a_part_that_was_seen_to_be_bad_is_not_measured_again() -> None:
    """A look that singles out the stage is a check of its own."""
    model = two_parts()
    only = tuple(test for test in model.tests if test.id != "read")
    unit, _ = worked(replace(model, tests=only), 0, 0)
    assert [test for test, _, _ in unit.log] == ["look"]


def points(together: bool) -> Model:
    """Three points in a row: each on a lead and read with one rig, or each with its own rig."""
    names = ("p1", "p2", "p3")
    tests = [
        simple_test(
            f"volts-{n}", supply="limited", rig="meter" if together else f"at-{n}",
            opened=(f"lead-{n}",) if together else (),
        )
        for n in names
    ]  # fmt: skip
    faults = ("s0", "s1", "s2", "s3")
    rows = {
        f"volts-{n}": {f: "bad" if at <= p else "good" for at, f in enumerate(faults)}
        for p, n in enumerate(names)
    }
    rigs = (RIGS[0], *(Rig(f"at-{n}", 1.0, True) for n in names), Rig("meter", 1.0, True))
    leads = tuple(Opening(f"lead-{n}", 0.5, (), kind="lead", of=n) for n in names)
    return tiny_model(
        dict.fromkeys(faults, 1.0), tests, rows, rigs=rigs, openings=leads,
        wrong_verdict_minutes=400.0,
    )  # fmt: skip


def test_points_are_brought_out_at_once_where_one_rig_reads_their_leads() -> None:
    """One powered turn; where each needs a rig of its own, a turn for each."""
    apart, _ = worked(points(together=False), 3, 0)
    together, _ = worked(points(together=True), 3, 0)
    assert {rig for _, _, rig in together.log} == {"meter"}
    assert len(together.log) > 1
    assert together.minutes < apart.minutes
    assert len(together.state.opened) == 3


@pytest.mark.parametrize("lamp", LAMPS)
def test_a_sound_unit_is_not_opened(lamp: str) -> None:
    """Nothing misread: all that can be seen from outside is as it should be."""
    model, _ = lay(lamp)
    plain = replace(model, tests=tuple(replace(test, misread={}) for test in model.tests))
    sound = Readings.of(plain).faults.index("no-fault")
    for seed in range(5):
        unit, remedy = worked(plain, sound, seed)
        assert remedy is not None
        assert plain.remedy(remedy).kind in ("none", "outside")
        assert unit.state.opened == frozenset()
