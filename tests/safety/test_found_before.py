"""What was found unsafe once, each by its name, walked again under the eyes of the witness.

Each of these sent hands to what may be charged or live, or a unit to where it must not go.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from copy import copy, deepcopy
from functools import cache, partial
from typing import Any

import pytest

from engine import library
from engine.model.plan import Planner
from engine.model.records import Model
from engine.planner import plan
from engine.walk import entry, events, job, record, undo
from engine.walk.ending import conclude
from engine.walk.state import Walk
from kb.trouble import TroubleError
from tests.safety.fuzz_walk import Unit, handmade, outset_of, shipped
from tests.safety.random_planner import RandomPlanner
from tests.safety.witness_law import Breach
from tests.safety.witness_walk import Witness, kind_of

QUICK: Planner = partial(plan, seconds=0.0, effort=5e7)
TOPOLOGIES = [topology.id for topology in library.topologies()]
TRIPPED = "breaker or RCD tripped"

Volts = Callable[[str], float | None]


class Watched:
    """A walk and its witness; each pending step is seen before anything is done."""

    def __init__(self, unit: Unit, planner: Planner) -> None:
        self.unit, self.planner = unit, planner
        self.walk: Walk = job.begin(outset_of(unit)[0], planner)
        self.witness = Witness(unit.document)
        self.breaches: list[Breach] = []

    def another(self) -> Watched:
        """The same walk with a bench and a list of its own, to go another way."""
        other = copy(self)
        other.witness, other.breaches = deepcopy(self.witness), []
        return other

    def ahead(self) -> Any:
        """What the walk asks for now, judged."""
        ahead = job.pending(self.walk)
        ending = conclude(self.walk) if ahead is None else None
        self.breaches += self.witness.sees(ahead, ending)
        return ahead

    def take(self, event: Any) -> None:
        """One more event, of words."""
        self.walk = job.take(self.walk, event)
        self.witness.reads(self.walk.events)

    def set_up(self, volts: Volts = lambda part: 0.0) -> Any:
        """Carries out set-ups until something else is asked for; that."""
        while kind_of(ahead := self.ahead()) == "setting":
            read = {store.part: volts(store.part) for store in ahead.make_safe}
            low = all(v is not None and abs(v) < 30 for v in read.values())
            event = ahead.event if low and not hasattr(ahead, "arrival") else ahead.arrival(read)
            charged = any(v is not None and abs(v) >= 30 for v in read.values())
            if charged:  # the step is not done: it must be refused, and stays due
                with pytest.raises(TroubleError):
                    job.take(self.walk, event)
                return self.ahead()
            if not self._arrive(event, ahead):
                return None
            if not low:
                return self.ahead()
        return ahead

    def _arrive(self, event: Any, setting: Any) -> bool:
        """Whether the walk takes what it asked for."""
        try:
            self.walk = job.take(self.walk, event)
        except TroubleError as refusal:
            self.breaches.append(Breach("asks-and-refuses", str(event), str(refusal)))
            return False
        self.witness.arrives(event, setting)
        return True

    def finish(self, steps: int = 12, chance: random.Random | None = None) -> None:
        """Answers as one faulty unit does, up to a number of answers or the verdict."""
        suspects = [fault for fault, odds in self.walk.belief.items() if odds > 0]
        fault = (chance or random.Random(1)).choice(suspects)
        for _ in range(steps):
            ahead = self.set_up()
            if kind_of(ahead) != "question":
                return
            row = self.unit.model.row(ahead.test, fault)
            self.take(events.Answered(ahead.test, max(row, key=lambda o: row[o])))

    def kinds(self) -> set[str]:
        """The kinds of breaches seen."""
        return {breach.kind for breach in self.breaches}


def inside_tests(model: Model) -> Iterator[tuple[str, str]]:
    """Tests for which the unit is opened, with each of their outcomes."""
    for test in model.tests:
        if test.opened:
            yield from ((test.id, outcome.id) for outcome in test.outcomes)


def known_then_cannot(unit: Unit, planner: Planner, test: str, outcome: str) -> Watched:
    """Something inside is known; where the walk wants to see for itself, it can't be done."""
    seen = Watched(unit, planner)
    seen.take(events.Known(test, outcome))
    ahead = seen.set_up()
    if kind_of(ahead) == "question":
        seen.take(events.CannotDo(ahead.test))
    seen.finish(1)
    return seen


def test_opened_unit_is_not_sent_to_normal_mains_after_known_and_cannot() -> None:
    """`known ohms-R1 open`, the unit is opened to confirm it, `can't`: then normal mains."""
    unit = shipped("light-controlled-lamp", 0, "part", None)
    seen = known_then_cannot(unit, QUICK, "ohms-R1", "open")
    assert seen.breaches == []


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_no_first_step_sends_an_opened_unit_to_normal_mains(topology: str) -> None:
    """Each inside test with each outcome, whatever is planned around it."""
    unit, found = shipped(topology, 0, "part", None), []
    for seed, (test, outcome) in enumerate(inside_tests(unit.model)):
        found += known_then_cannot(unit, RandomPlanner(seed, 2), test, outcome).breaches
    assert found == []


def opened_wide(seed: int) -> Watched:
    """A walk of a unit made by hand, just before the set-up that first asks for a store."""
    for shift in range(0, 4000, 97):
        seen = Watched(handmade(seed + shift), RandomPlanner(seed))
        for _ in range(8):
            ahead = seen.ahead()
            if kind_of(ahead) == "setting" and ahead.make_safe:
                return seen
            if kind_of(ahead) == "setting":
                seen.walk = job.take(seen.walk, ahead.event)
                seen.witness.arrives(ahead.event, ahead)
            elif kind_of(ahead) == "question":
                seen.take(events.CannotDo(ahead.test))
            else:
                break
    raise AssertionError("no unit asks for a store")


@pytest.mark.parametrize("seed", range(10))
def test_gate_is_not_passed_by_one_letter(seed: int) -> None:
    """Out of reach: an opening that exposes it is the way on, or stop; saved and reopened too."""
    seen = opened_wide(seed)
    ahead = seen.set_up(lambda part: None)
    assert kind_of(ahead) in ("halt", "setting")
    assert seen.breaches == []
    saved = json.loads(json.dumps(record.document(seen.walk)))
    read = record.reopen(saved, "walk.json")
    seen.walk = job.replay(seen.walk.outset, read.events, seen.planner)
    assert kind_of(seen.ahead()) == kind_of(ahead)
    assert seen.breaches == []


@pytest.mark.parametrize("seed", range(10))
def test_a_store_that_does_not_fall_is_asked_for_again(seed: int) -> None:
    """Measured and still charged: bled and measured again, or stop; nothing else is asked for."""
    seen = opened_wide(seed)
    ahead = seen.set_up(lambda part: 120.0)
    assert kind_of(ahead) in ("halt", "setting")
    assert seen.breaches == []


@cache
def at_a_verdict(seed: int) -> Watched:
    """A walk that has come to its verdict on an opened unit."""
    unit = shipped(TOPOLOGIES[seed % len(TOPOLOGIES)], 0, "part", None)
    for shift in range(0, 4000, 97):
        seen = Watched(unit, QUICK)
        seen.finish(30, random.Random(seed + shift))
        if seen.ahead() is None and seen.witness.law.exposed(seen.witness.opened):
            return seen
    raise AssertionError("no walk comes to a verdict on an opened unit")


def after_a_verdict(seed: int, act: Callable[[Watched], None]) -> Watched:
    """The act at a verdict, and what is asked for after it."""
    seen = at_a_verdict(seed).another()
    act(seen)
    seen.witness.goes_on_after_verdict()
    seen.ahead()
    return seen


def unmend(seen: Watched) -> None:
    """The repair was carried out, the unit powered for its first proof: still the same."""
    verdict = seen.walk.plan.nodes[seen.walk.node]
    arrangement = seen.unit.model.arrangement(seen.walk.bench.supply)
    if arrangement.energy != "none" and not hasattr(events, "Away"):
        unplug = events.Arrived(
            tuple(sorted(seen.walk.bench.opened)), seen.unit.model.dead_supply, seen.walk.bench.rig
        )
        seen.walk = job.take(seen.walk, unplug)
    seen.take(events.Unmended(getattr(verdict, "remedy", "")))


def unmend_then_undo(seen: Watched) -> None:
    """Still the same, the make-safe broken off, then taken back."""
    unmend(seen)
    seen.walk = undo.undo(seen.walk)


def undo_twice(seen: Watched) -> None:
    """Two answers taken back at the verdict."""
    seen.walk = undo.undo(undo.undo(seen.walk))


def know_more(seen: Watched) -> None:
    """Something more is known at the verdict."""
    left = [t for t in seen.unit.model.tests if t.id not in seen.walk.done | seen.walk.withdrawn]
    likeliest = max(seen.walk.belief, key=lambda fault: seen.walk.belief[fault])
    row = seen.unit.model.row(left[-1].id, likeliest)
    seen.take(events.Known(left[-1].id, max(row, key=lambda o: row[o])))


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(
    "act", [unmend, unmend_then_undo, undo_twice, know_more], ids=lambda act: act.__name__
)
def test_no_hands_after_an_energised_proof(act: Callable[[Watched], None], seed: int) -> None:
    """The person has repaired and powered the unit: it is unplugged and measured first."""
    assert after_a_verdict(seed, act).breaches == []


@pytest.mark.parametrize("complaint", ["dim", "never-lights", "some-dark"])
@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_a_trip_is_asked_for_its_insulation_whatever_is_complained_of(
    topology: str, complaint: str
) -> None:
    """A breaker or RCD that tripped, said at the entry check with another complaint named."""
    tripped = shipped(topology, 0, "stage", "trips-protection").model
    unit = shipped(topology, 0, "stage", complaint)
    asked = {question.id: question for question in unit.model.entry}
    trip = next(q.id for q in tripped.entry if TRIPPED in q.answers)
    insulation = next(q for q in tripped.entry if q.id.startswith("insulation"))
    assert insulation.id in asked, "the insulation question is never put"
    after = getattr(asked[insulation.id], "after", {})
    assert TRIPPED in after[trip]
    for answer, follows in insulation.answers.items():
        told = {trip: TRIPPED, insulation.id: answer}
        admission = entry.admit(unit.model, told)
        if follows in ("scrap", "refuse"):
            assert not admission.is_admitted
        elif follows == "cold-only":
            energised = {a.id for a in unit.model.supply.arrangements if a.energy == "mains"}
            assert energised <= entry.barred_supplies(unit.model, admission)


def shorts(unit: Unit) -> list[tuple[str, str]]:
    """The outcomes of cold checks that show a short in the power path."""
    return sorted(Witness(unit.document).law.shorts)


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_what_was_found_shorted_is_not_energised(topology: str) -> None:
    """A short found cold used to be energised to choose between two parts."""
    unit = shipped(topology, 0, "part", None)
    assert shorts(unit), "no cold check says that it shows a short"
    energised = []
    for number, (test, outcome) in enumerate(shorts(unit)):
        for planner in (QUICK, RandomPlanner(number, 4), RandomPlanner(number, 4, heedless=True)):
            seen = Watched(unit, planner)
            seen.take(events.Known(test, outcome))
            seen.finish()
            energised += [b for b in seen.breaches if b.kind == "short-energised"]
    assert energised == []


@pytest.mark.parametrize("seed", range(30))
def test_a_short_of_a_unit_made_by_hand_is_not_energised(seed: int) -> None:
    """Even where the plan has mains behind the short."""
    unit = handmade(seed)
    for test, outcome in shorts(unit):
        seen = Watched(unit, RandomPlanner(seed, 4, heedless=True))
        row = {f.id: unit.model.row(test, f.id).get(outcome, 0) for f in unit.model.faults}
        if not any(row.values()):
            continue
        seen.take(events.Known(test, outcome))
        seen.finish()
        assert "short-energised" not in seen.kinds()
