"""The law of stored charge, clause by clause: as set-ups are planned, in charts, and in walks.

Each clause has a test that fails where the clause is taken out. Units are invented; the limit is
the stricter bare-part limit of IEC 60598-1 cl. 8.2.3, 30 V DC; the order of the hands is common
practice.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import replace

import pytest

from engine.audit import audit, audit_walk
from engine.chart import drawing
from engine.model import makesafe
from engine.model.plan import State
from engine.model.records import Model, Opening, Rig, Store, document
from engine.model.setup import steps
from engine.planner import plan
from engine.walk import job, record, undo
from engine.walk.ending import conclude
from engine.walk.events import (
    Answered,
    Arrived,
    Away,
    CannotDo,
    Event,
    Known,
    Lacking,
    Measured,
    Unmended,
)
from engine.walk.job import Halt, Outset, Question, Setting, Walk, pending
from kb.trouble import TroubleError
from tests.models import NO_RIG, simple_test, tiny_model

LID, TRAY, BOARD = "lid", "tray", "board"
CLIP = Rig("clip", 1.0, True)
BULK = Store("C1", 325.0, "C1", 30.0, (BOARD,))
OUTPUT = Store("C2", 90.0, "TP4 (C2)", 30.0, (TRAY, BOARD))
OUTSIDE = Store("C3", 325.0, "the base contacts", 30.0, ())
SOMEWHERE = Store("C4", 325.0, "C4", 30.0)
SMALL = Store("C5", 12.0, "C5", 30.0, (LID,))


def cabinet(*held: Store) -> Model:
    """A unit opened by lid, tray and board, with a check behind each and some on limited mains."""
    faults = {"f1": 0.4, "f2": 0.3, "f3": 0.2, "f4": 0.1}
    tests = [
        simple_test("socket", 1.0, supply="socket"),
        simple_test("tray", 1.0, opened=(LID, TRAY)),
        simple_test("board", 1.0, opened=(LID, TRAY, BOARD), rig="clip"),
        simple_test("powered", 1.0, opened=(LID, TRAY), supply="limited", rig="clip"),
        simple_test("lit", 1.0, opened=(LID, TRAY), supply="bench"),
    ]
    bad = {"socket": "f1", "tray": "f2", "board": "f3", "powered": "f4", "lit": "f3"}
    rows: Mapping[str, Mapping[str, str]] = {
        test: {fault: "bad" if fault == shown else "good" for fault in faults}
        for test, shown in bad.items()
    }
    return tiny_model(
        faults, tests, rows,
        openings=(Opening(LID, 1.0), Opening(TRAY, 2.0, (LID,)), Opening(BOARD, 4.0, (TRAY,))),
        rigs=(NO_RIG, CLIP), wrong_verdict_minutes=60.0,
    ) if not held else replace(cabinet(), stores=held)  # fmt: skip


def bench(opened: str = "", supply: str = "dead", rig: str = "none") -> State:
    """A bench state; openings by their first letters."""
    made = {"l": LID, "t": TRAY, "b": BOARD}
    return State(frozenset(made[letter] for letter in opened), supply, rig)


def way(model: Model, before: State, after: State, *low: str) -> list[str]:
    """Each step in short: openings, what is measured after them, supply and rig at its end."""
    return [
        f"{'+'.join(step.opened)}|{'+'.join(s.part for s in step.measure)}|{step.supply} {step.rig}"
        for step in steps(model, before, after, frozenset(low))
    ]


# ---- set-ups ----


def test_each_store_is_measured_at_the_first_opening_that_shows_it() -> None:
    """The tray shows the output, the board the bulk capacitor; the rig comes last."""
    made = way(cabinet(BULK, OUTPUT), bench(), bench("ltb", rig="clip"))
    assert made == ["lid+tray|C2|dead none", "board|C1|dead clip"]


def test_nothing_inside_a_closed_unit_is_asked_for() -> None:
    model = cabinet(BULK, OUTPUT, SOMEWHERE)
    assert way(model, bench(supply="socket"), bench()) == ["||dead none"]


def test_contacts_outside_are_measured_before_the_unit_is_opened() -> None:
    """A unit that came in may come straight from use."""
    model = cabinet(OUTSIDE)
    assert way(model, bench(), bench("l")) == ["|C3|dead none", "lid||dead none"]
    assert way(model, bench(supply="socket"), bench()) == ["|C3|dead none"]
    assert way(model, bench(), bench()) == ["|C3|dead none"]


def test_a_store_nobody_placed_counts_as_shown_by_whatever_is_opened_first() -> None:
    made = way(cabinet(SOMEWHERE), bench(), bench("lt"))
    assert made == ["lid|C4|dead none", "tray||dead none"]


def test_leaving_mains_what_is_exposed_is_measured_before_the_next_opening_and_before_the_rig() -> (
    None
):
    model = cabinet(BULK, OUTPUT)
    made = way(model, bench("lt", "limited", "clip"), bench("ltb"))
    assert made == ["|C2|dead clip", "board|C1|dead none"]
    assert way(model, bench("lt", "limited", "clip"), bench("lt")) == ["|C2|dead none"]


def test_what_is_known_to_be_low_is_not_asked_for_again() -> None:
    model = cabinet(BULK, OUTPUT)
    assert way(model, bench("lt"), bench("ltb"), "C2") == ["board|C1|dead none"]


def test_mains_makes_unknown_what_was_measured_before_it() -> None:
    """Even where somebody says that it is known."""
    model = cabinet(OUTPUT)
    assert way(model, bench("lt", "limited"), bench("lt"), "C2") == ["|C2|dead none"]


def test_a_bench_source_leaves_no_more_than_may_be_touched_while_it_is_on() -> None:
    model = cabinet(OUTPUT)
    assert way(model, bench("lt", "bench"), bench("ltb"), "C2") == ["board||dead none"]


def test_a_store_that_stays_under_its_limit_is_never_asked_for() -> None:
    assert way(cabinet(SMALL), bench(), bench("l")) == ["lid||dead none"]


def test_splitting_a_set_up_costs_no_minutes() -> None:
    """The rule of the document format prices the whole change."""
    whole = sum(step.minutes for step in steps(cabinet(), bench(), bench("ltb", rig="clip")))
    split = steps(cabinet(BULK, OUTPUT, OUTSIDE), bench(), bench("ltb", rig="clip"))
    assert len(split) == 3
    assert math.fsum(step.minutes for step in split) == pytest.approx(whole)


def test_what_a_repair_comes_upon_is_named_with_its_opening() -> None:
    model = cabinet(BULK, OUTPUT)
    hidden = [(store.part, opening) for store, opening in makesafe.on_the_way_in(model, (), ())]
    assert hidden == [("C1", BOARD), ("C2", TRAY)]


# ---- charts ----


def test_chart_and_audit_agree_on_every_path() -> None:
    """Two statements of one law, neither of which knows the other."""
    for held in ((BULK, OUTPUT), (OUTSIDE, BULK), (SOMEWHERE,), (SMALL, OUTPUT)):
        model = cabinet(*held)
        drawn = drawing.document(drawing.draw_up(model, plan(model)))
        found = audit(document(model), json.loads(json.dumps(drawn)))
        # These invented repairs have no proofs.
        assert [breach for breach in found if breach.code != "AU308"] == [], held


# ---- walks ----


def begun(*held: Store, tests: tuple[str, ...] = ("tray", "board", "powered", "lit")) -> Walk:
    """A walk whose plan asks these tests first of all, in turn."""
    model = cabinet(*held)
    withdrawn = frozenset(test.id for test in model.tests) - set(tests)
    return job.begin(Outset(model, withdrawn), plan)


def take(walk: Walk, *events: Event) -> Walk:
    """The walk after these events."""
    for event in events:
        walk = job.take(walk, event)
    return walk


def setting(walk: Walk) -> Setting:
    """The set-up that is due."""
    due = pending(walk)
    assert isinstance(due, Setting), due
    return due


def carried_out(walk: Walk, volts: float | None = 2.0) -> Walk:
    """Every set-up that is due, with the same volts at every store."""
    while isinstance(due := pending(walk), Setting):
        walk = job.take(walk, due.arrival({store.part: volts for store in due.make_safe}))
    return walk


def codes(walk: Walk, event: Event) -> list[str]:
    """The codes with which the walk refuses an event; none where it takes it."""
    try:
        job.take(walk, event)
    except TroubleError as refused:
        return [trouble.code for trouble in refused.troubles]
    return []


def heard(walk: Walk) -> tuple[str, ...]:
    """Breaches of the walk's document, but that it may be under way."""
    plain = json.loads(json.dumps(record.document(walk)))
    found = audit_walk(document(walk.model), plain)
    return tuple(map(str, (breach for breach in found if breach.code != "AU404")))


def test_the_volts_of_each_store_are_kept_with_the_step() -> None:
    walk = carried_out(begun(BULK, OUTPUT, tests=("tray",)), 3.5)
    assert walk.steps[-1].measured == (Measured("C2", 3.5),)
    plain = record.document(walk)
    assert plain["steps"][-1]["measured"] == [{"part": "C2", "volts": 3.5}]
    assert plain["events"][-1]["measured"] == [{"part": "C2", "volts": 3.5}]
    assert heard(walk) == ()


@pytest.mark.parametrize("volts", [30.0, -30.0, 325.0, math.nan, math.inf])
def test_a_store_at_its_limit_or_over_is_not_taken_for_low(volts: float) -> None:
    walk = begun(OUTPUT, tests=("tray",))
    assert codes(walk, setting(walk).arrival({"C2": volts})) == ["WK135"]


def test_a_step_without_its_measurement_is_refused() -> None:
    walk = begun(OUTPUT, tests=("tray",))
    assert codes(walk, replace(setting(walk).event, measured=())) == ["WK132"]


def test_two_openings_at_once_are_refused_where_the_first_shows_a_store() -> None:
    walk = begun(BULK, OUTPUT, tests=("board",))
    low = (Measured("C1", 1.0), Measured("C2", 1.0))
    assert codes(walk, Arrived((BOARD, LID, TRAY), "dead", "clip", low)) == ["WK122"]


def test_what_cannot_be_reached_is_not_said_to_be_measured() -> None:
    walk = begun(BULK, tests=("tray",))
    step = Arrived((LID, TRAY), "dead", "none", (Measured("C1", 1.0),))
    assert codes(walk, step) == ["WK133"]


def test_out_of_reach_leads_to_the_next_opening_that_shows_it_and_no_probe() -> None:
    """C2 shows at the tray first, and better at the board."""
    walk = carried_out(begun(OUTPUT, tests=("tray",)), None)
    assert isinstance(pending(walk), Halt)
    walk = begun(OUTPUT, tests=("tray",))
    walk = job.take(walk, setting(walk).arrival({"C2": None}))
    assert walk.unreachable == {"C2"}
    assert setting(walk).opened == (BOARD,)
    assert codes(walk, Answered("tray", "good")) == ["WK123"]
    assert codes(walk, Arrived((LID, TRAY), "limited", "none")) == ["WK129"]
    walk = job.take(walk, setting(walk).arrival({"C2": 1.0}))
    assert walk.unreachable == frozenset()
    assert isinstance(pending(walk), Question)
    assert heard(walk) == ()


def test_a_rig_is_not_touched_beside_a_store_out_of_reach() -> None:
    walk = carried_out(begun(BULK, OUTPUT, tests=("board",)), 1.0)
    walk = job.take(walk, Answered("board", "good")) if not walk.is_ended else walk
    walk = begun(BULK, tests=("board",))
    first = setting(walk)
    assert first.bench.rig == "clip"
    assert first.arrival({"C1": None}).rig == "none"
    assert codes(walk, replace(first.arrival({"C1": None}), rig="clip")) == ["WK134"]


def test_where_no_opening_shows_it_the_walk_halts_and_says_so_in_its_document() -> None:
    walk = begun(BULK, tests=("board",))
    walk = job.take(walk, setting(walk).arrival({"C1": None}))
    halted = pending(walk)
    assert isinstance(halted, Halt)
    assert [store.part for store in halted.stores] == ["C1"]
    plain = record.document(walk)
    assert plain["halt"]["label"] == "charged"
    assert plain["verdict"] is None
    again = Arrived((BOARD, LID, TRAY), "dead", "none", (Measured("C1", 1.0),))
    assert pending(job.take(walk, again)) != halted


def test_an_opening_that_cannot_be_made_halts_the_walk_too() -> None:
    walk = begun(OUTPUT, tests=("tray",))
    walk = job.take(walk, setting(walk).arrival({"C2": None}))
    assert isinstance(pending(job.take(walk, Lacking("opening", BOARD))), Halt)


def test_after_mains_what_is_exposed_is_measured_again() -> None:
    walk = carried_out(begun(OUTPUT, tests=("powered", "tray")))
    assert walk.low == frozenset() or pending(walk) == Question("tray")
    while not walk.is_ended:
        question = pending(walk)
        assert isinstance(question, Question)
        walk = carried_out(job.take(walk, Answered(question.test, "good")))
    assert heard(walk) == ()
    energised = [n for n, step in enumerate(walk.steps) if step.bench.supply == "limited"]
    back = [
        step for step in walk.steps[energised[0] :]
        if step.kind == "setup" and step.bench.supply == "dead"
    ]  # fmt: skip
    assert all(step.measured for step in back)


def verdict(*held: Store) -> Walk:
    """A walk that has come to a verdict on an unplugged, opened unit."""
    walk = carried_out(begun(*held, tests=("tray",)))
    walk = job.take(walk, Answered("tray", "bad"))
    while not walk.is_ended:
        walk = carried_out(job.take(walk, CannotDo("tray")))
    return walk


@pytest.mark.parametrize(
    "event",
    [Known("board", "good"), Lacking("rig", "clip"), Unmended("mend-f2"), CannotDo("board")],
    ids=lambda event: type(event).__name__,
)
def test_whoever_goes_on_from_a_verdict_unplugs_and_measures_first(event: Event) -> None:
    """The repair and its first proof happened out of sight."""
    walk = verdict(OUTPUT)
    assert conclude(walk).make_safe == ()
    after = job.take(walk, event)
    assert after.low_stores == frozenset()
    if after.is_ended:
        assert [store.part for store in conclude(after).make_safe] == ["C2"]
        return
    due = setting(after)
    assert due.returns
    assert [store.part for store in due.make_safe] == ["C2"]
    assert codes(after, Arrived((LID, TRAY), "limited", "none")) == ["WK128"]


def test_undo_at_a_verdict_unplugs_and_measures_first() -> None:
    walk = undo.undo(verdict(OUTPUT))
    assert setting(walk).returns
    assert [store.part for store in setting(walk).make_safe] == ["C2"]
    assert job.replay(walk.outset, walk.events, plan) == walk


def test_time_away_makes_every_store_unknown() -> None:
    walk = carried_out(begun(OUTPUT, tests=("tray",)))
    assert isinstance(pending(walk), Question)
    back = job.resume(walk.outset, walk.events, plan)
    assert setting(back).returns
    assert codes(back, Arrived((LID, TRAY), "bench", "none")) == ["WK128"]
    assert codes(back, Answered("tray", "good")) == ["WK123"]
    back = job.take(back, setting(back).arrival({"C2": 0.4}))
    assert isinstance(pending(back), Question)
    assert heard(back) == ()


def test_an_opened_unit_is_not_put_on_the_socket() -> None:
    walk = take(begun(tests=("tray",)), Arrived((LID,), "dead", "none"))
    assert codes(walk, Arrived((LID,), "socket", "none")) == ["WK122"]
    assert codes(walk, Arrived((LID,), "bench", "none")) == []


def test_standing_on_mains_nothing_is_known() -> None:
    walk = carried_out(begun(OUTPUT, tests=("tray",)))
    assert walk.low == {"C2"}
    assert job.take(walk, Arrived((LID, TRAY), "limited", "none")).low == frozenset()


def test_an_opened_unit_is_never_sent_to_normal_mains() -> None:
    """Opened to confirm a check, which then can't be done: the plan made for a closed unit ends."""
    walk = job.begin(Outset(cabinet(OUTPUT)), plan)
    opened = Arrived((LID,), "dead", "none")
    walk = take(walk, opened, CannotDo("tray"), CannotDo("board"))
    while not isinstance(pending(walk), Question | None):
        due = setting(walk)
        assert due.bench.supply != "socket"
        walk = job.take(walk, due.event)
    assert codes(walk, Arrived((LID,), "socket", "none")) == ["WK122"]


def test_a_short_that_was_found_bars_mains_until_the_same_check_says_otherwise() -> None:
    model = cabinet(OUTPUT)
    shorted = tuple(
        replace(test, outcomes=tuple(replace(o, short=o.id == "bad") for o in test.outcomes))
        if test.id == "tray"
        else test
        for test in model.tests
    )
    walk = job.begin(Outset(replace(model, tests=shorted)), plan)
    walk = job.take(walk, Known("tray", "bad"))
    assert walk.unavailable == {"socket", "powered"}
    assert "bench" not in walk.unavailable


def test_events_round_trip_through_the_saved_walk() -> None:
    walk = begun(BULK, OUTPUT, tests=("board",))
    walk = job.take(walk, setting(walk).arrival({"C2": None}))
    walk = job.take(walk, setting(walk).arrival({"C1": 4.0, "C2": 5.0}))
    walk = job.take(walk, Away())
    saved = record.reopen(json.loads(json.dumps(record.document(walk))), "walk")
    assert saved.events == walk.events
    assert job.replay(walk.outset, saved.events, plan) == walk
