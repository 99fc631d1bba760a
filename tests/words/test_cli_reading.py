"""Does `nextprobe reading` say what a reading means, and turn down what is none?"""

from __future__ import annotations

import json
import math
import xml.etree.ElementTree as ElementTree

import pytest

from engine import library
from engine.model.records import Mains, sha256
from tests.words.cli import Desk

LAMP = "buck-lamp"


def test_a_reading_is_explained_in_words(desk: Desk) -> None:
    """What is due, how far off, which faults, what next; the reading as it was understood."""
    run = desk.run("reading", LAMP, "volts-TP2", "210V")
    assert run.code == 0
    for label in ("due", "off by", "explains", "next"):
        assert f"\n{label} " in run.out
    assert "210 V" in run.out


def test_a_test_point_stands_for_its_volts(desk: Desk) -> None:
    """TP2 and volts-TP2 ask the same."""
    told = [
        json.loads(desk.run("reading", LAMP, name, "210 V", "--json").out)
        for name in ("TP2", "volts-TP2")
    ]
    assert told[0]["test"] == told[1]["test"] == "volts-TP2"
    assert told[0]["explanations"] == told[1]["explanations"]


def test_the_document_says_all_faults_and_sums_to_one(desk: Desk) -> None:
    """Odds before and after are odds; the hash is that of the model."""
    told = json.loads(desk.run("reading", LAMP, "TP2", "210V", "--json").out)
    model = library.model(LAMP, mains=Mains(230, 50))
    assert told["format"] == "nextprobe-reading/1"
    assert told["model_sha256"] == sha256(model)
    assert {one["fault"] for one in told["explanations"]} == {f.id for f in model.faults}
    for odds in ("before", "after"):
        assert math.isclose(sum(one[odds] for one in told["explanations"]), 1.0, abs_tol=1e-9)


def test_two_readings_of_one_band_get_other_odds(desk: Desk) -> None:
    """The number counts, not only its band."""
    told = [
        json.loads(desk.run("reading", LAMP, "TP2", volts, "--json").out)
        for volts in ("100V", "215V")
    ]
    assert told[0]["outcome"] == told[1]["outcome"] == "low"
    likeliest = [max(one["explanations"], key=lambda e: e["after"])["fault"] for one in told]
    assert likeliest[0] != likeliest[1]


def test_the_picture_is_a_drawing_with_words(desk: Desk) -> None:
    """Well-formed, with title and description, and every row named."""
    desk.run("reading", LAMP, "TP2", "210V", "--svg", "picture.svg")
    root = ElementTree.parse(desk.folder / "picture.svg").getroot()
    names = [element.tag.rpartition("}")[2] for element in root.iter()]
    assert names.count("title") == 1
    assert names.count("desc") == 1
    assert names.count("path") >= 3
    assert "sound" in "".join(root.itertext())


def test_a_number_beyond_every_range_is_told_off(desk: Desk) -> None:
    """The same sentence as in a walk."""
    run = desk.run("reading", LAMP, "TP2", "9000V")
    assert (run.code, "RD3" in run.err) == (2, True)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("TP9", "3V"), "CL121"),
        (("TP2", "3 kΩ"), "RD2"),
        (("TP2", "3 V AC"), "RD2"),
        (("TP2", "1e999"), "RD3"),
        (("TP2", "--", "-"), "RD1"),
        (("TP2", "3V", "--value", "R3"), "EV102"),
        (("TP2", "3V", "--value", "R3=bla"), "EV102"),
        (("TP2", "3V", "--value", "R99=3k"), "EV101"),
        (("TP2", "3V", "--value", "R3=470k"), "EV103"),
    ],
)
def test_what_is_no_reading_gets_a_sentence(desk: Desk, words: tuple[str, ...], code: str) -> None:
    """With its code, and exit code 2."""
    run = desk.run("reading", LAMP, *words)
    assert run.code == 2
    assert code in run.err


def test_a_marking_changes_what_is_due(desk: Desk) -> None:
    """With the bulk capacitor read off, designs near it count alone: what they read spans less."""
    said = [
        json.loads(desk.run("reading", LAMP, "ripple-TP3", "9 V", *more, "--json").out)["due"]
        for more in ((), ("--value", "C1=3.3u"))
    ]
    plain, known = (due["simulated"]["high"] / due["simulated"]["low"] for due in said)
    assert known < plain


def test_a_marking_moves_the_rules_band_and_words(desk: Desk) -> None:
    """What R4 may read follows its marking, where no design was derived for it, too."""
    for marking, low, high in (("1.5M", 1.5e6, 1.8e6), ("2.2M", 2.2e6, 2.7e6)):
        run = desk.run("reading", LAMP, "ohms-R4", "1M", "--value", f"R4={marking}", "--json")
        assert low < json.loads(run.out)["due"]["high"] <= high
        assert ("in none of the designs" in run.err) == (marking == "2.2M")


def test_over_range_of_a_dropper_is_foreseen(desk: Desk) -> None:
    """An open R2 is simulated to read so; what leaves it sound does only if misread."""
    run = desk.run("reading", "light-controlled-lamp", "ohms-R2", "OL")
    assert "No fault that was simulated" not in run.out
    assert "misread" in run.out


def test_a_good_unit_says_what_is_due(desk: Desk) -> None:
    """Its readings stand in the document, and a reading like them is sounder than before."""
    (desk.folder / "good.yaml").write_text("volts-TP4: 67.0 V\n", encoding="utf-8")
    plain = json.loads(desk.run("reading", LAMP, "TP4", "67V", "--json").out)
    good = json.loads(desk.run("reading", LAMP, "TP4", "67V", "--good", "good.yaml", "--json").out)
    assert good["due"]["good_unit"] == 67.0
    odds = [
        next(e["after"] for e in told["explanations"] if e["fault"] == "no-fault")
        for told in (plain, good)
    ]
    assert odds[1] > odds[0]


def test_a_good_unit_without_a_derived_test_is_told(desk: Desk) -> None:
    """Words say nothing of what the make reads; nor do tests that no circuit is read at."""
    (desk.folder / "good.yaml").write_text("known-good-socket: lights-well\n", encoding="utf-8")
    run = desk.run("reading", LAMP, "TP4", "67V", "--good", "good.yaml")
    assert run.code == 0
