"""Is a saved walk that was edited by hand replayed under the same laws, or refused?

Each edit is one that would lead hands to a live or charged unit if it were believed. The honest
walk is saved by the program: plugged in, dead, unplugged, opened and measured, LEDs lit one by one.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import pytest

from tests.words.cli import LANTERN, Desk, Run

Document = dict[str, Any]
Edit = Callable[[Document], None]
TYPED = "done\ndead\ndone\n2 V\ndone\nall lit\nstop\n"
PROBES = ("Light each package", "Bridge the switch")


def resumed(desk: Desk, edit: Edit, typed: str = "") -> Run:
    """The honest walk saved, edited, and gone on with."""
    desk.run("walk", "--model", str(LANTERN), "--save", "w.json", typed=TYPED)
    file = desk.folder / "w.json"
    plain = json.loads(file.read_text(encoding="utf-8"))
    edit(plain)
    file.write_text(json.dumps(plain), encoding="utf-8")
    return desk.run("walk", "--from", "w.json", typed=typed)


def refused(run: Run) -> bool:
    """With code 2, at the saved walk or with a code of the walk, and nothing asked."""
    return run.code == 2 and bool(re.search(r"w\.json|\b(WK1|CL1)\d\d\b", run.err))


def asks_entry_first(run: Run) -> bool:
    """Whether the entry check stands before any check or set-up."""
    asked = run.out.find("── before anything is opened or plugged in")
    other = [run.out.find(words) for words in ("set up", "back at the bench", *PROBES)]
    return asked >= 0 and all(at < 0 or asked < at for at in other)


def measures_first(run: Run) -> bool:
    """Whether a store's volts are asked for, before any answer to a check is."""
    answer = re.search(r"a-[a-d](, reading)?(, help)? ›", run.out)
    asked = run.out[: answer.start()] if answer else run.out
    return "out of reach, can't ›" in asked


def index_of(plain: Document, event: str, **wanted: object) -> int:
    return next(
        n
        for n, one in enumerate(plain["events"])
        if one["event"] == event and all(one.get(key) == value for key, value in wanted.items())
    )


# ---- the entry check ----


def entry_emptied(plain: Document) -> None:
    plain["entry"], plain["events"], plain["steps"] = {}, [], []


def one_entry_answer_dropped(plain: Document) -> None:
    del plain["entry"]["bang-smell-trip"]


def entry_key_dropped(plain: Document) -> None:
    del plain["entry"]


@pytest.mark.parametrize("edit", [entry_emptied, one_entry_answer_dropped])
def test_what_was_not_answered_at_the_entry_is_asked(desk: Desk, edit: Edit) -> None:
    """An unanswered question does not count as going on."""
    run = resumed(desk, edit, typed="stop\n")
    assert asks_entry_first(run) or refused(run)


def test_a_walk_without_its_entry_check_is_refused(desk: Desk) -> None:
    assert refused(resumed(desk, entry_key_dropped))


def refusal_answered(plain: Document) -> None:
    plain["entry"]["refused-kinds"] = "yes"


def strange_entry_answer(plain: Document) -> None:
    plain["entry"]["whole"] = "more or less"


def strange_entry_question(plain: Document) -> None:
    plain["entry"]["weather"] = "fine"


def test_a_refusal_at_the_entry_ends_the_walk(desk: Desk) -> None:
    run = resumed(desk, refusal_answered)
    assert "refused" in run.out
    assert not any(words in run.out for words in PROBES)


@pytest.mark.parametrize("edit", [strange_entry_answer, strange_entry_question])
def test_entry_answers_nobody_could_give_are_refused(desk: Desk, edit: Edit) -> None:
    assert refused(resumed(desk, edit))


# ---- the order of events ----


def arrival_on_mains_appended(plain: Document) -> None:
    plain["events"].append({"event": "arrived", "opened": [], "supply": "mains", "rig": "none"})


def arrival_with_everything_open(plain: Document) -> None:
    bench = {"opened": ["cap", "board"], "supply": "unplugged", "rig": "bridged"}
    plain["events"] = [{"event": "arrived", **bench}]


def opened_arrival_on_closed_mains(plain: Document) -> None:
    bench = {"opened": ["cap"], "supply": "mains", "rig": "none"}
    plain["events"].append({"event": "arrived", **bench})


def live_to_live(plain: Document) -> None:
    bench = {"opened": ["cap"], "supply": "limited", "rig": "none"}
    plain["events"].append({"event": "arrived", **bench})
    plain["events"].append({"event": "arrived", **bench, "supply": "battery"})


def arrival_removed(plain: Document) -> None:
    del plain["events"][index_of(plain, "arrived", opened=["cap"])]


def events_backwards(plain: Document) -> None:
    plain["events"].reverse()


def answered_where_the_bench_does_not_stand(plain: Document) -> None:
    plain["events"].append({"event": "answered", "test": "rail-volts", "answer": "right"})


def opened_without_the_way_there(plain: Document) -> None:
    bench = {"opened": ["board"], "supply": "unplugged", "rig": "none"}
    plain["events"] = [{"event": "arrived", **bench}]


def repair_never_concluded(plain: Document) -> None:
    plain["events"].append({"event": "unmended", "remedy": "new-switch"})


def unknown_event(plain: Document) -> None:
    plain["events"].append({"event": "measured", "store": "C1", "volts": 0})


def events_no_list(plain: Document) -> None:
    plain["events"] = "done"


REFUSED: list[Edit] = [
    opened_arrival_on_closed_mains,
    live_to_live,
    arrival_removed,
    events_backwards,
    answered_where_the_bench_does_not_stand,
    opened_without_the_way_there,
    unknown_event,
    events_no_list,
]


@pytest.mark.parametrize("edit", REFUSED, ids=[edit.__name__ for edit in REFUSED])
def test_events_that_could_not_have_been_are_refused(desk: Desk, edit: Edit) -> None:
    assert refused(resumed(desk, edit))


def test_a_repair_that_was_never_concluded_brings_nobody_past_the_gate(desk: Desk) -> None:
    """It may have been tried all the same; what it moved are odds, and the unit is unknown: its
    store is named before the remedy."""
    run = resumed(desk, repair_never_concluded, typed="done\ndone\nstop\n")
    assert 0 < run.out.find("measure C1 terminals: below 30 V") < run.out.find("Enter to finish")


def test_a_unit_said_to_stand_on_mains_is_unplugged_first(desk: Desk) -> None:
    """The opened lamp can't have got there; what remains plugged in is unplugged, then measured."""
    run = resumed(desk, arrival_on_mains_appended, typed="stop\n")
    assert refused(run) or "nplug" in run.out


def test_everything_opened_at_once_by_a_file_is_not_believed(desk: Desk) -> None:
    """Refused as no single step, or the stores are asked for before anything else."""
    run = resumed(desk, arrival_with_everything_open, typed="done\nstop\n")
    assert refused(run) or measures_first(run)


# ---- what is said to be measured or known ----


def nothing_changed(plain: Document) -> None:
    pass


def store_said_measured(plain: Document) -> None:
    for step in plain["steps"]:
        step["measured"] = [{"part": "C1", "volts": 0.0}]
    for event in plain["events"]:
        event["measured"] = [{"part": "C1", "volts": 0.0}]


def answers_turned_into_known(plain: Document) -> None:
    """Nothing was done at this bench, so nothing was measured at it either."""
    plain["events"] = [
        {**event, "event": "known"} for event in plain["events"] if event["event"] == "answered"
    ]


@pytest.mark.parametrize("edit", [nothing_changed, store_said_measured])
def test_stores_of_an_opened_unit_are_measured_anew_on_the_return(desk: Desk, edit: Edit) -> None:
    """The past hours are unknown; what a file says of them is no reading."""
    run = resumed(desk, edit, typed="done\ndone\nstop\n")
    assert refused(run) or measures_first(run)


def test_known_answers_bring_no_measured_store(desk: Desk) -> None:
    """The unit counts as closed and never measured: its first opening asks."""
    run = resumed(desk, answers_turned_into_known, typed="done\ndone\nstop\n")
    assert refused(run) or measures_first(run)


# ---- another unit, another bench ----


def another_model(plain: Document) -> None:
    plain["model_sha256"] = "0" * 64


def hash_dropped(plain: Document) -> None:
    del plain["model_sha256"]


def another_topology(plain: Document) -> None:
    plain["topology"] = "buck-lamp"


def mains_of_nowhere(plain: Document) -> None:
    plain["options"]["mains"] = "400/50"


def depth_of_nothing(plain: Document) -> None:
    plain["options"]["depth"] = "molecule"


def another_format(plain: Document) -> None:
    plain["format"] = "nextprobe-walk/2"


def test_a_walk_on_another_model_says_so_and_measures(desk: Desk) -> None:
    run = resumed(desk, another_model, typed="done\ndone\nstop\n")
    assert "has changed" in run.err
    assert measures_first(run)


MISFITS: list[Edit] = [
    hash_dropped,
    another_topology,
    mains_of_nowhere,
    depth_of_nothing,
    another_format,
]


@pytest.mark.parametrize("edit", MISFITS, ids=[edit.__name__ for edit in MISFITS])
def test_a_walk_of_another_unit_or_bench_is_refused(desk: Desk, edit: Edit) -> None:
    """With a sentence, never as a fault of the program."""
    assert refused(resumed(desk, edit))
