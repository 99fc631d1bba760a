"""Does a walk that begins with "a lamp, dead" go on in what it turns out to be?"""

from __future__ import annotations

import json
from pathlib import Path

from engine import library
from engine.audit import audit_walk
from engine.model.records import Mains, document
from tests.words.cli import Desk

SEEN = """see-contacts: cap
see-window: no-window
see-what-it-does: when-switched
known-good-socket: dark
see-boards: two-boards
see-big-can: high-volts
see-film-block: no-film
see-coil: one-coil
see-chips: one-chip
"""
CORD = """see-contacts: cord
see-block: no-block
see-what-it-does: when-switched
cord-and-switch: with-cord
good-bulb: dark
"""
CAME_IN = "a\n" * 5


def answers(desk: Desk, text: str) -> str:
    """A file of answers on the desk."""
    (desk.folder / "answers.yaml").write_text(text, encoding="utf-8")
    return "answers.yaml"


def walks(desk: Desk) -> list[Path]:
    """The walks saved in the user's data folder."""
    return sorted((desk.folder / "xdg_data_home" / "nextprobe" / "walks").glob("*.json"))


def test_without_a_topology_the_lamp_is_one_that_nobody_has_opened(desk: Desk) -> None:
    """What was answered before is known in its topology; the document is of that."""
    ran = desk.run("walk", "--answers", answers(desk, SEEN), "--complaint", "dim", "--json")
    assert ran.code == 0, ran.err
    walk = json.loads(ran.out)
    assert walk["topology"] == "buck-lamp"
    assert walk["options"]["topology"] == "buck-lamp"
    member = library.model("buck-lamp", mains=Mains(230, 50), complaint="dim")
    assert audit_walk(document(member), walk) == ()


def test_a_cord_is_told_without_any_topology(desk: Desk) -> None:
    """In words: the verdict lies outside the electronics."""
    ran = desk.run("walk", "--answers", answers(desk, CORD))
    assert ran.code == 0, ran.err
    assert "Renew the cord, the plug or its fuse" in ran.out


def test_a_person_is_led_into_the_topology_and_nothing_is_asked_twice(desk: Desk) -> None:
    """Through a pipe, to where the lamp is known; what is saved goes on there."""
    known = CAME_IN + "known see-contacts\na\nknown see-window\na\n"
    known += "known see-boards\nb\nknown see-chips\nb\nknown see-coil\nb\n"
    ran = desk.run_bare("walk", "--no-case", typed=known + "stop\n")
    assert ran.code == 0, ran.err
    assert "type don't know: that is an answer" in " ".join(ran.out.split())
    assert "what it is" in ran.out
    assert ran.out.count("before anything is opened or plugged in") == 5
    saved = json.loads(walks(desk)[-1].read_text(encoding="utf-8"))
    assert saved["topology"] == "buck-lamp"
    assert len(saved["entry"]) == 5


def test_a_cell_of_it_has_no_chain_of_rules(desk: Desk) -> None:
    """It is told where there is one."""
    ran = desk.run("model", "unknown-lamp", "--explain", "see-contacts", "switch")
    assert ran.code == 2
    assert "KB710" in ran.err
    assert "buck-lamp" in ran.err


def test_list_names_it(desk: Desk) -> None:
    """With what it may turn out to be."""
    ran = desk.run("list")
    assert "Not opened yet" in ran.out
    assert "unknown-lamp" in ran.out
