"""Is the stand of the bench drawn, and are cautions told once and after what the hands do?"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from render.drawing.bench_marks import DEAD, LIVE, LIVE_CLOSED, LOW, SHUT, Bench, BenchMark, mark
from render.drawing.benchband import MARK_INK
from render.drawing.ink import Sheets, Symbol
from render.paper import Extra, lay_out
from render.wording.phrasing import Wording
from render.wording.script import Script
from render.wording.scriptwriter import write_script
from tests.paper import lamp

SHORT = lamp.chart(lamp.SHORT_TREE)
GROUPED = {**SHORT, "grouped": {"verdict": ["charged-store", "hot-parts"]}}


def script(chart: dict[str, Any], wording: Wording = Wording.FULL) -> Script:
    return write_script(lamp.model(), chart, wording)


def laid(chart: dict[str, Any], paper: str = "A3") -> Sheets:
    return lay_out(lamp.model(), chart, paper=paper, date="2026-11-25")


@pytest.mark.parametrize(
    ("energy", "closed_only", "opened", "wanted"),
    [
        ("none", False, False, SHUT),
        ("none", False, True, DEAD),
        ("elv", False, True, LOW),
        ("hvdc", False, True, LIVE),
        ("mains", False, False, LIVE),
        ("mains", True, False, LIVE_CLOSED),
    ],
)
def test_energy_and_openings_give_the_mark(
    energy: str, closed_only: bool, opened: bool, wanted: BenchMark
) -> None:
    assert mark(energy, closed_only=closed_only, inside=opened) == wanted


def test_an_opening_that_opens_nothing_leaves_the_unit_shut() -> None:
    model = lamp.model()
    model["openings"] = [{**o, "inside": False} for o in model["openings"]]
    bench = Bench.of(model)
    assert bench.mark("dead", {model["openings"][0]["id"]}) == SHUT


def test_a_mark_is_told_in_a_word_where_it_begins_and_nowhere_else() -> None:
    told = lamp.chart()
    course = script(told)
    for step in course.steps.values():
        parts = [part for part in step.parts if part.mark]
        for before, part in pairwise(parts):
            assert part.begins == (part.mark != before.mark)


def test_every_box_but_start_and_verdicts_stands_under_a_mark() -> None:
    for step in script(lamp.chart()).steps.values():
        for part in step.parts:
            assert (part.mark is None) == (part.kind in ("start", "verdict"))


def test_every_mark_of_the_chart_is_in_the_legend() -> None:
    sheets = laid(lamp.chart())
    (legend,) = (p for s in sheets.sheets for p in s.panels if p.kind == "legend")
    words = " ".join(word.text for word in legend.words)
    assert all(mark.word in words for mark in script(lamp.chart()).marks)


def drawn(sheets: Sheets) -> list[Symbol]:
    return [symbol for sheet in sheets.sheets for symbol in sheet.drawing.symbols]


def test_a_marks_word_leads_and_signal_words_come_after_what_the_hands_do() -> None:
    for symbol in drawn(laid(lamp.chart())):
        texts = [word.text for word in symbol.words]
        marks = [n for n, word in enumerate(symbol.words) if word.ink == MARK_INK]
        signals = [n for n, text in enumerate(texts) if text in ("DANGER", "WARNING", "CAUTION")]
        assert not signals or signals[0] > 0
        assert not marks or not signals or marks[0] < signals[0]


@pytest.mark.parametrize("paper", ["A4", "A3"])
def test_what_holds_at_every_repair_stands_once_on_each_sheet_with_a_verdict(paper: str) -> None:
    for sheet in laid(GROUPED, paper).sheets:
        ends = [s for s in sheet.drawing.symbols if s.kind == "terminator" and s.node != "start"]
        panels = [panel for panel in sheet.panels if panel.kind == "every-repair"]
        assert len(panels) <= 1
        assert panels or not ends


def test_what_holds_at_every_repair_can_not_be_left_out() -> None:
    sheets = lay_out(lamp.model(), GROUPED, date="2026-11-25", leave_out=tuple(Extra))
    assert "every-repair" in {panel.kind for sheet in sheets.sheets for panel in sheet.panels}


def test_no_hazard_is_lost_and_the_gravest_stands_first() -> None:
    chart = {**lamp.chart(), "grouped": GROUPED["grouped"]}
    wanted = {c for n in chart["nodes"].values() for c in (*n.get("cautions", ()),
                                                           *n.get("standing", ()))}  # fmt: skip
    told = {caution["id"] for caution in script(chart).cautions}
    assert wanted | {"charged-store", "hot-parts"} == told
    rows = [p for s in laid(chart).sheets for p in s.panels if p.kind == "cautions"]
    first = [w.text for panel in rows for w in panel.words if w.text in ("DANGER", "WARNING")]
    assert first == sorted(first)


def test_a_repair_tells_what_is_switched_off_and_which_stores_it_comes_upon() -> None:
    chart = lamp.chart(lamp.SHORT_TREE)
    name, verdict = next((n, v) for n, v in chart["nodes"].items() if v["kind"] == "verdict")
    store = {"part": "C4", "point": "C4", "below": 30, "unit": "V", "opening": "led-board"}
    chart["nodes"][name] = {**verdict, "opening_up": [store]}
    (told,) = (
        "".join(run.text for run in part.paragraphs[0].runs).replace("\u202f", " ")
        for step in script(chart).steps.values()
        for part in step.parts
        if part.node == name
    )
    assert told.endswith("unplug\u00a0· as you open: C4 at LED board below 30 V")


def test_methods_and_kit_of_the_model_stand_on_the_sheets() -> None:
    supply = next(a["id"] for a in lamp.model()["supply"]["arrangements"] if a["closed_only"])
    method = {"id": "m", "says": "Prove the meter", "steps": ["Read the battery."],
              "source": "common practice", "of": [supply]}  # fmt: skip
    other = {**method, "id": "o", "says": "Never asked for", "of": ["elsewhere"]}
    model = {**lamp.model(), "methods": [method, other], "kit": ["bleed resistor"],
             "origin": "Worked out by rules."}  # fmt: skip
    sheets = lay_out(model, SHORT, date="2026-11-25")
    words = " ".join(w.text for s in sheets.sheets for p in s.panels for w in p.words)
    for wanted in ("Prove the meter", "Read the battery.", "bleed resistor", "Worked out by rules"):
        assert wanted in words
    assert "Never asked for" not in words
