"""Does `nextprobe bench` show and change the bench, and do the other commands go by it?"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kb.language import benchfile
from tests.words.cli import Desk

LAMP = "light-controlled-lamp"


def own(desk: Desk) -> Path:
    """Where the bench file of this person lies."""
    return desk.folder / "xdg_data_home" / "nextprobe" / "knowledge" / "bench.yaml"


def offered(desk: Desk, *words: str) -> set[str]:
    """The tests of the model that these words ask for."""
    ran = desk.run("model", LAMP, "--json", *words)
    assert ran.code == 0, ran.err
    return {test["id"] for test in json.loads(ran.out)["tests"]}


def test_the_usual_bench_is_shown_and_nothing_is_written(desk: Desk) -> None:
    """What is there, what is lacking, and how it comes in."""
    ran = desk.run("bench")
    there, lacking = ran.out.split("Lacking;")
    assert ran.code == 0
    assert "battery" in there
    assert "esr-meter" in lacking
    assert "--with" in lacking
    assert not own(desk).exists()


def test_options_write_the_file_and_the_next_model_goes_by_it(desk: Desk) -> None:
    """In the person's own folder, which is made; and it is shown from there."""
    before = offered(desk)
    ran = desk.run(
        "bench", "--has", "esr-meter", "--lacks", "isolated-limited", "--pace", "1.2",
        "--spare", "buck-lamp/driver", "--worth-minute", "0.3", "--worth", f"{LAMP}=12",
        "--minutes", "ohms=1.5", "--traced", f"{LAMP}/control", "--currency", "EUR",
    )  # fmt: skip
    assert ran.code == 0, ran.err
    says = benchfile.read(own(desk)).says
    assert (says.has, says.lacks, says.spares) == (
        ("esr-meter",), ("isolated-limited",), ("buck-lamp/driver",),
    )  # fmt: skip
    assert says.minutes.model_dump() == {
        "factor": 1.2, "actions": {"ohms": 1.5}, "openings": {}, "remedies": {},
    }  # fmt: skip
    assert (says.worth.minute, says.worth.units, says.worth.currency) == (0.3, {LAMP: 12}, "EUR")
    assert says.traced == {LAMP: ("control",)}
    for words in ("(yours)", "(usual)", "ohms: 1.5 min", "1.2 times", "a minute: 0.3 EUR"):
        assert words in ran.out
    assert offered(desk) - before >= {"esr-C1"}


def test_a_wish_that_can_not_be_granted_changes_nothing(desk: Desk) -> None:
    """Told in a sentence, exit code 2."""
    assert desk.run("bench", "--has", "esr-meter").code == 0
    before = own(desk).read_text(encoding="utf-8")
    for words, code in (
        (("--has", "esr-metre"), "KB125"),
        (("--pace", "9"), "KB124"),
        (("--minutes", "ohms"), "KB127"),
        (("--minutes", "ohm=2"), "KB125"),
        (("--spare", "buck-lamp/x"), "KB125"),
    ):
        ran = desk.run("bench", *words)
        assert (ran.code, code in ran.err) == (2, True)
        assert own(desk).read_text(encoding="utf-8") == before


def test_what_is_there_is_no_longer_lacking_and_a_name_can_be_struck(desk: Desk) -> None:
    """The last word counts."""
    desk.run("bench", "--lacks", "battery")
    desk.run("bench", "--has", "battery")
    assert benchfile.read(own(desk)).says.lacks == ()
    desk.run("bench", "--forget", "battery")
    assert benchfile.read(own(desk)).says == benchfile.USUAL


def test_questions_are_asked_until_they_are_answered(desk: Desk) -> None:
    """A wrong name is told and asked again; Enter keeps, none empties."""
    desk.run("bench", "--spare", "buck-lamp/driver")
    typed = "esr-metre\nesr-meter, bench-low\n\nten\n12.5\nnone\n0,5 EUR\n"
    ran = desk.run("bench", "--edit", typed=typed)
    assert ran.code == 0, ran.err
    assert "Write esr-meter" in " ".join(ran.out.split())
    says = benchfile.read(own(desk)).says
    assert (says.has, says.lacks, says.spares) == (("esr-meter", "bench-low"), (), ())
    assert says.minutes.factor == pytest.approx(1.25)
    assert (says.worth.minute, says.worth.currency) == (0.5, "EUR")


def test_questions_that_are_broken_off_change_nothing(desk: Desk) -> None:
    """The end of input in the middle."""
    ran = desk.run("bench", "--edit", typed="esr-meter\n")
    assert ran.code == 130
    assert "Nothing is changed" in ran.out
    assert not own(desk).exists()


def test_json_tells_what_is_there_and_what_is_lacking(desk: Desk) -> None:
    """With the shop's own words."""
    desk.run("bench", "--has", "esr-meter", "--pace", "0.8")
    told = json.loads(desk.run("bench", "--json").out)
    assert "esr-meter" in {thing["id"] for thing in told["there"]}
    assert "bench-low" in {thing["id"] for thing in told["lacking"]}
    assert told["minutes"]["factor"] == 0.8


def test_with_brings_a_check_back_for_one_plan(desk: Desk) -> None:
    """And without takes it away again."""
    assert "esr-C1" not in offered(desk)
    assert "esr-C1" in offered(desk, "--with", "esr-meter")
    assert "esr-C1" not in offered(desk, "--with", "esr-meter", "--without", "esr-meter")


def test_a_mistake_in_the_file_is_told_at_its_line_by_every_command(desk: Desk) -> None:
    """Before anything is planned."""
    own(desk).parent.mkdir(parents=True)
    own(desk).write_text("format: nextprobe-bench/1\nhas: [esr-metre]\n", encoding="utf-8")
    for words in (
        ("model", LAMP), ("walk", LAMP), ("chart", LAMP), ("trial", LAMP), ("bench",),
        ("coverage", LAMP), ("check",),
    ):  # fmt: skip
        ran = desk.run(*words)
        assert ran.code == 2
        assert "bench.yaml:2:7 KB125" in ran.out + ran.err


def test_a_model_made_elsewhere_is_made_for_its_own_bench(desk: Desk) -> None:
    """Nothing is brought into it."""
    made = desk.run("model", LAMP, "--json")
    (desk.folder / "m.json").write_text(made.out, encoding="utf-8")
    ran = desk.run("chart", "--model", "m.json", "--with", "esr-meter")
    assert (ran.code, "CL109" in ran.err) == (2, True)


def test_a_reading_of_an_instrument_beyond_the_usual_is_understood(desk: Desk) -> None:
    """Who has the reading has the instrument."""
    ran = desk.run("reading", LAMP, "esr-C1", "40 ohm")
    assert ran.code == 0, ran.err
    assert "esr-C1" in ran.out
