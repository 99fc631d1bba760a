"""Does all of the chart stand on its sheets, and nothing else, whatever is left out?"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pypdfium2
import pytest

from render.drawing.ink import Box, Sheets, Symbol
from render.drawing.svg import all_words
from render.paper import Edition, Extra, frontmatter, lay_out, pdf
from render.wording.bands import band
from render.wording.phrasing import Wording
from render.wording.scriptwriter import write_script
from tests.paper import lamp

SHORT = lamp.chart(lamp.SHORT_TREE)
MM = 25.4 / 72
FEW = (Extra.FAULTS, Extra.CAUTIONS, Extra.READINGS, Extra.POINTS, Extra.SOURCES)


def laid(chart: dict[str, Any] = SHORT, **asked: Any) -> Sheets:
    return lay_out(lamp.model(), chart, date="2026-11-25", **asked)


def symbols(sheets: Sheets, kind: str) -> list[Symbol]:
    return [s for sheet in sheets.sheets for s in sheet.drawing.symbols if s.kind == kind]


def words(sheets: Sheets) -> str:
    return " ".join(w.text for sheet in sheets.sheets for w in all_words(sheet))


def nodes(kind: str) -> list[dict[str, Any]]:
    return [node for node in SHORT["nodes"].values() if node["kind"] == kind]


@pytest.mark.parametrize("paper", ["A4", "A2"])
def test_each_test_and_each_verdict_is_drawn_once(paper: str) -> None:
    sheets = laid(paper=paper, leave_out=FEW)
    assert len(symbols(sheets, "process")) == len(nodes("test"))
    assert len(symbols(sheets, "decision")) == len(nodes("test"))
    ends = [s for s in symbols(sheets, "terminator") if s.node != "start"]
    assert sorted(s.node for s in ends) == sorted(
        name for name, node in SHORT["nodes"].items() if node["kind"] == "verdict"
    )


def test_every_band_of_every_outcome_is_on_the_sheets() -> None:
    sheets = laid(paper="A2")
    flat = words(sheets).replace("\u202f", " ")
    tests = {t["id"]: t for t in lamp.model()["tests"]}
    for node in nodes("test"):
        for outcome in tests[node["test"]]["outcomes"]:
            for part in band(outcome).split(" to "):
                assert part in flat


@pytest.mark.parametrize("extra", Extra)
def test_a_part_that_is_left_out_is_gone_and_the_others_stay(extra: Extra) -> None:
    whole = {panel.kind for sheet in _whole().sheets for panel in sheet.panels}
    less = laid(paper="A1", leave_out=(extra,))
    kinds = {panel.kind for sheet in less.sheets for panel in sheet.panels}
    assert extra.value not in kinds
    assert whole - kinds <= {extra.value, "notes"}


def _whole() -> Sheets:
    return laid(paper="A1")


def test_signals_at_the_steps_stay_whatever_is_left_out() -> None:
    bare = laid(paper="A3", leave_out=tuple(Extra))
    cautions = {c["id"]: c for c in lamp.model()["cautions"]}
    drawn = [s for sheet in bare.sheets for s in sheet.drawing.symbols]
    for name, node in SHORT["nodes"].items():
        told = " ".join(w.text for s in drawn if s.node == name for w in s.words)
        fresh = node.get("cautions", ()) if node["kind"] == "setup" else ()
        for caution in fresh:
            assert cautions[caution]["signal"] in told


def test_the_general_caution_can_not_be_left_out() -> None:
    bare = laid(paper="A3", leave_out=tuple(Extra))
    kinds = {panel.kind for sheet in bare.sheets for panel in sheet.panels}
    assert {"general", "title"} <= kinds


def test_every_letter_in_the_pdf_lies_inside_its_symbol() -> None:
    sheets = laid(paper="A3", leave_out=FEW)
    document = pypdfium2.PdfDocument(pdf.draw(sheets))
    for sheet, page in zip(sheets.sheets, document, strict=True):
        rooms = [s.box for s in sheet.drawing.symbols if s.kind != "connector"]
        rooms += [panel.box for panel in sheet.panels]
        rooms += [label.box for label in sheet.drawing.labels]
        rooms += [s.box for s in sheet.drawing.symbols if s.kind == "connector"]
        height = page.get_size()[1]
        text = page.get_textpage()
        for index in range(text.count_chars()):
            left, low, right, high = text.get_charbox(index)
            if right - left < 0.1 or not text.get_text_range(index, 1).strip():
                continue
            glyph = Box(left * MM, (height - high) * MM, (right - left) * MM, (high - low) * MM)
            assert any(room.holds(glyph, 0.6) for room in rooms)


def test_the_line_for_the_reader_tells_how_many_sheets() -> None:
    sheets = laid(paper="A4")
    assert sheets.says.startswith(f"{len(sheets.sheets)} sheets of A4 ")


def confirmed() -> dict[str, Any]:
    """The short chart with one step that does a test again before its verdict."""
    at, outcome, verdict = "n6", "large", "n7"
    tests = {t["id"]: t for t in lamp.model()["tests"]}
    told = {o["id"]: "c2" for o in tests["bulk"]["outcomes"]} | {outcome: verdict}
    again = {"kind": "test", "test": "bulk", "cautions": ["live-led-board"], "branches": told}
    step = {
        "at": at, "outcome": outcome, "to": verdict, "back": at, "root": "c1",
        "minutes": 1.0, "saves": 0.1,
        "nodes": {"c1": again, "c2": {"kind": "recheck", "says": "Told otherwise."}},
    }  # fmt: skip
    return {**SHORT, "confirm": [step]}


def test_a_confirm_step_stands_on_its_line_with_its_caution() -> None:
    sheets = laid(confirmed(), paper="A2", leave_out=FEW)
    (again,) = (s for s in symbols(sheets, "process") if s.node == "c1")
    told = " ".join(w.text for w in again.words)
    assert "again" in told
    assert "WARNING" in told or "DANGER" in told
    assert "a third time: what came twice counts" in " ".join(told.split())
    (verdict,) = (s for s in symbols(sheets, "terminator") if s.node == "n7")
    assert verdict.box.y >= again.box.bottom


def test_the_wall_has_the_same_flowchart_and_what_keeps_safe_at_it() -> None:
    booklet, wall = laid(paper="A1"), laid(paper="A1", edition=Edition.WALL)
    for kind in ("process", "terminator", "preparation", "manual operation"):
        assert sorted(s.node for s in symbols(wall, kind)) == sorted(
            s.node for s in symbols(booklet, kind)
        )
    kinds = {panel.kind for sheet in wall.sheets for panel in sheet.panels}
    assert {"general", "title", "entry", "make-safe", "cautions", "proofs"} <= kinds
    assert not kinds & {"faults", "sources", "how", "instruments", "readings"}


def test_lines_to_write_on_come_on_request_one_for_each_question() -> None:
    assert all(panel.kind != "record" for sheet in laid().sheets for panel in sheet.panels)
    sheets = laid(paper="A2", add=(Extra.RECORD,))
    (record,) = (p for sheet in sheets.sheets for p in sheet.panels if p.kind == "record")
    lines = [word.text for word in record.words if "V applied" in word.text]
    assert len(lines) == len(nodes("test"))


def test_what_opens_with_a_repair_is_told_once_where_words_are_tight() -> None:
    chart = lamp.chart()
    store = {"part": "C4", "point": "C4", "below": 30, "unit": "V", "opening": "led-board"}
    for node in chart["nodes"].values():
        if node["kind"] == "verdict":
            node["opening_up"] = [store]
    for sheet in laid(chart, paper="A4").sheets:
        ends = [s for s in sheet.drawing.symbols if s.kind == "terminator" and s.node != "start"]
        panels = [panel for panel in sheet.panels if panel.kind == "every-repair"]
        lines = [" ".join(w.text for w in panel.words) for panel in panels]
        assert not ends or any("LED board: C4" in words for words in lines)


def test_steps_that_measure_again_on_the_same_answers_share_a_line() -> None:
    """Where words are tight; a step alone stands beside its answers."""
    found = {"3": "↺ flickers", "12": "↺ glares", "5": "↺ flickers"}
    script = replace(write_script(lamp.model(), SHORT, Wording.TIGHT), again=found)
    leaf = frontmatter.again(script)
    assert leaf is not None
    lines = [(row.marker, "".join(run.text for run in row.runs)) for row in leaf.rows]
    assert lines == [("", "3, 5\u00a0flickers"), ("12", "glares")]
