"""Does the shipped schema take every walk that can be printed: each kind of step and of event?"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

import pytest

from engine import library
from engine.documents import walk as records
from engine.documents.walk import read_walk
from engine.evidence import witness
from engine.evidence.make import apply_markings
from engine.model.records import Mains
from engine.planner import plan
from engine.walk import entry, events, job, record
from engine.walk.events import (
    Answered,
    Arrived,
    Away,
    CannotDo,
    Fitted,
    Known,
    Lacking,
    Measured,
    NotFitted,
    OfKind,
    Traced,
    Unmended,
)
from engine.walk.job import Outset, Question, Setting, Walk
from kb.trouble import TroubleError
from tests.docs.recordkeys import filled, listed, wrong_or_unlisted
from tests.safety.test_stores import BULK, OUTPUT, begun, cabinet, setting
from tests.sampled_rail import rail_model, rail_readings
from tests.walk.test_walk_ends import seen_dark

Document = dict[str, Any]
PLANNER = partial(plan, seconds=0.0, effort=4e8)


def settled(walk: Walk) -> Walk:
    """With what is to be set up done, so that a question or the verdict is due."""
    while isinstance(step := job.pending(walk), Setting):
        walk = job.take(walk, step.event)
    return walk


def likeliest(walk: Walk, step: Question) -> str:
    """The answer expected most."""
    rows = {f: walk.model.row(step.test, f) for f, p in walk.belief.items() if p > 0}
    outcomes = [o.id for o in walk.model.test(step.test).outcomes]
    return max(outcomes, key=lambda o: sum(walk.belief[f] * row[o] for f, row in rows.items()))


@pytest.fixture(scope="module")
def walk() -> Walk:
    """A walk that meets each event: known, can't, lacking, traced, answers, away, did not help."""
    mains = Mains(230.0, 50.0)
    model = library.model("light-controlled-lamp", mains=mains, complaint="never-lights")
    here = job.begin(Outset(model), PLANNER)
    here = job.take(here, Known("good-lamp-at-owners", "lights"))
    here = job.take(here, Traced("control"))
    here = job.take(here, Lacking("supply", "normal-mains"))
    here = job.take(here, NotFitted("RV1"))
    here = job.take(here, Fitted("R1"))
    here = settled(here)
    step = job.pending(here)
    assert isinstance(step, Question)
    here = job.take(here, CannotDo(step.test))
    while True:
        here = settled(here)
        step = job.pending(here)
        if not isinstance(step, Question):
            break
        here = job.take(here, Answered(step.test, likeliest(here, step), "as told"))
        if sum(isinstance(event, Away) for event in here.events) == 0 and len(here.steps) > 8:
            here = job.take(here, Away())
    remedy = here.plan.nodes[here.node]
    return job.take(here, Unmended(remedy.remedy))


@pytest.fixture(scope="module")
def printed(walk: Walk) -> dict[str, Document]:
    """That walk at each of its lengths, and one for each other way to end or to be weighed."""
    walks = {"done again": rung_twice(), "weighed": weighed(), "stores": opened(), "halt": halted()}
    walks |= {str(number): one for number, one in enumerate(unlike())}
    here: Walk | None = walk
    while here is not None:
        walks[f"{len(here.events)} events"] = here
        here = here.before
    found = {name: record.document(one) for name, one in walks.items()}
    model = walk.model
    refusal = entry.admit(model, {"wet-or-melted": "yes"})
    found["turned away"] = record.turned_away(model, refusal, {"mains": "230/50"})
    read: dict[str, Document] = json.loads(json.dumps(found))
    return read


def weighed() -> Walk:
    """Readings weighed by a circuit, one of them between two outcomes."""
    model, made = rail_model(), rail_readings()
    units = (*made.units[:3], replace(made.units[3], kinds={"R2": "film-resistor"}))
    heard = witness(model, replace(made, units=units))
    here = job.begin(Outset(model, witness=heard), plan)
    here = job.take(here, Known("rail", "low", "3.7 V"))
    here = job.take(here, OfKind("R2", "film-resistor"))
    first, second, *_ = model.test("feed").outcomes
    return job.take(here, Known("feed", first.id, "1 MΩ", ((first.id, 0.5), (second.id, 0.5))))


def unlike() -> tuple[Walk, ...]:
    """Units that are seen to differ: by a reading, by a part that all others have, by its kind."""
    model, made = rail_model(), rail_readings()
    units = (*made.units[:3], replace(made.units[3], kinds={"R2": "film-resistor"}))
    heard = witness(model, replace(made, units=units))
    begun = job.begin(Outset(model, witness=heard), plan)
    odd_make = apply_markings(heard.make, heard.dictionary, {"R2": 47e3})
    marked = job.begin(Outset(model, witness=heard.narrower(odd_make)), plan)
    sound = job.take(marked, Known("rail", "as-due", "4.8 V"))
    odd = job.take(job.take(begun, Known("rail", "as-due", "5.4 V")), NotFitted("R2"))
    strange = job.take(begun, Known("rail", "as-due", "5.45 V"))
    return (
        job.take(strange, Known("feed", "at-or-below", "200 kΩ")), odd,
        job.take(sound, OfKind("R2", "film-resistor")),
    )  # fmt: skip


def test_each_way_to_be_unlike_is_met(printed: dict[str, Document]) -> None:
    """Only there: no other walk says so."""
    kinds = [s["kind"] for plain in printed.values() for s in plain["steps"] if "differs" in s]
    assert sorted(kinds) == ["known", "not-fitted", "of-kind"]


def rung_twice() -> Walk:
    """A verdict after a doubtful reading: another check, or the same once more, may pay."""
    return seen_dark(150.0)


def opened() -> Walk:
    """To a verdict, each store measured that was due, the last one supposed."""
    here = job.begin(Outset(cabinet(BULK, OUTPUT)), plan)
    while (step := job.pending(here)) is not None:
        if isinstance(step, Setting):
            low = {store.part: 2.0 for store in step.make_safe}
            here = job.take(here, step.arrival(low) if here.is_tested else step.event)
        else:
            assert isinstance(step, Question)
            here = job.take(here, Answered(step.test, "good"))
    return here


def halted() -> Walk:
    """A store that nobody can measure, in front of the only check."""
    here = begun(BULK, tests=("board",))
    return job.take(here, setting(here).arrival({"C1": None}))


def test_each_walk_keeps_to_its_schema_and_has_no_key_beside_it(
    printed: dict[str, Document],
) -> None:
    """At each of its lengths, as it would be saved."""
    wrong = {name: wrong_or_unlisted("walk.json", plain) for name, plain in printed.items()}
    assert {name: errors for name, errors in wrong.items() if errors} == {}


def test_each_walk_that_is_read_prints_as_it_was(printed: dict[str, Document]) -> None:
    """Key by key in the same order, nothing added and nothing dropped."""
    for plain in printed.values():
        assert json.dumps(read_walk(plain).plain()) == json.dumps(plain)


def test_each_key_of_each_step_event_and_verdict_is_met(printed: dict[str, Document]) -> None:
    """So that the schema is tried on each."""
    keys = {key for plain in printed.values() for key in filled(read_walk(plain))}
    assert listed(records) - keys == set()


def test_every_kind_of_step_and_event_is_met(printed: dict[str, Document]) -> None:
    """Keys alone don't tell the two kinds of finding apart."""
    steps = {step["kind"] for plain in printed.values() for step in plain["steps"]}
    assert steps == {
        "test", "known", "setup", "cannot", "lacking", "not-fitted", "fitted",
        "of-kind", "traced", "repair", "away",
    }  # fmt: skip
    met = {event["event"] for plain in printed.values() for event in plain["events"]}
    assert met == {
        "arrived", "known", "traced", "lacking", "not-fitted", "fitted", "of-kind", "cannot-do",
        "answered", "away", "unmended",
    }  # fmt: skip


@pytest.mark.parametrize(
    "store", [Measured("C1", 3.0), Measured("C1", None), Measured("C1", supposed=True)]
)
def test_what_was_measured_is_read_again(store: Measured) -> None:
    """In volts, out of reach, or supposed."""
    event = Arrived(("driver-board",), "unplugged", "none", (store,))
    assert events.read(json.loads(json.dumps(events.plain(event))), "w.json") == event


@pytest.mark.parametrize(
    "store",
    [{"part": "C1"}, {"part": "C1", "volts": 1.0, "out_of_reach": True},
     {"part": "C1", "volts": True}, {"part": "C1", "volts": "2"}, {"volts": 2.0}],
)  # fmt: skip
def test_a_store_is_measured_out_of_reach_or_supposed(store: Document) -> None:
    """One of the three, and volts are a number."""
    raw = {"event": "arrived", "opened": [], "supply": "mains", "rig": "none", "measured": [store]}
    with pytest.raises(TroubleError, match="WK101"):
        events.read(raw, "w.json")


def kind_unknown(plain: Document) -> None:
    plain["steps"][0]["kind"] = "prayer"


def minutes_in_words(plain: Document) -> None:
    plain["steps"][1]["minutes"] = "two"


def verdict_without_odds(plain: Document) -> None:
    plain["verdict"] = {"remedy": "scrap", "faults": [], "proofs": []}


@pytest.mark.parametrize(
    ("spoil", "at", "what"),
    [
        (kind_unknown, '"kind": "prayer"', "steps[0]"),
        (minutes_in_words, '"minutes": "two"', 'steps[1].minutes: this should be a number, not "t'),
        (verdict_without_odds, '"verdict"', 'verdict: "confidence" is missing'),
    ],
)
def test_a_step_or_verdict_of_no_shape_is_refused_at_its_line(
    printed: dict[str, Document], spoil: Callable[[Document], None], at: str, what: str
) -> None:
    """By the shipped schema, and by who goes on with the walk."""
    plain = copy.deepcopy(printed["stores"])
    spoil(plain)
    text = json.dumps(plain, indent=1)
    assert wrong_or_unlisted("walk.json", plain)
    with pytest.raises(TroubleError, match="WK102") as refusal:
        record.reopen(plain, "w.json", text)
    [trouble] = refusal.value.troubles
    assert what in trouble.what
    shown = "\n".join(text.splitlines()[trouble.place.line - 1 : trouble.place.line + 1])
    assert at in shown
