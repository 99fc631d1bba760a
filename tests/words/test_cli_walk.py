"""Does the walk on the command line say and save what it should?"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from engine.audit import audit_walk
from tests.words.cli import LANTERN, Desk

UNIT = ("--model", str(LANTERN))
TO_VERDICT = "done\ndead\ndone\n2 V\ndone\nall lit\ndone\ndone\nb\n\n"


def answers(desk: Desk, text: str, name: str = "answers.yaml") -> str:
    """A file of answers on the desk."""
    (desk.folder / name).write_text(text, encoding="utf-8")
    return name


def saved_in(desk: Desk) -> list[Path]:
    """The walks saved in the user's data folder."""
    return sorted((desk.folder / "xdg_data_home" / "nextprobe" / "walks").glob("*.json"))


# ---- without a person ----


@pytest.mark.parametrize(
    "text",
    [
        "other-socket: dead\nprobe-leds: all-lit\nbridge-switch: dark\n",
        "other-socket: 'dead'\nprobe-leds: \"All light\"\nbridge-switch: it stays dark\n",
        '{"other-socket": "dead", "probe-leds": "all-lit",\n\t"bridge-switch": "dark"}',
        "# a note\n“other-socket”: “dead”\nprobe-leds: all lit   # quick\nbridge-switch: DARK\n",
    ],
    ids=["yaml", "quotes", "json", "curly"],
)
def test_answers_are_read_however_they_are_quoted(desk: Desk, text: str) -> None:
    """All lead to the same verdict in the same minutes."""
    ran = desk.run("walk", *UNIT, "--answers", answers(desk, text), "--json")
    assert ran.code == 0
    told = json.loads(ran.out)
    assert (told["verdict"]["remedy"], told["minutes"]) == ("new-driver", 17.5)


def test_the_walk_document_audits_clean(desk: Desk) -> None:
    """Recomputed from the two documents alone."""
    file = answers(desk, "other-socket: dead\nprobe-leds: one-dark\nrail-volts: 5.1 V\n")
    ran = desk.run("walk", *UNIT, "--answers", file, "--json")
    model = json.loads(LANTERN.read_text(encoding="utf-8"))
    assert audit_walk(model, json.loads(ran.out)) == ()


def test_a_test_missing_from_the_file_counts_as_one_that_cannot_be_done(desk: Desk) -> None:
    """And the step says so."""
    ran = desk.run("walk", *UNIT, "--answers", answers(desk, "other-socket: dead"), "--json")
    steps = json.loads(ran.out)["steps"]
    assert {step["test"] for step in steps if step["kind"] == "cannot"} >= {"probe-leds"}


@pytest.mark.parametrize("cannot", ["can't", "cannot", "-", "can’t do"])
def test_a_form_may_say_that_a_test_cannot_be_done(desk: Desk, cannot: str) -> None:
    """As if its line were not there."""
    (desk.folder / "none.yaml").write_text("{}\n", encoding="utf-8")
    model = json.loads(LANTERN.read_text(encoding="utf-8"))
    lines = "".join(f'{test["id"]}: "{cannot}"\n' for test in model["tests"])
    (desk.folder / "form.yaml").write_text(lines, encoding="utf-8")
    walks = [
        desk.run("walk", "--model", str(LANTERN), "--answers", name, "--json").out
        for name in ("none.yaml", "form.yaml")
    ]
    assert walks[0] == walks[1]


def test_a_verdict_on_nothing_says_so(desk: Desk) -> None:
    """An answers file with no answer in it."""
    (desk.folder / "none.yaml").write_text("{}\n", encoding="utf-8")
    told = desk.run("walk", "--model", str(LANTERN), "--answers", "none.yaml").out
    assert "nothing was tested or told" in " ".join(told.split())


def test_an_answer_to_what_this_complaint_rules_out_is_left_unused(desk: Desk) -> None:
    """A first plug-in is not offered after a trip; the form it stands on is still of use."""
    (desk.folder / "form.yaml").write_text("known-good-socket: dark\n", encoding="utf-8")
    told = desk.run(
        "walk", "enabled-lamp", "--complaint", "trips-protection", "--answers", "form.yaml"
    )
    assert told.code == 0
    assert "left unused: known-good-socket" in told.err


def test_without_json_the_run_is_told_in_words(desk: Desk) -> None:
    """Each step, then the verdict with its odds and proofs."""
    file = answers(desk, "other-socket: dead\nprobe-leds: all-lit\nbridge-switch: dark\n")
    ran = desk.run("walk", *UNIT, "--answers", file)
    for words in ("Try another socket: It stays dark", "Replace the driver", "89 %", "proof 2"):
        assert words in ran.out


# ---- with a person ----


def test_a_person_is_led_to_the_verdict_through_a_pipe(desk: Desk) -> None:
    """Questions, make-safe measurements, verdict; plain text without escape codes."""
    ran = desk.run("walk", *UNIT, typed=TO_VERDICT)
    assert ran.code == 0
    assert "Replace the driver" in ran.out
    assert "\x1b" not in ran.out
    assert all(line == line.rstrip() or "›" in line for line in ran.out.splitlines())


def test_every_answer_is_saved_and_the_walk_goes_on_from_there(desk: Desk) -> None:
    """Left after the second test by the end of input, resumed to the verdict."""
    typed = "done\ndead\ndone\n2 V\ndone\nall lit\n"
    left = desk.run("walk", *UNIT, "--no-case", typed=typed)
    assert left.code == 0
    assert "nplug" in left.out
    (file,) = saved_in(desk)
    assert f"nextprobe walk --from {file}" in left.out
    went_on = desk.run("walk", "--from", str(file), typed="done\n1 V\ndone\ndone\nb\n\n")
    assert "Replace the driver" in went_on.out
    assert json.loads(file.read_text(encoding="utf-8"))["verdict"]["remedy"] == "new-driver"


@pytest.mark.parametrize("lines", range(1, 9))
def test_a_walk_left_anywhere_ends_as_one_that_was_never_left(desk: Desk, lines: int) -> None:
    """The same findings and verdict; a unit left energised is unplugged first and set up anew."""
    desk.run("walk", *UNIT, "--save", "whole.json", typed=TO_VERDICT)
    typed = TO_VERDICT.splitlines(keepends=True)
    desk.run("walk", *UNIT, "--save", "left.json", typed="".join(typed[:lines]))
    told = {"dead", "all lit", "b"}
    left_to_say = [line for line in typed[lines:] if line.strip() in told]
    # "done" and "0 V" answer whatever setup steps and stores there are before each question.
    patient = "".join("done\n0 V\n" * 4 + line for line in left_to_say)
    desk.run("walk", "--from", "left.json", typed=patient + "\n")
    whole, left = (
        json.loads((desk.folder / name).read_text(encoding="utf-8"))
        for name in ("whole.json", "left.json")
    )
    for key in ("remedy", "confidence", "faults", "finer"):
        assert left["verdict"][key] == whole["verdict"][key]
    assert [s["answer"] for s in left["steps"] if s["kind"] == "test"] == [
        "dead",
        "all-lit",
        "dark",
    ]
    assert left["minutes"] >= whole["minutes"]


def test_a_unit_left_on_the_mains_is_unplugged_before_the_walk_goes_on(desk: Desk) -> None:
    """And its stores are measured; nothing else is asked before that."""
    desk.run("walk", *UNIT, "--save", "w.json", typed="done\ndead\ndone\n1 V\nstop\n")
    ran = desk.run("walk", "--from", "w.json", typed="can't\ndone\n1 V\nstop\n")
    assert "make sure the unit is unplugged" in ran.out
    assert "First this" in ran.out
    walk = json.loads((desk.folder / "w.json").read_text(encoding="utf-8"))
    assert walk["steps"][-1]["supply"] == "unplugged"
    assert walk["steps"][-1]["measured"] == [{"part": "C1", "volts": 1.0}]


def test_save_names_the_file(desk: Desk) -> None:
    """And nothing goes to the data folder."""
    desk.run("walk", *UNIT, "--save", "mine.json", typed="stop\n")
    assert (desk.folder / "mine.json").is_file()
    assert saved_in(desk) == []


def test_with_json_the_talk_goes_to_standard_error(desk: Desk) -> None:
    """Standard output is the document alone."""
    ran = desk.run("walk", *UNIT, "--json", typed=TO_VERDICT)
    assert json.loads(ran.out)["verdict"]["remedy"] == "new-driver"
    assert "Replace the driver" in ran.err


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("why\n", "It lights: 20 % likely"),
        ("w\n", "It lights: 20 % likely"),
        ("how\n", "nothing has been measured"),
        ("help\n", "take the last thing said back"),
        ("?\n", "take the last thing said back"),
        ("undo\n", "Taken back: the answer to “"),
        ("done\nmaybe\n", "“maybe” is none of this test's answers"),
        ("done\n\n", "An empty answer says nothing"),
        ("nonsense\n", "“nonsense” is none of this test's answers"),
        ("dead\nnonsense\n", "Type done when it is carried out"),
        ("known rail-volts 5.1 V\n", "(5.1 V)."),
        ("known bridge-switch lit\n", "Noted: It lights"),
        ("known\nbridge\na\n", "Noted: It lights"),
        ("known\n9\n2\na\n", "No test left has “9” in it"),
        ("known rail-volts 3 A\n", "This test wants volts"),
        ("can't\na\n", "without that test"),
        ("can't\nsupply\n", "without that test"),
        ("stop\n", "nextprobe resume 1"),
        ("done\ndead\ndone\n45 V\n", "Still charged. Hands off."),
        ("done\ndead\ndone\nlow\n", "Type what the meter reads"),
        ("done\ndead\ndone\nout of reach\n", "Then it counts as charged"),
    ],
)
def test_commands_work_wherever_one_is(desk: Desk, typed: str, words: str) -> None:
    """By word and by key, with a sentence for what isn't understood."""
    said = " ".join(desk.run("walk", *UNIT, typed=typed).out.split())
    assert words in said


def test_undo_takes_back_words_and_leaves_the_bench(desk: Desk) -> None:
    """The cap stays open."""
    desk.run(
        "walk",
        *UNIT,
        "--save",
        "w.json",
        typed="done\ndead\ndone\n2 V\ndone\nall lit\nundo\nstop\n",
    )
    walk = json.loads((desk.folder / "w.json").read_text(encoding="utf-8"))
    assert [s["answer"] for s in walk["steps"] if s["kind"] == "test"] == ["dead"]
    assert walk["steps"][-1]["opened"] == ["cap"]


def test_a_saved_walk_whose_model_changed_is_weighed_anew_and_says_so(desk: Desk) -> None:
    """The answers stay facts about the unit."""
    model = json.loads(LANTERN.read_text(encoding="utf-8"))
    copy = desk.folder / "lantern.json"
    copy.write_text(json.dumps(model), encoding="utf-8")
    desk.run("walk", "--model", "lantern.json", "--save", "w.json", typed="done\ndead\nstop\n")
    model["wrong_verdict_minutes"] = 90
    copy.write_text(json.dumps(model), encoding="utf-8")
    ran = desk.run("walk", "--from", "w.json", typed="done\ndone\n0 V\nstop\n")
    assert "the knowledge has changed" in ran.err
    assert "Light each package" in ran.out


# ---- at the entry ----


def with_entry(desk: Desk) -> str:
    """The lantern with an entry check and a remedy for each way out."""
    model = json.loads(LANTERN.read_text(encoding="utf-8"))
    model["entry"] = [
        {"id": "ours", "asks": "Is it a microwave oven?", "why": "Its capacitor kills.",
         "answers": {"no": "go-on", "yes": "refuse"}},
        {"id": "bang", "asks": "Was there a bang?", "why": "",
         "answers": {"no": "go-on", "yes": "cold-first"}},
    ]  # fmt: skip
    (desk.folder / "entry.json").write_text(json.dumps(model), encoding="utf-8")
    return "entry.json"


def test_a_refused_unit_gets_no_question_more(desk: Desk) -> None:
    """And nothing is energised."""
    ran = desk.run("walk", "--model", with_entry(desk), "--json", typed="why\nyes\n")
    told = json.loads(ran.out)
    assert (told["verdict"]["kind"], told["steps"]) == ("refuse", [])
    assert "Its capacitor kills." in ran.err


def test_a_bang_keeps_the_unit_off_the_plain_mains(desk: Desk) -> None:
    """The first question is a cold one, with a person and without."""
    unit = with_entry(desk)
    asked = desk.run("walk", "--model", unit, typed="no\nyes\nstop\n")
    assert "Try another socket" not in asked.out
    file = answers(desk, "ours: no\nbang: yes\nother-socket: dead\nprobe-leds: all-lit\n")
    run = json.loads(desk.run("walk", "--model", unit, "--answers", file, "--json").out)
    assert "mains" not in {step["supply"] for step in run["steps"]}


def test_undo_goes_back_a_question_of_the_entry_check(desk: Desk) -> None:
    """No, back, yes: refused."""
    ran = desk.run("walk", "--model", with_entry(desk), typed="no\nundo\nyes\n")
    assert "refused" in ran.out


def test_leaving_during_the_entry_check_saves_nothing(desk: Desk) -> None:
    """There is nothing yet."""
    ran = desk.run("walk", "--model", with_entry(desk), typed="stop\n")
    assert ran.code == 0
    assert saved_in(desk) == []


def test_a_trip_told_at_the_entry_check_is_the_complaint(desk: Desk) -> None:
    """Its own question follows, and what is suspected is weighed by it."""
    (desk.folder / "form.yaml").write_text(
        "bang-smell-trip: breaker or RCD tripped\ninsulation-before-energising: it passes\n",
        encoding="utf-8",
    )
    told = desk.run("walk", "buck-lamp", "--answers", "form.yaml", "--json")
    walk = json.loads(told.out)
    assert walk["complaint"] == "trips-protection"
    assert walk["entry"]["insulation-before-energising"] == "it passes"


def test_a_failed_insulation_test_after_a_trip_ends_the_job(desk: Desk) -> None:
    """Though no complaint was named."""
    (desk.folder / "form.yaml").write_text(
        "bang-smell-trip: breaker or RCD tripped\ninsulation-before-energising: it fails\n",
        encoding="utf-8",
    )
    told = desk.run("walk", "buck-lamp", "--answers", "form.yaml", "--json")
    assert json.loads(told.out)["verdict"]["kind"] == "scrap"


def test_a_person_is_asked_what_the_trip_brings_up(desk: Desk) -> None:
    """The insulation test, before the first check; where it passes the trip is a complaint."""
    typed = "no\nno\nno\nyes\nbreaker or RCD tripped\n"
    fails = desk.run("walk", "buck-lamp", typed=typed + "it fails\n")
    assert "does the insulation test" in " ".join(fails.out.split())
    assert "scrap" in fails.out
    passes = desk.run("walk", "buck-lamp", typed=typed + "it passes\nstop\n")
    assert "trips protection, by what was just answered" in " ".join(passes.out.split())


TRIPPED = (
    "refused-kinds: no\nfixed-wiring: no\nwet-or-melted: no\nwhole: yes\n"
    "bang-smell-trip: breaker or RCD tripped\n"
)


@pytest.mark.parametrize("complaint", ["dim", "never-lights", "trips-protection"])
def test_a_trip_is_asked_about_whatever_the_owner_complains_of(desk: Desk, complaint: str) -> None:
    """The insulation test comes before the first check; the trip joins what the owner told."""
    typed = "no\nno\nno\nyes\nbreaker or RCD tripped\nno insulation tester\nstop\n"
    told = desk.run("walk", "buck-lamp", "--complaint", complaint, typed=typed)
    out = " ".join(told.out.split())
    assert out.index("does the insulation test") < out.index("suspects")
    joint = f"{complaint.replace('-', ' ')} and trips protection, by what was just answered"
    assert (joint in out) is (complaint != "trips-protection")


@pytest.mark.parametrize("complaint", ["dim", "trips-protection"])
def test_a_trip_with_nothing_said_of_the_insulation_is_never_energised(
    desk: Desk, complaint: str
) -> None:
    """Without a person, and when the walk saved from it is gone on with; it is said each time."""
    (desk.folder / "form.yaml").write_text(TRIPPED, encoding="utf-8")
    told = desk.run(
        "walk", "buck-lamp", "--complaint", complaint, "--answers", "form.yaml", "--json"
    )
    walk = json.loads(told.out)
    energised = {"isolated-limited", "rcd-limited", "normal-mains", "string-source"}
    assert not {step["supply"] for step in walk["steps"]} & energised
    assert "insulation-before-energising is due and not answered" in told.err
    (desk.folder / "w.json").write_text(told.out, encoding="utf-8")
    (desk.folder / "more.yaml").write_text("limiter-glow: not-bright\n", encoding="utf-8")
    again = desk.run("walk", "--from", "w.json", "--answers", "more.yaml", "--json")
    assert not {step["supply"] for step in json.loads(again.out)["steps"]} & energised
    assert "due and not answered" in again.err


def test_an_answers_file_without_the_entry_check_says_so(desk: Desk) -> None:
    """It counts as passed on paper only."""
    file = answers(desk, "other-socket: dead\n")
    ran = desk.run("walk", "--model", with_entry(desk), "--answers", file)
    assert "entry check not answered: " in ran.err
    assert "ours, bang. It counts as passed" in ran.err


def test_a_saved_walk_without_its_entry_check_is_asked_first(desk: Desk) -> None:
    """As when someone empties it by hand: nothing is done before, and a refusal ends it."""
    desk.run("walk", "--model", with_entry(desk), "--save", "w.json", typed="no\nno\nstop\n")
    saved = json.loads((desk.folder / "w.json").read_text(encoding="utf-8"))
    saved["entry"] = {}
    (desk.folder / "w.json").write_text(json.dumps(saved), encoding="utf-8")
    left = desk.run("walk", "--from", "w.json", typed="no\nstop\n")
    assert "They come first" in left.out
    assert "The saved walk is as it was" in left.out
    assert json.loads((desk.folder / "w.json").read_text(encoding="utf-8")) == saved
    ended = desk.run("walk", "--from", "w.json", typed="yes\n")
    assert "refused" in ended.out
    assert "set up" not in ended.out


def test_a_saved_walk_that_stood_on_what_its_check_rules_out_is_not_gone_on_with(
    desk: Desk,
) -> None:
    """An answer changed by hand, or given late: the sentence says what to do."""
    unit = with_entry(desk)
    file = answers(desk, "ours: no\nbang: no\nother-socket: dead\n")
    walk = json.loads(desk.run("walk", "--model", unit, "--answers", file, "--json").out)
    assert "mains" in {step["supply"] for step in walk["steps"]}
    walk["entry"]["bang"] = "yes"
    (desk.folder / "w.json").write_text(json.dumps(walk), encoding="utf-8")
    ran = desk.run("walk", "--from", "w.json", typed="no\nno\nno\nyes\nno\nstop\n")
    assert "CL114" in ran.err
    assert "begin a new walk" in ran.err
