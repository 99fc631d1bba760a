"""Does the walk work at a real terminal: prompts, colour, Ctrl-C?"""

from __future__ import annotations

import json
import re

from tests.words.cli import LANTERN, Desk

UNIT = ("walk", "--model", str(LANTERN), "--save", "w.json")


def test_a_walk_at_a_terminal_is_answered_line_by_line(desk: Desk) -> None:
    """To the verdict."""
    screen = desk.terminal(*UNIT)
    for prompt, typed in (
        ("set it up, then a-c, help ›", "b"),
        ("out of reach, can't ›", "0.4 V"),
        ("set it up, then a-b ›", "b"),
        ("once more", "b"),
        ("Enter to finish", ""),
    ):
        screen.wait(prompt)
        screen.type(typed + "\n")
    assert screen.end() == 0
    assert "Replace the LED board" in screen.shown or "verdict" in screen.shown


def test_interrupting_saves_and_says_how_to_go_on_and_to_unplug(desk: Desk) -> None:
    """Ctrl-C while the unit is on the mains."""
    screen = desk.terminal(*UNIT)
    screen.wait("set it up, then a-c, help ›")
    screen.interrupt("nextprobe walk --from w.json")
    assert screen.end() == 130
    assert "Switch off and unplug now" in screen.shown
    walk = json.loads((desk.folder / "w.json").read_text(encoding="utf-8"))
    assert [event["event"] for event in walk["events"]] == ["arrived"]


def test_colour_is_shown_at_a_terminal_and_left_out_where_it_is_not_wanted(desk: Desk) -> None:
    """The words are the same."""
    shown = {}
    for name, env in (("colour", {}), ("plain", {"NO_COLOR": "1"})):
        screen = desk.terminal(*UNIT, **env)
        screen.wait("set it up, then a-c, help ›")
        screen.type("stop\n")
        screen.end()
        shown[name] = screen.shown
    coloured = re.compile(r"\x1b\[[0-9;]*3[0-9]")
    assert coloured.search(shown["colour"])
    assert not coloured.search(shown["plain"])
    assert "WARNING" in shown["plain"]


def test_output_that_cannot_show_lines_is_served_in_ascii(desk: Desk) -> None:
    """As on an old terminal: no box drawing, no question mark in its place."""
    ran = desk.program(*UNIT, typed="stop\n", PYTHONIOENCODING="ascii")
    assert ran.code == 0
    assert ran.out.isascii()
    assert "-- 1-2  set up, do" in ran.out
