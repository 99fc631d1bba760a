"""What a model made elsewhere is held against, and how its shape is told."""

from __future__ import annotations

import json
from typing import Any, cast

import pytest
from pydantic_core import ErrorDetails

from engine.model.file import read_model
from engine.model.file.finding import Finding
from engine.model.file.shipped import as_shipped
from engine.model.file.text import misshapen
from engine.model.notes import EntryQuestion
from tests.words.cli import LANTERN


@pytest.mark.parametrize(
    ("name", "energy", "closed_only", "stand_in"),
    [
        ("battery", "elv", False, "battery"),
        ("battery", "mains", False, "isolated-limited"),
        ("rcd-limited", "mains", False, "rcd-limited"),
        ("rcd-limited", "mains", True, "normal-mains"),
        ("their-own", "elv", False, "bench-low"),
        ("their-own", "hvdc", False, "string-source"),
        ("their-own", "none", False, "unplugged"),
        ("their-own", "mains", False, "isolated-limited"),
        ("their-own", "mains", True, "normal-mains"),
    ],
)
def test_an_arrangement_is_held_against_its_namesake_only_where_it_is_of_its_kind(
    name: str, energy: str, closed_only: bool, stand_in: str
) -> None:
    assert as_shipped().stands_for(name, energy, closed_only).arrangement == stand_in


@pytest.mark.parametrize(
    ("complaints", "after", "conditional"),
    [
        ((), {}, False),
        (("dim",), {}, True),
        ((), {"whole": ("yes",)}, True),
        (("dim",), {"whole": ("yes",)}, True),
    ],
)
def test_a_question_that_waits_for_anything_is_conditional(
    complaints: tuple[str, ...], after: dict[str, tuple[str, ...]], conditional: bool
) -> None:
    question = EntryQuestion("wet", "Is it wet?", {}, complaints=complaints, after=after)
    assert question.conditional is conditional


def refusal(**says: Any) -> ErrorDetails:
    return cast("ErrorDetails", {"loc": ("tests", 2, "minutes"), "input": "two", **says})


def test_what_is_missing_is_named_where_it_should_stand() -> None:
    found = misshapen(refusal(type="missing", msg="Field required"))
    assert found == Finding("MD104", ("tests", 2), '"minutes" is missing', 'Add "minutes"')


def test_what_is_of_another_kind_says_which_it_should_be() -> None:
    found = misshapen(refusal(type="float_type", msg="Input should be a valid number"))
    assert found.what == 'this should be a number, not "two"'
    assert found.path == ("tests", 2, "minutes")


def test_no_refusal_is_told_in_the_words_of_a_library() -> None:
    few = refusal(type="too_short", msg="Too short", ctx={"min_length": 2})
    assert misshapen(few).what == "it should hold 2 entries or more"
    assert misshapen(refusal(type="of_the_future", msg="Nope")).what == "it can't stand here"


def test_a_store_that_the_document_plays_down_is_supposed_to_hold_the_peak_of_high_mains() -> None:
    """253 V x 1.414 at 230 V nominal: voltage tolerance of EN 50160, from memory; computed."""
    plain = json.loads(LANTERN.read_text(encoding="utf-8"))
    for store in plain["stores"]:
        store["max_volts"] = 5
    stores = read_model(json.dumps(plain), "lantern.json").stores
    assert {store.max_volts for store in stores} == {358.0}
