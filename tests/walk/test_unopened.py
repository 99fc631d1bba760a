"""Is a lamp that nobody has opened led to what it is, and is nothing asked twice?"""

from __future__ import annotations

import math
from collections.abc import Mapping

import pytest

from engine import library, safetygate
from engine.audit import audit
from engine.chart import drawing
from engine.model.plan import Plan
from engine.model.records import Mains, Model, document
from engine.planner import plan
from engine.walk import handover, job
from engine.walk.ending import conclude
from engine.walk.entry import admit
from engine.walk.events import Answered, Away, CannotDo, Measured
from engine.walk.job import Outset, Setting, Walk
from kb.language import loader

MAINS = Mains(230.0, 50.0)
LAMP = "unknown-lamp"
SETTLED = loader.as_shipped().unopened[LAMP].settled
BY_A_CAP = {
    "see-contacts": "cap", "see-window": "for-light", "see-what-it-does": "at-dusk",
    "known-good-socket": "dark", "see-big-can": "high-volts", "see-weight": "usual",
}  # fmt: skip
BY_A_CORD = {
    "see-contacts": "cord", "see-block": "no-block", "see-what-it-does": "when-switched",
    "see-wires": "two", "cord-and-switch": "with-switch", "good-bulb": "dark",
}  # fmt: skip


def quick(model: Model, /, **brief: object) -> Plan:
    """The best plan of a tenth of a second, held to the laws of safety."""
    return plan(model, seconds=0.1, **brief)  # type: ignore[arg-type]


PLANNER = safetygate.guard(quick)


@pytest.fixture(scope="module")
def lamp() -> Model:
    """The unopened lamp, for any complaint."""
    return library.model(LAMP, mains=MAINS)


def follow(model: Model, answers: Mapping[str, str], volts: float = 3.0) -> Walk:
    """The walk by these answers, others being don't know, until its unit is known or it ends."""
    walk = job.begin(Outset(model), PLANNER)
    while handover.topology_of(walk, SETTLED) is None:
        ahead = job.pending(walk)
        if isinstance(ahead, Setting):
            walk = job.take(walk, ahead.arrival({s.part: volts for s in ahead.make_safe}))
        elif isinstance(ahead, job.Question):
            answer = answers.get(ahead.test)
            event = CannotDo(ahead.test) if answer is None else Answered(ahead.test, answer)
            walk = job.take(walk, event)
        else:
            break
    return walk


def test_most_lamps_are_weighed_as_failed_outside_their_electronics(lamp: Model) -> None:
    """As the counts have it, and all of them tell where they are from."""
    outside = [s for s in lamp.shares if s.family in loader.as_shipped().outer]
    assert math.isclose(math.fsum(s.middle for s in lamp.shares), 1.0)
    assert 0.85 < math.fsum(s.middle for s in outside) < 0.92
    assert all("Open Repair" in voice.source for s in lamp.shares for voice in s.voices)


def test_every_row_of_odds_sums_to_one(lamp: Model) -> None:
    """Whatever a fault is silent about."""
    for test in lamp.tests:
        for fault in lamp.faults:
            assert math.isclose(math.fsum(lamp.row(test.id, fault.id).values()), 1.0), test.id


def test_its_ends_are_verdicts_or_connectors_to_topologies(lamp: Model) -> None:
    """One connector for each, which stands for all that goes on there."""
    connectors = [r for r in lamp.remedies if r.kind == "connector"]
    topologies = {lamp.fault(r.cures[0]).stage for r in connectors}
    assert topologies == set(loader.as_shipped().appearances)
    for remedy in connectors:
        stage = lamp.fault(remedy.cures[0]).stage
        assert set(remedy.cures) == {f.id for f in lamp.faults if f.stage == stage}


def test_its_chart_audits_clean_and_is_bounded(lamp: Model) -> None:
    """On every path; the plan is proved, or its bound is told."""
    tree = plan(lamp, seconds=2.0)
    assert not audit(document(lamp), drawing.document(drawing.draw_up(lamp, tree)))
    assert 0 < tree.proof.lower_bound <= tree.proof.expected_cost + 1e-9


def test_a_cap_and_a_window_lead_to_the_lamp_that_they_belong_to(lamp: Model) -> None:
    """And what its build shows tells which."""
    walk = follow(lamp, BY_A_CAP)
    assert handover.topology_of(walk, SETTLED) == "light-controlled-lamp"
    other = follow(lamp, {**BY_A_CAP, "see-big-can": "low-volts", "see-chips": "two-chips"})
    assert handover.topology_of(other, SETTLED) == "enabled-lamp"


@pytest.mark.parametrize(
    ("build", "topology"),
    [
        (("usual", "high-volts", "one-coil", "one-chip", "no-film"), "buck-lamp"),
        (("feather", "low-volts", "no-coil", "no-chip", "in-line"), "capacitor-dropper-lamp"),
    ],
)
def test_a_plain_cap_is_told_by_its_build(
    lamp: Model, build: tuple[str, ...], topology: str
) -> None:
    """Three topologies look the same from outside."""
    seen = {**BY_A_CAP, "see-window": "no-window", "see-what-it-does": "when-switched"}
    looks = ("see-weight", "see-big-can", "see-coil", "see-chips", "see-film-block")
    seen |= {"see-boards": "two-boards", **dict(zip(looks, build, strict=True))}
    walk = follow(lamp, seen)
    assert handover.topology_of(walk, SETTLED) == topology


def test_a_cord_leads_to_a_verdict_outside_the_electronics(lamp: Model) -> None:
    """No topology is gone on in: the unit is never opened."""
    walk = follow(lamp, BY_A_CORD)
    assert handover.topology_of(walk, SETTLED) is None
    assert conclude(walk).remedy.id == "see-to-switch"
    assert not walk.bench.opened
    assert "insulation" in conclude(walk).remedy.proofs


def test_a_lamp_that_nobody_can_say_anything_of_still_ends(lamp: Model) -> None:
    """Don't know is an answer to everything."""
    walk = follow(lamp, {})
    assert walk.is_ended or handover.topology_of(walk, SETTLED) is not None


@pytest.fixture(scope="module")
def carried(lamp: Model) -> tuple[Walk, Walk]:
    """A lamp walked to its topology, and the walk there."""
    before = follow(lamp, BY_A_CAP)
    member = library.model("light-controlled-lamp", mains=MAINS)
    outset = Outset(member, minutes_before=handover.minutes_before(before))
    return before, handover.carry(before, job.begin(outset, PLANNER))


def test_nothing_is_asked_twice(carried: tuple[Walk, Walk]) -> None:
    """What was answered is known there, and counts by its own rows."""
    before, there = carried
    own = {test.id for test in there.model.tests}
    answers = {test for test, _ in before.answers if test in own}
    assert answers == there.done
    assert before.withdrawn & own <= there.withdrawn


def test_what_was_opened_is_open_and_was_measured(carried: tuple[Walk, Walk]) -> None:
    """Each store in sight by the highest reading of those with it."""
    before, there = carried
    assert before.bench.opened == there.bench.opened == {"diffuser", "led-board", "driver-board"}
    measured = [store for step in there.steps for store in step.measured]
    assert sorted(measured, key=lambda s: s.part) == [Measured("C1", 3.0), Measured("C4", 3.0)]
    assert there.low_stores == {"C1", "C4"}


def test_minutes_of_looks_count_on(carried: tuple[Walk, Walk]) -> None:
    """Beside those of the topology's own openings; openings are not told twice."""
    before, there = carried
    looks = sum(step.minutes for step in before.steps if step.kind == "test")
    own = sum(step.minutes for step in there.steps)
    assert looks > 0
    assert math.isclose(there.minutes, own + looks + sum(
        step.minutes for step in before.steps if step.kind == "setup" and not step.opened
    ))  # fmt: skip


def test_a_bench_that_was_left_is_measured_again(carried: tuple[Walk, Walk]) -> None:
    """Nobody knows what the unit holds by then, whatever it turned out to be."""
    before, there = carried
    left = handover.carry(
        job.take(before, Away()), job.begin(Outset(there.model), PLANNER)
    )  # fmt: skip
    assert left.unsettled
    assert not left.low_stores


def test_after_a_bang_the_lamp_stays_cold_until_a_short_is_excluded() -> None:
    """Before anything is energised or the owner is asked."""
    lamp = library.model(LAMP, mains=MAINS, complaint="died-with-flash")
    assert {t.supply for t in lamp.tests} == {"unplugged"}
    assert all("cold-checks" in test.opened for test in lamp.tests)
    asked = [test for test in lamp.tests if test.id == "see-how-it-died"]
    assert any(need.strict for test in asked for need in test.requires)
    chart = drawing.document(drawing.draw_up(lamp, plan(lamp, seconds=0.5)))
    assert not audit(document(lamp), chart)


def test_several_complaints_weigh_together() -> None:
    """Each sentence says something of a fault, and both say more."""
    of = {c: library.model("buck-lamp", mains=MAINS, complaint=c)
          for c in (None, "dim", "hum-buzz", "dim+hum-buzz")}  # fmt: skip
    flat = "no-fault"

    def likelier(complaint: str | None, fault: str) -> float:
        model = of[complaint]
        return model.fault(fault).prior / model.fault(flat).prior

    for fault in of[None].faults:
        usual = likelier(None, fault.id)
        both = likelier("dim", fault.id) * likelier("hum-buzz", fault.id) / usual
        assert math.isclose(likelier("dim+hum-buzz", fault.id), both, rel_tol=1e-9), fault.id


def test_one_of_several_complaints_brings_its_question_up() -> None:
    """A trip among them is asked about."""
    model = library.model("buck-lamp", mains=MAINS, complaint="dim+trips-protection")
    left = {question.id for question in admit(model, {}).unanswered}
    assert "insulation-before-energising" in left


def test_its_faults_say_where_their_shares_come_from(lamp: Model) -> None:
    """With the attribution that the data ask for: charts print the sources of their faults."""
    outer = [fault for fault in lamp.faults if fault.id in loader.as_shipped().outer]
    for fault in outer:
        sources = " ".join(because.source for because in fault.because)
        assert "Open Repair Alliance" in sources
        assert "CC BY-SA 4.0" in sources
