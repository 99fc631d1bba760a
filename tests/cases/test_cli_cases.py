"""Do walk, resume, cases, note, close, export and import keep a case from intake to outcome?"""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.cases.intakes import JPEG
from tests.words.cli import LANTERN, Desk

UNIT = ("walk", "--model", str(LANTERN))
FIRST = "done\ndead\ndone\n2 V\ndone\nall lit\n"
REST = "done\n1 V\ndone\ndone\nb\n\n"


def walked(desk: Desk, typed: str = FIRST) -> str:
    """A walk that was left after what was typed; what it said."""
    told = ("--unit", "grey lantern", "--words", "it WON'T light")
    return desk.run(*UNIT, *told, typed=typed).out


def kept(desk: Desk, number: int = 1) -> Any:
    """A case as its document."""
    return json.loads(desk.run("cases", "--show", str(number), "--json").out)


def test_a_walk_is_a_case_that_goes_on_where_it_was_left(desk: Desk) -> None:
    """The way back is told, and leads to the verdict."""
    said = walked(desk)
    assert "nextprobe resume 1" in said
    assert kept(desk)["state"] == "open"
    assert (kept(desk)["unit"], kept(desk)["words"]) == ("grey lantern", "it WON'T light")
    went_on = desk.run("resume", typed=REST)
    assert "Replace the driver" in went_on.out
    case = kept(desk)
    assert (case["state"], case["verdict"]["remedy"]) == ("verdict", "new-driver")


@pytest.mark.parametrize("lines", range(9))
def test_a_case_left_anywhere_comes_to_the_verdict_of_one_that_was_not(
    desk: Desk, lines: int
) -> None:
    """Entry check included."""
    typed = ["no\n", "no\n", "no\n", "yes\n", "no\n", "done\n", "dead\n", "done\n", "2 V\n"]
    desk.run_bare(*UNIT, typed="".join(typed[: lines + 1]))
    patient = "".join(typed[lines + 1 : 5])
    told = ["dead\n", "all lit\n", "b\n"][lines >= 6 :]
    patient += "".join("done\n0 V\n" * 4 + line for line in told) + "\n"
    desk.run_bare("resume", typed=patient)
    assert kept(desk)["verdict"]["remedy"] == "new-driver"


def test_a_look_leaves_no_case(desk: Desk) -> None:
    """Nothing was answered."""
    desk.run_bare(*UNIT, typed="stop\n")
    assert "No cases yet" in desk.run("cases").out


def test_with_no_case_a_walk_is_a_file(desk: Desk) -> None:
    """As it is with --save."""
    desk.run(*UNIT, "--no-case", typed=FIRST)
    desk.run(*UNIT, "--save", "w.json", typed=FIRST)
    assert not (desk.folder / "xdg_data_home" / "nextprobe" / "shop.db").exists()
    assert (desk.folder / "w.json").is_file()


def test_a_unit_that_is_turned_away_is_a_case(desk: Desk) -> None:
    """With what decided it."""
    desk.run_bare(*UNIT, typed="yes\n")
    case = kept(desk)
    assert case["verdict"]["because"] == "refused-kinds"
    assert case["state"] == "verdict"


def test_undone_answers_stay_in_the_trail(desk: Desk) -> None:
    """With who told them."""
    desk.run(*UNIT, "--who", "Ann", typed="done\ndead\nundo\nlights\nstop\n")
    trail = [e for e in kept(desk)["events"] if e["event"]["event"] == "answered"]
    assert trail[0]["event"]["answer"] == "dead"
    assert [e["withdrawn_by"] for e in trail if "withdrawn_at" in e] == ["Ann"]
    assert {e["who"] for e in trail} == {"Ann"}


def test_cases_are_listed_searched_and_shown(desk: Desk) -> None:
    """By any words; one in full."""
    walked(desk)
    desk.run(*UNIT, "--unit", "kitchen strip", typed=FIRST)
    assert "2 cases" in desk.run("cases").out
    found = desk.run("cases", "GREY", "won't").out
    assert "grey lantern" in found
    assert "kitchen" not in found
    assert "No case is like that" in desk.run("cases", "--state", "closed").out
    shown = desk.run("cases", "--show", "1").out
    for words in ("“it WON'T light”", "probe-leds: all-lit", "C1 2 V", "entry"):
        assert words in shown
    assert max(len(line) for line in shown.splitlines()) <= 100


def test_words_photographs_and_label_go_with_a_case(desk: Desk) -> None:
    """All in one go; the picture under its file's name."""
    walked(desk)
    (desk.folder / "board.jpg").write_bytes(JPEG)
    noted = desk.run(
        "note", "1", "Rust", "at the cap", "--photograph", "board.jpg", "--label", "power=8 W"
    )
    assert noted.code == 0
    case = kept(desk)
    assert case["notes"][0]["says"] == "Rust at the cap"
    assert (case["photographs"][0]["says"], case["label"]) == ("board", {"power": "8 W"})
    shown = desk.run("cases", "--show", "1", "--photographs", "pictures")
    assert "picture 1" in shown.out
    assert (desk.folder / "pictures" / "case-1-1.jpg").read_bytes() == JPEG


def test_a_case_is_closed_with_what_it_was(desk: Desk) -> None:
    """The fault by name, the proof with its limit and reading."""
    walked(desk, FIRST + "done\ndone\nb\n\n")
    closed = desk.run(
        "close", "--outcome", "mended", "--fault", "driver-dead", "--done", "new driver",
        "--passed", "soak=steady", "--cost", "12.5", "--currency", "EUR",
    )  # fmt: skip
    assert (closed.code, closed.err.count("CS")) == (0, 0)
    ending = kept(desk)["closing"]
    assert (ending["faults"], ending["outcome"]) == (["driver-dead"], "mended")
    assert (ending["cost"], ending["currency"]) == (12.5, "EUR")
    assert ending["proofs"][0]["limit"]
    assert " CS113 " in desk.run("resume", "1").err
    assert desk.run("close", "1", "--reopen").code == 0
    assert kept(desk)["closing"] is None


@pytest.mark.parametrize(
    ("options", "code"),
    [
        ((), "CS116"),
        (("--outcome", "mended", "--fault", "driver-ded"), "CS116"),
        (("--outcome", "mended", "--passed", "soak"), "CS116"),
        (("--outcome", "mended", "--failed", "soak=dark"), "CS118"),
    ],
)
def test_a_case_is_not_closed_on_what_does_not_fit(
    desk: Desk, options: tuple[str, ...], code: str
) -> None:
    """No outcome, no such fault, a proof without its reading, mended though a proof failed."""
    walked(desk)
    refused = desk.run("close", "1", *options)
    assert refused.code == 2
    assert f" {code} " in refused.err
    assert kept(desk)["state"] == "open"


def test_cases_go_to_another_shop(desk: Desk) -> None:
    """By file, each once; a table comes out, too."""
    walked(desk)
    assert desk.run("export", "-o", "cases.json").code == 0
    into = ("import", "cases.json", "--shop", "other.db")
    assert "1 new, 0 here already" in desk.run(*into).out
    assert "0 new, 1 here already" in desk.run(*into).out
    went_on = desk.run("resume", "1", "--shop", "other.db", typed=REST)
    assert "Replace the driver" in went_on.out
    table = desk.run("export", "--format", "csv").out
    assert table.splitlines()[1].startswith("1,open,grey lantern,gate-lantern")


@pytest.mark.parametrize(
    ("command", "code"),
    [
        (("cases", "--show", "9"), "CS111"),
        (("resume",), "CS111"),
        (("note", "1"), "CL151"),
        (("note", "9", "x"), "CS111"),
        (("import", "no.json"), "CL202"),
        (("export", "9"), "CS111"),
        (("cases", "--shop", "mysql://x/y"), "CS108"),
    ],
)
def test_what_cannot_be_done_is_said(desk: Desk, command: tuple[str, ...], code: str) -> None:
    """With a code and a mend."""
    refused = desk.run(*command)
    assert refused.code == 2
    assert f" {code} " in refused.err


def test_a_shop_that_cannot_be_kept_is_said_before_the_first_question(desk: Desk) -> None:
    """With the way to do without."""
    (desk.folder / "letter").write_text("x", encoding="utf-8")
    refused = desk.run(*UNIT, "--shop", "letter/shop.db", typed=FIRST)
    assert " CS105 " in refused.err
    assert "--no-case" in refused.err
    assert "before anything is opened" not in refused.out


def test_a_walk_whose_case_was_changed_elsewhere_stops_and_says_to_unplug(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It goes on at the other bench; here nothing is written over it."""
    from engine.cases.shop import Shop

    own, seen = Shop.keep, []

    def keep(self: Shop, number: int, version: int, standing: Any) -> int:
        if len(standing.events) == 2 and not seen:
            seen.append(own(self, number, version, standing))  # the other bench is faster
        return own(self, number, version, standing)

    monkeypatch.setattr(Shop, "keep", keep)
    stopped = desk.run(*UNIT, typed=FIRST)
    assert stopped.code == 2
    assert " CS112 " in stopped.err
    assert "nplug" in stopped.out
    assert kept(desk)["events"][-1]["event"]["test"] == "other-socket"
