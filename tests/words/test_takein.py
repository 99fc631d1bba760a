"""Is a unit taken in by whatever words people have for it, and the last word taken back?"""

from __future__ import annotations

import io
from collections.abc import Iterable

import pytest

from engine.intake.suggestion import listener
from engine.model import records
from engine.model.file import read_model
from engine.model.records import Outcome
from engine.planner import plan
from engine.readings import bands, diode
from engine.walk import job
from engine.walk.events import Known
from engine.walk.job import Outset
from kb.language import loader
from kb.trouble import TroubleError
from render.terminal.screen import Screen
from render.terminal.takeback import Remarks
from render.terminal.takein import Abandonment, Arrival, Desk, pick
from tests.words.cli import LANTERN
from tests.words.cli import Desk as Bench

UNITS = {"buck-lamp": "Screw-base lamp", "porch-light": "Porch light"}
WALK = ("walk", "--model", str(LANTERN))
TO_VERDICT = "done\ndead\ndone\n2 V\ndone\nall lit\ndone\ndone\nb\n"


def taken_in(*typed: str) -> tuple[Arrival, str]:
    """What was understood of what was typed, and what was shown."""
    shown = io.StringIO()
    lines = iter(typed)
    complaints = {name: one.says for name, one in loader.read().complaints.items()}
    screen = Screen(shown, width=80)
    mains = ("230/50", "120/60")
    desk = Desk(screen, lambda prompt: next(lines), UNITS, complaints, mains, listener())
    return desk.take_in(), shown.getvalue()


def test_undo_at_the_first_question_of_the_entry_check_goes_back_into_the_intake(
    desk: Bench,
) -> None:
    """To its last question, with what was told before it; so on to the unit."""
    screen = desk.terminal("walk")
    for prompt, typed in (
        ("which unit?", "buck lamp"), ("what does the owner say?", ""), ("mains,", ""),
        ("lack today?", ""), ("answer, or why", "undo"), ("lack today?", "undo"),
        ("mains,", "undo"), ("what does the owner say?", "stop"),
    ):  # fmt: skip
        screen.wait(prompt)
        screen.type(typed + "\n")
    assert screen.end() == 0
    assert "nothing is saved" in screen.shown


@pytest.mark.parametrize(
    ("unit", "words", "meant", "complaint"),
    [
        ("a", "It WON'T turn on", "a", "never-lights"),
        ("Buck Lamp", "flikers a lot", "a", "flicker"),
        ("buck_lamp", "Never Lights", None, "never-lights"),
        ("BUCK", "it is dim", "none", None),
        ("buck-lamp", "", None, None),
        ("buck-lamp", "something is odd", "dim", "dim"),
        ("buck-lamp", "it is dim", "hum buzz", "hum-buzz"),
    ],
)
def test_a_unit_and_its_complaint_are_understood(
    unit: str, words: str, meant: str | None, complaint: str | None
) -> None:
    """By letter, name or own words; a suggestion is never forced."""
    typed = [unit, words, *([meant] if meant is not None else []), "", ""]
    arrival, _ = taken_in(*typed)
    assert arrival == Arrival("buck-lamp", complaint, words, "230/50", ())


def test_undo_goes_back_a_question_whichever_it_is() -> None:
    """To the words, to the unit; at the first there is nothing before it."""
    arrival, shown = taken_in(
        "undo", "a", "undo", "porch", "it is dim", "undo", "flickers", "flicker", "120", "u", "120",
        "u", "", "",
    )  # fmt: skip
    assert arrival == Arrival("porch-light", "flicker", "flickers", "230/50", ())
    assert "This is the first question" in shown


@pytest.mark.parametrize("word", ["don't know", "Don't Know", "?", "", "c"])
def test_nobody_has_to_know_which_unit_it_is(word: str) -> None:
    """Don't know takes the unit for one that nobody has opened."""
    lines = iter([word, "", "", ""])
    units = {**UNITS, "unknown-lamp": "A lamp"}
    screen = Screen(io.StringIO(), width=80)
    desk = Desk(
        screen, lambda prompt: next(lines), units, {}, ("230/50",), listener(), "unknown-lamp"
    )  # fmt: skip
    assert desk.take_in().topology == "unknown-lamp"


def test_several_sentences_are_taken_where_several_fit() -> None:
    """By letters or names, each once."""
    arrival, _ = taken_in("a", "something is odd", "dim, hum buzz, dim", "", "")
    assert arrival.complaint == "dim+hum-buzz"


def test_mains_and_lacks_are_taken_as_they_come() -> None:
    """Volts alone will do; names are parted by commas."""
    arrival, _ = taken_in("a", "", "120 V", "ESR meter, limited mains")
    assert (arrival.mains, arrival.without) == ("120/60", ("esr-meter", "limited-mains"))


def test_what_speaks_for_a_suggestion_is_shown() -> None:
    """In the owner's own words."""
    _, shown = taken_in("a", "smels of burning", "a", "", "")
    assert "smels" in shown


def test_what_no_unit_here_has_is_said() -> None:
    """And all complaints are offered."""
    _, shown = taken_in("a", "doesn't charge", "none", "", "")
    assert "which no unit here has" in shown
    assert "trips the breaker" in shown


@pytest.mark.parametrize("lines", range(4))
def test_whoever_stops_has_begun_nothing(lines: int) -> None:
    """At each question."""
    typed = ["a", "", "", ""][:lines]
    with pytest.raises(Abandonment):
        taken_in(*typed, "stop")


def test_a_beginning_that_fits_two_names_picks_none() -> None:
    """One that fits one picks it."""
    assert pick("b", ("xa", "xb")) == "xb"
    assert pick("x", ("xa", "xb")) is None
    assert pick("xa", ("xab", "xb")) == "xab"


def test_a_walk_without_a_name_asks_at_a_terminal(desk: Bench) -> None:
    """Four questions, then the entry check of the unit that was named."""
    terminal = desk.terminal("walk")
    told = {"which unit?": "Buck Lamp", "own words": "it flikers", "is meant?": "a", "mains,": "",
            "lack today?": ""}  # fmt: skip
    for prompt, line in told.items():
        terminal.wait(prompt)
        terminal.type(line + "\n")
    assert "before anything is opened" in terminal.wait("answer, or why")
    terminal.type("stop\n")
    assert terminal.end() == 0


def test_a_verdict_fits_eight_lines(desk: Bench) -> None:
    """80 columns wide, its heading and what is owed to safety included."""
    desk.monkeypatch.setenv("COLUMNS", "80")
    shown = desk.run(*WALK, typed=TO_VERDICT + "\n").out
    verdict = shown.rpartition("── verdict")[2].partition("\nEnter to finish")[0]
    assert len(verdict.splitlines()) <= 8
    for words in ("Replace the driver", "89 %", "WARNING stored charge", "type proofs"):
        assert words in verdict


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("proofs", ("proof 2", "Limit:", "An insulation tester puts out")),
        ("more", ("proof 1", "enough?", "Capacitors stay charged")),
        ("how", ("points at",)),
    ],
)
def test_the_rest_of_a_verdict_stands_behind_a_word(
    desk: Bench, asked: str, words: Iterable[str]
) -> None:
    """And the verdict stands again above the prompt."""
    shown = desk.run(*WALK, typed=f"{TO_VERDICT}{asked}\n\n").out
    for word in words:
        assert word in shown
    assert shown.count("── verdict") >= 2


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("done\ndead\nundo\n", "Taken back: Try another socket: It stays dark."),
        ("known rail-volts 5.1 V\nundo\n", "(5.1 V). The bench stays as it is."),
        ("can't\na\nundo\n", "Taken back: can't do:"),
        ("undo\n", "Taken back: the answer to “"),
        ("done\nundo\nno\n", "── back at the bench"),
        ("known rail-volts 5.1 V\nundo\nundo\nno\nmore\n", "to go any time"),
    ],
)
def test_what_is_taken_back_is_said(desk: Bench, typed: str, words: str) -> None:
    """An answer, a known fact, something that can't be done, an answer of the entry check; what
    hands did stays done, at a bench that counts as left."""
    assert words in " ".join(desk.run(*WALK, typed=typed).out.split())


def test_a_marking_is_taken_back_before_what_was_said_before_it() -> None:
    """It is no event, so it is remembered apart; what hands did since stays done."""
    model = read_model(LANTERN.read_text(encoding="utf-8"), "lantern")
    begun = job.begin(Outset(model), plan)
    told = job.take(begun, Known("rail-volts", "low"))
    marked = job.take(job.begin(Outset(model, options=(("values", "R2=1k"),)), plan),
                      Known("rail-volts", "low"))  # fmt: skip
    remarks = Remarks()
    here = remarks.note("R2=1k", told, marked)
    setting = job.pending(here)
    assert isinstance(setting, job.Setting)
    moved = job.take(here, setting.event)
    back, says = remarks.take_back(moved)
    assert says == "R2=1k"
    assert (back.outset.options, back.bench) == ((), moved.bench)
    again, says = remarks.take_back(back)
    assert "rail" in says.casefold() or "volts" in says.casefold()
    assert remarks.take_back(again)[1] == ""


def test_more_tells_all_there_is_to_a_step(desk: Bench) -> None:
    """Where the fault may be, with what, and how."""
    plain = desk.run(*WALK, typed="done\n").out
    more = desk.run(*WALK, typed="done\nmore\n").out
    assert "fault in" not in plain
    assert "fault in" in more


def test_an_unknown_answer_gets_the_letters_on_the_screen(desk: Bench) -> None:
    """With their words."""
    shown = " ".join(desk.run(*WALK, typed="done\nmaybe\n").out.split())
    assert "On the screen: a It lights, b It stays dark" in shown


@pytest.mark.parametrize(
    ("typed", "outcome"),
    [
        ("0.55 V", "junction"),
        ("0.55", "junction"),
        ("550 mV", "junction"),
        ("0.02 V", "near-nothing"),
        ("OL", "open"),
        ("2.1 V", "open"),
        ("junction", "junction"),
    ],
)
def test_a_reading_of_the_diode_range_is_an_answer(typed: str, outcome: str) -> None:
    """Of a test that is answered in words."""
    assert bands.read(typed, on_range(diode.RANGE)).outcome == outcome


def test_volts_are_no_answer_elsewhere() -> None:
    """Nor is a reading that no outcome of the test stands for."""
    with pytest.raises(TroubleError, match="RD5"):
        bands.read("0.55 V", on_range("ohm range"))
    assert diode.outcome("1.2 V", on_range(diode.RANGE)) is None
    assert diode.outcome("-0.5 V", on_range(diode.RANGE)) is None


def on_range(instrument: str) -> records.Test:
    """A test of a junction on this range."""
    outcomes = tuple(
        Outcome(name, name, None, None, None) for name in ("junction", "near-nothing", "open")
    )
    return records.Test(
        id="junction-D1", says="D1?", minutes=1.0, opened=(), supply="unplugged", rig="none",
        hands_on=True, outcomes=outcomes, hazards=(), cautions=(), misread={}, because=(),
        instrument=instrument,
    )  # fmt: skip
