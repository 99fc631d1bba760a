"""Does a person at a terminal get a synopsis of a model, and a program the whole document?"""

from __future__ import annotations

import json
import re

import pytest

from engine.model.file import read_model
from render.cli import synopsis
from tests.words.cli import LANTERN, Desk
from tests.words.test_cli_knowledge import LAMP


@pytest.fixture(scope="module")
def told() -> str:
    """The lantern's synopsis."""
    return "\n".join(synopsis.lines(MODEL)).replace("\u00a0", " ")


MODEL = read_model(LANTERN.read_text(encoding="utf-8"), "lantern")


def test_each_test_is_named_with_its_minutes(told: str) -> None:
    """By the openings that it takes."""
    words = " ".join(told.split())
    assert [t.id for t in MODEL.tests if f"{t.id} {t.minutes:g} min" not in words] == []


def test_the_stages_shares_are_all_there_is(told: str) -> None:
    """They sum to 100 %."""
    part = told.partition("What may be wrong")[2].partition("What can be tried")[0]
    shares = [float(share) for share in re.findall(r"^ +([\d.]+) %  ", part, re.MULTILINE)]
    assert sum(shares) == pytest.approx(100.0, abs=0.06 * len(shares))


def test_what_can_stay_charged_is_told(told: str) -> None:
    """With the limit under which hands may go in."""
    words = " ".join(told.split())
    for store in MODEL.stores:
        assert f"{store.part} can hold {store.max_volts:.0f} V" in words


def test_no_line_is_wider_than_the_page(told: str) -> None:
    """100 columns."""
    assert max(len(line) for line in told.splitlines()) <= 100


def test_a_terminal_gets_the_synopsis(desk: Desk) -> None:
    """And is told how to get the rest."""
    terminal = desk.terminal("model", LAMP, "--depth", "stage")
    shown = terminal.wait("with -o FILE.")
    assert "What can be tried" in shown
    assert '"format"' not in shown
    assert terminal.end() == 0


def test_a_pipe_gets_the_document(desk: Desk) -> None:
    """As before."""
    run = desk.run("model", LAMP, "--depth", "stage")
    assert json.loads(run.out)["format"] == "nextprobe-model/1"
