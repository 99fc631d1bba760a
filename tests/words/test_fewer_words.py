"""Is a walk at the terminal told in few words, and nothing lost that hands or choices need?

What stands in a step is a choice of this project; no source.
"""

from __future__ import annotations

import io
from functools import cache, partial

import pytest

from engine import library
from engine.model.records import Mains, Model
from engine.planner import plan
from engine.walk import explain, job
from engine.walk.events import Answered
from engine.walk.job import Outset, Question, Setting, Walk
from render.drawing.bench_marks import SHUT
from render.terminal import docket
from render.terminal.screen import Screen
from tests.bench.terminal_words import run


@cache
def shown() -> str:
    """The scripted job of the buck lamp, as the screen showed it."""
    return run("buck-lamp", "flicker", "J2")[3]


@cache
def lamp() -> Model:
    """The buck lamp, to the stage."""
    return library.model("buck-lamp", mains=Mains(230, 50), depth="stage")


def sections() -> list[str]:
    """Its entries, each on one line."""
    return [" ".join(part.split()) for part in shown().split("\n── ")[1:]]


def test_the_words_to_the_verdict_are_half_of_what_they_were() -> None:
    """1,461 stood on the screen when this was first counted."""
    before, _, _ = shown().rpartition("── verdict")
    assert len(before.split()) <= 1461 / 2


def test_each_step_names_its_bench_state() -> None:
    """In its head, or in the set-ups above it."""
    words = ("SHUT", "DEAD", "LOW", "LIVE")
    steps = [one for one in sections() if one[0].isdigit()]
    assert len(steps) > 8
    assert [one for one in steps if not any(word in one for word in words)] == []


def test_the_caution_stands_in_full_at_each_change_of_state() -> None:
    """Mains twice, stored charge twice: the bench changes so four times."""
    assert sum("Mains: shock." in one for one in sections()) == 2
    assert sum("Capacitors stay charged" in one for one in sections()) == 2


def test_help_is_offered_until_something_was_answered() -> None:
    """The first prompt of a check, and in the heading of the walk."""
    prompts = [line for line in shown().splitlines() if "a-" in line and "›" in line]
    assert ", help ›" in prompts[0]
    assert not any("help" in line for line in prompts[1:])


def walked() -> Walk:
    """A walk in which one check with many answers was answered."""
    walk = job.begin(Outset(lamp()), partial(plan, seconds=0.0, effort=1e7))
    while True:
        match job.pending(walk):
            case Setting() as setting:
                walk = job.take(walk, setting.arrival({}))
            case Question(test):
                walk = job.take(walk, Answered(test, lamp().test(test).outcomes[1].id))
                if len(lamp().test(test).outcomes) > docket.MOST_LISTED_AGAIN:
                    return walk


def choices(walk: Walk, again: bool) -> str:
    """The choices of the test that was answered last, shown once more."""
    screen = Screen(out := io.StringIO())
    show = docket.show_choices_again if again else docket.show_choices
    show(screen, walk, lamp().test(str(walk.steps[-1].test)))
    return " ".join(out.getvalue().split())


def test_a_long_list_done_again_tells_the_answer_given_and_where_the_rest_stands() -> None:
    """All of it stands there once one asks for more."""
    walk = walked()
    outcomes = lamp().test(str(walk.steps[-1].test)).outcomes
    short = choices(walk, again=True)
    assert short.startswith(f"b {outcomes[1].says} as before")
    assert f"as at step {len(walk.steps)}; see more" in short
    whole = choices(walk, again=False)
    assert all(outcome.says in whole for outcome in outcomes)


@pytest.mark.parametrize("test", [test.id for test in lamp().tests if not test.outcomes[0].unit])
def test_what_a_good_unit_shows_is_marked_or_told(test: str) -> None:
    """As its fault's row has it for a unit with nothing to mend."""
    record = lamp().test(test)
    walk = job.begin(Outset(lamp()), partial(plan, seconds=0.0, effort=1e7))
    screen = Screen(out := io.StringIO())
    docket.show_question(screen, walk, record)
    docket.show_choices(screen, walk, record)
    words = " ".join(out.getvalue().split())
    sound = record.outcome(explain.sound_answer(lamp(), record))
    assert docket.bench_mark(walk) == SHUT
    assert f"{sound.says} good" in words or "good " in words.partition(" a ")[0]
