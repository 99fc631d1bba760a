"""The outcome of a trial on paper: is every word on the sheet, and does nothing hang on colour?"""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.planner import plan
from engine.studies.contest import contest
from render.drawing.ink import Box, Sheets
from render.paper import press
from render.report.axis import Scale
from render.report.trial import lay_out
from tests.models import stage_chain


@pytest.fixture(scope="module")
def sheets() -> Sheets:
    """A small trial, laid out."""
    model = stage_chain(5, faults=12, tests=14, set_ups=0.5)
    return lay_out(contest(model, plan(model), units=60, seed=1), "an invented chain", "2026-01-05")


def test_each_word_is_on_the_sheet(sheets: Sheets) -> None:
    """With the margin of a desk printer."""
    (sheet,) = sheets.sheets
    paper = Box(0, 0, sheet.width, sheet.height).grow(-4.0)
    assert [w.text for panel in sheet.panels for w in panel.words if not paper.holds(w.box)] == []


def test_no_word_stands_on_another(sheets: Sheets) -> None:
    """Anywhere."""
    (sheet,) = sheets.sheets
    said = [w for panel in sheet.panels for w in panel.words]
    clashes = [
        (one.text, two.text)
        for n, one in enumerate(said)
        for two in said[n + 1 :]
        if one.box.overlaps(two.box, slack=0.6)
    ]
    assert clashes == []


def test_ways_differ_by_their_dashes(sheets: Sheets) -> None:
    """All in black."""
    (sheet,) = sheets.sheets
    minutes = next(panel for panel in sheet.panels if panel.kind == "minutes")
    drawn = {(stroke.dash, stroke.ink) for stroke in minutes.strokes if stroke.weight >= 0.4}
    assert len({dash for dash, _ in drawn}) == 6
    assert {ink for _, ink in drawn} == {"#000000"}


@pytest.mark.parametrize(("low", "high"), [(0.0, 37.0), (0.5, 1.0), (0.0, 0.4), (3.0, 1200.0)])
def test_scales_are_marked_by_round_numbers(low: float, high: float) -> None:
    """Few enough to read, none off the scale."""
    marks = list(Scale(low, high, 0.0, 100.0).marks())
    assert 2 <= len(marks) <= 9
    assert all(low - 1e-9 <= mark <= high + 1e-9 for mark in marks)
    assert all(float(f"{mark:.6g}") == pytest.approx(mark) for mark in marks)


@pytest.mark.parametrize(
    ("suffix", "begins"), [("svg", b"<?xml"), ("pdf", b"%PDF"), ("png", b"\x89PNG")]
)
def test_it_is_printed_in_each_format(
    sheets: Sheets, tmp_path: Path, suffix: str, begins: bytes
) -> None:
    """One file, whole."""
    (path,) = press.print_out(sheets, tmp_path / f"trial.{suffix}")
    assert path.read_bytes().startswith(begins)
