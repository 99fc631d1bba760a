"""Does the page read what is typed as the walk does?

The page's script is run by V8 and held to `engine.readings.bands.read`, the walk's own reader, over
texts of every notation and over random ones.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from py_mini_racer import MiniRacer

import render.page
from engine.model.records import Arrangement, Outcome, Test
from engine.readings import bands
from kb.trouble import TroubleError

LIMITED = Arrangement("limited", "mains", 325.0, hands_on=False, closed_only=False)


def make(name: str, *outcomes: Outcome, instrument: str = "") -> Test:
    """A test of that name; the rest does not matter to a reading."""
    return Test(
        id=name, says="", minutes=1, opened=(), supply="limited", rig="none", hands_on=False,
        outcomes=outcomes, instrument=instrument,
    )  # fmt: skip


TESTS = (
    make(
        "rail", Outcome("dead", "Nothing there", None, 1.0, "V"),
        Outcome("low", "Low", 1.0, 4.6, "V"),
        Outcome("good", "At the zener voltage", 4.6, 5.6, "V"), Outcome("high", "", 5.6, None, "V"),
        instrument="DC volts",
    ),
    make(
        "offset", Outcome("negative", "", None, -0.05, "V"),
        Outcome("centred", "", -0.05, 0.05, "V"), Outcome("positive", "", 0.05, None, "V"),
        instrument="AC volts",
    ),
    make(
        "ohms", Outcome("short", "near zero", 0.0, 10.0, "Ω"),
        Outcome("some", "some resistance", 10.0, 1e7, "Ω"),
        Outcome("open", "above", 1e7, None, "Ω"),
    ),
    make("leak", Outcome("leaky", "", None, 2.0, "MΩ"), Outcome("sound", "", 2.0, None, "MΩ")),
    make(
        "current", Outcome("none-at-all", "", None, 2.0, "mA"), Outcome("due", "", 2.0, 60.0, "mA"),
        Outcome("heavy", "", 60.0, None, "mA"),
    ),
    make(
        "junction", Outcome("short", "", 0.0, 0.3, "V"), Outcome("good", "", 0.3, 1.0, "V"),
        Outcome("over", "OL both ways"), instrument="meter on the diode range",
    ),
    make(
        "ways", Outcome("near-nothing", "near nothing"), Outcome("one-junction", "one junction"),
        Outcome("two-junctions", "two junctions"), Outcome("over-range", "over range"),
        instrument="meter on the diode range",
    ),
    make("look", Outcome("lights", "it lights well"), Outcome("lit-dim", "it lights, but dimly")),
    make("ripple", Outcome("flat", "", None, 5.0, "%"), Outcome("rough", "", 5.0, None, "%")),
)  # fmt: skip
NUMBERS = ("3.1", "3,1", "-3", "−0.04", "+2", "0", "1", "1.", ".5", "1e3", "2 000", "7e400", "1e31")
TAILS = (
    *("", "V", " mV", "k", "M", "m", "u", "kΩ", " kohm", "Ω", "R", "A", "mA", "µA", "F", "%", "Hz"),
    *(" V AC", "V DC", "vdc", "V~", " volts", " kilovolts", " min", "°C", " V ±5 %", "V -20/+80%"),
    *("V 5%", "±0.2", " ± 0.2 V", "+/-1", "..5", " to 5 V", "-9", "–4 k"),
)
WORDS = (
    *("", "OL", "o.l.", "0L", ">OL", "OL MΩ", "over range", "∞", "infinite", "4k7", "R47", "5V1"),
    *("4µ7", "1M0", "k5", "4k7 V", "4k7Ω", ">20M", "<= 2", "below 2", "more than 3 V", "≥1", "> x"),
    *("0.6..0.7", "0.6…0.7 V", "between 2 and 3 k", "2-3 k", "1 to 2 to 3", "about 3", "~4"),
    *("lights", "LIT-DIM", "it lights", "it lights well.", "li", "good", "g", "nothing there"),
    *("one junction", "constructor", "__proto__", "V", "..", "--3", "3 3", "1,000", "10 % 5 %"),
    *(">-1e9", "<1e9", "0..1e6", "-1 ohm", "-0.01", "-0.2 mA", "2 mF", "3.1 V to 4.9", "over"),
    *("3.1\x85", "+2..5\ufeff", "\x85", "9" * 41, "-" + "9" * 41, "9" * 300, "1 V ±" + "5" * 300),
    *("ca. 5", "near", "short", "x", "0.0000001", "12.34567", "99999999999", "1E-2 V", "300"),
)


@cache
def reader() -> MiniRacer:
    """The page's reader with the tests' answers."""
    engine = MiniRacer()
    engine.eval((Path(render.page.__file__).parent / "readings.js").read_text(encoding="utf-8"))
    tests = json.dumps([bands.scale_of(test, LIMITED) for test in TESTS])
    engine.eval(f"const own = new Readings({json.dumps(bands.grammar())}), tests = {tests};")
    engine.eval("const ask = (texts) => JSON.stringify("
                "texts.map((text) => tests.map((test) => own.read(text, test))))")  # fmt: skip
    return engine


def by_page(texts: Sequence[str]) -> list[list[Any]]:
    """What the page takes each text for, at each test."""
    told: list[list[Any]] = json.loads(reader().eval(f"ask({json.dumps(texts)})"))
    return told


def by_walk(text: str, test: Test) -> Any:
    try:
        return {"shares": [list(pair) for pair in bands.read(text, test, LIMITED).shares]}
    except TroubleError as trouble:
        return {"code": trouble.troubles[0].code}


def differences(texts: Sequence[str]) -> list[tuple[str, str, Any, Any]]:
    return [
        (test.id, text, page, walk)
        for text, answers in zip(texts, by_page(texts), strict=True)
        for test, page in zip(TESTS, answers, strict=True)
        if not alike(page, walk := by_walk(text, test))
    ]


def alike(page: Any, walk: Any) -> bool:
    if "code" in page or "code" in walk:
        return bool(page == walk)
    ids = [[outcome for outcome, _ in one["shares"]] for one in (page, walk)]
    pairs = zip(page["shares"], walk["shares"], strict=False)
    return ids[0] == ids[1] and all(math.isclose(a, b, rel_tol=1e-12) for (_, a), (_, b) in pairs)


def test_numbers_in_every_notation_mean_on_the_page_what_they_mean_in_the_walk() -> None:
    assert differences([number + tail for number in NUMBERS for tail in TAILS]) == []


def test_words_bounds_spans_and_over_range_do_too() -> None:
    assert differences(WORDS) == []


@given(st.text(alphabet="0123456789.,-−+±%<>~ eEkKmMµRVΩAOLtobhn–…", max_size=12))
def test_whatever_is_typed_is_taken_alike(text: str) -> None:
    assert differences([text]) == []


def test_each_kind_of_answer_comes_up_here() -> None:
    """Else the comparisons would say little."""
    codes = {by_walk(text, test).get("code", "read") for text in WORDS for test in TESTS}
    assert codes == {"read", "RD1", "RD2", "RD3", "RD4", "RD5"}
