"""Does the command line take a second reading, and go on when a repair did not help?"""

from __future__ import annotations

import json

import pytest

from engine.audit import audit_walk
from tests.words.cli import LANTERN, Desk

UNIT = ("--model", str(LANTERN))
TO_VERDICT = "done\ndead\ndone\n2 V\ndone\nall lit\ndone\ndone\nb\n"


def told(desk: Desk, text: str) -> dict[str, object]:
    """The walk document of written answers."""
    (desk.folder / "answers.yaml").write_text(text, encoding="utf-8")
    ran = desk.run("walk", *UNIT, "--answers", "answers.yaml", "--json")
    assert ran.code == 0, ran.err
    found: dict[str, object] = json.loads(ran.out)
    return found


@pytest.mark.parametrize(
    ("takes", "remedy"),
    [("one-dark", "new-leds"), ("[one-dark, all-lit, all-lit]", "new-driver")],
)
def test_a_list_is_read_in_the_order_of_its_takes(desk: Desk, takes: str, remedy: str) -> None:
    """One package seen dark, and lit when it was looked at again."""
    walk = told(desk, f"other-socket: dead\nprobe-leds: {takes}\nbridge-switch: dark\n")
    verdict = walk["verdict"]
    assert isinstance(verdict, dict)
    assert verdict["remedy"] == remedy


def test_the_document_of_a_repair_that_did_not_help_audits_clean(desk: Desk) -> None:
    """And tells it as a step."""
    walk = told(
        desk,
        "other-socket: dead\nprobe-leds: all-lit\nbridge-switch: dark\nnew-driver: did not help\n",
    )
    steps = walk["steps"]
    assert isinstance(steps, list)
    assert [s["remedy"] for s in steps if s["kind"] == "repair"] == ["new-driver"]
    assert audit_walk(json.loads(LANTERN.read_text(encoding="utf-8")), walk) == ()


def test_still_as_it_was_makes_the_bench_safe_and_goes_on(desk: Desk) -> None:
    """The proof may have charged the store, so it is measured before the walk goes on."""
    ran = desk.run("walk", *UNIT, "--save", "w.json", typed=f"{TO_VERDICT}still\nundo\ndone\n3 V\n")
    after = ran.out.partition("that was not it, or not all of it")[2]
    assert "first" in after or "make sure the unit is unplugged" in after
    assert "below 30 V" in after


def test_still_before_a_verdict_is_told_what_it_is_for(desk: Desk) -> None:
    ran = desk.run("walk", *UNIT, "--save", "w.json", typed="still\nstop\n")
    assert "That is for the verdict" in ran.out


def test_a_test_that_is_done_again_says_why_and_what_it_told(desk: Desk) -> None:
    """The answer given before is marked among the others."""
    ran = desk.run("walk", *UNIT, "--save", "w.json", typed="done\nb\ndone\n0.4 V\ndone\nb\nstop\n")
    shown = " ".join(ran.out.split())
    assert "once more the verdict hangs on it" in shown
    assert "b One stays dark as before" in shown
