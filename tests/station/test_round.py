"""Are several units taken in at one sitting, and is what is due at each in one list?"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.cases.opening import open_shop
from engine.cases.shop import Shop
from tests.cases.conftest import Ticking
from tests.station.house import Server, serving
from tests.station.visitor import Visitor
from tests.words.cli import Desk

UNITS = "grey porch lamp; it never comes on\n\nStube 7;flickers when I touch it\nthe third\n"


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the shop is."""
    return tmp_path_factory.mktemp("round") / "shop.db"


@pytest.fixture(scope="module")
def host(place: Path) -> Iterator[Server]:
    """A server on it."""
    with serving(place.parent, str(place)) as server:
        yield server


@pytest.fixture(scope="module")
def shop(host: Server, place: Path) -> Shop:
    """The same shop, to see what was kept."""
    return open_shop(str(place), who="looker", clock=Ticking())


@pytest.fixture
def visitor(host: Server) -> Visitor:
    """Somebody who has just written three lines."""
    return Visitor(host.address).go("/round/take-in").send(
        "/round/meaning", units=UNITS, topology="buck-lamp", mains="230/50"
    )


def test_a_line_is_a_unit_and_its_words_suggest(visitor: Visitor) -> None:
    """None of them is forced: what is ticked is none."""
    radios = [e for e in visitor.tree.iter("input") if e.get("type") == "radio"]
    first = [e for e in radios if e.get("name") == "complaint-0"]
    assert first[0].get("value") == "never-lights"
    ticks = [(e.get("name"), e.get("value")) for e in radios if e.get("checked") is not None]
    assert ticks == [(f"complaint-{n}", "") for n in range(3)]


def test_the_cases_begun_stand_in_one_list_closed_checks_first(
    visitor: Visitor, shop: Shop
) -> None:
    """Units that wait for the same step stand together; a form sent twice begins no more."""
    page = visitor.reply
    visitor.send("/round", **{"complaint-0": "never-lights"})
    there = visitor.path
    cases = [shop.case(row.number) for row in shop.rows()]
    assert {(c.intake.unit, c.intake.words, c.standing.complaint) for c in cases} == {
        ("grey porch lamp", "it never comes on", "never-lights"),
        ("Stube 7", "flickers when I touch it", None), ("the third", "", None),
    }  # fmt: skip
    assert "Before anything is opened" in visitor.words
    assert "3 units" in visitor.words
    visitor.reply = page
    assert visitor.send("/round", **{"complaint-0": "never-lights"}).path == there
    third = next(c.number for c in cases if c.intake.unit == "the third")
    visitor.go(f"/case/{third}")
    while "entry" in visitor.forms():
        visitor.send("entry", answer="0")
    words = visitor.go("/round").words
    assert "2 units" in words
    asked, shut = words.index("Before anything"), words.index("On the closed unit")
    assert asked < words.index("Stube 7") < shut < words.index("the third")


@pytest.mark.parametrize(("units", "says"), [
    ("", "Write a line"), (" \n", "Write a line"), ("x\n" * 25, "24 units at most"),
])  # fmt: skip
def test_what_is_no_round_begins_nothing(host: Server, shop: Shop, units: str, says: str) -> None:
    before = len(shop.rows())
    visitor = Visitor(host.address).go("/round/take-in")
    visitor.send("/round/meaning", units=units, topology="buck-lamp")
    assert visitor.reply.status == 422
    assert says in visitor.words
    assert len(shop.rows()) == before


def test_a_case_that_is_none_ends_no_list(visitor: Visitor) -> None:
    assert visitor.go("/round?case=999999&case=x&case=-1").reply.status == 200
    assert "No case is open" in visitor.words


def test_at_the_terminal_a_file_is_taken_in_and_listed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """All or none: a complaint that nobody knows begins no case."""
    desk = Desk(tmp_path, monkeypatch, capsys)
    (tmp_path / "list.txt").write_text("one; never lights; never-lights\ntwo\n", encoding="utf-8")
    run = desk.run("round", "--take", "list.txt", "--kind", "buck-lamp", "--time", "0.1")
    assert run.code == 0, run.err
    assert "Taken in: cases 1, 2." in run.out
    assert run.out.index("Before anything") < run.out.index("1  one")
    (tmp_path / "bad.txt").write_text("three\nfour; x; sings\n", encoding="utf-8")
    bad = desk.run("round", "--take", "bad.txt", "--kind", "buck-lamp")
    assert bad.code == 2
    assert "three" not in desk.run("cases").out
