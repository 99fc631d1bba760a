"""Is what a person types at the bench taken as it was meant?"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.model.records import Outcome
from engine.model.records import Test as Check
from render.terminal import replies
from render.terminal.replies import COMMANDS, LETTERS, Command, Pick, Told, Unclear

LIT = Check(
    "lit", "Does it light?", 1.0, (), "dead", "none", False,
    (Outcome("lights", "it lights"), Outcome("dark", "it stays dark"),
     Outcome("stops", "it stops after a while"), Outcome("undone", "it undoes itself")),
)  # fmt: skip
RAIL = Check(
    "rail", "Volts of the rail?", 1.0, (), "dead", "none", False,
    (Outcome("low", "low", None, 4.6, "V"), Outcome("right", "right", 4.6, 5.6, "V"),
     Outcome("high", "high", 5.6, None, "V")),
)  # fmt: skip


def test_no_answer_letter_is_a_command() -> None:
    """One key is never two things."""
    keys = {word for words in COMMANDS.values() for word in words if len(word) == 1}
    assert not keys & set(LETTERS)
    assert len(set(LETTERS)) == len(LETTERS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_word_of_a_command_is_that_command(name: str) -> None:
    """At a test, at a choice, at a step; in any case of letters."""
    for word in COMMANDS[name]:
        for typed in (word, word.upper(), f"  {word} "):
            assert replies.to_test(typed, RAIL) == Command(name)
            assert replies.to_choice(typed, ["no", "yes"]) == Command(name)
            assert replies.to_confirm(typed) == Command(name)


@pytest.mark.parametrize(
    ("typed", "outcome"),
    [
        ("a", "lights"), ("B", "dark"), ("b)", "dark"), ("lights", "lights"),
        ("It stays dark.", "dark"), ("it lights", "lights"), ("stops", "stops"),
        ("undone", "undone"), ("it un", "undone"), ("dar", "dark"),
    ],
)  # fmt: skip
def test_an_answer_is_taken_by_letter_or_words(typed: str, outcome: str) -> None:
    """An answer's own word wins over a command it begins like."""
    reply = replies.to_test(typed, LIT)
    assert isinstance(reply, Told)
    assert reply.answer.outcome == outcome


@pytest.mark.parametrize(
    ("typed", "outcome"),
    [("3.1", "low"), ("3,1V", "low"), ("5100 mV", "right"), ("0.6..0.7", "low"), (">20 V", "high")],
)
def test_a_reading_is_taken_as_the_outcome_it_falls_in(typed: str, outcome: str) -> None:
    """In any usual notation."""
    reply = replies.to_test(typed, RAIL)
    assert isinstance(reply, Told)
    assert reply.answer.outcome == outcome


@pytest.mark.parametrize("typed", ["", "  ", "maybe", "3 A", "e", "1 2 3", "it "])
def test_what_is_neither_gets_a_sentence(typed: str) -> None:
    """Never a guess."""
    reply = replies.to_test(typed, RAIL)
    assert isinstance(reply, Unclear)
    assert reply.says.endswith(".")


@pytest.mark.parametrize(
    ("typed", "index"),
    [("a", 0), ("no", 1), ("n", 1), ("y", 0), ("can't be closed safely", 2)],
)
def test_a_choice_is_taken_by_letter_or_first_words(typed: str, index: int) -> None:
    """Also where it begins like a command."""
    choices = ["yes", "no", "can't be closed safely"]
    assert replies.to_choice(typed, choices) == Pick(index)


def test_enter_alone_confirms_nothing() -> None:
    """A step counts as done when someone says so."""
    assert isinstance(replies.to_confirm(""), Unclear)
    assert replies.to_confirm("done") == Pick(0)


@given(st.text(max_size=30))
def test_nothing_typed_breaks_the_dialogue(typed: str) -> None:
    """Any text is a command, an answer or a sentence."""
    for test in (LIT, RAIL):
        assert isinstance(replies.to_test(typed, test), (Command, Told, Unclear))
    assert isinstance(replies.to_choice(typed, ["no", "yes"]), (Command, Pick, Unclear))
    assert isinstance(replies.to_confirm(typed), (Command, Pick, Unclear))
