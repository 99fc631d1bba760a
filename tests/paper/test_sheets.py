"""Does every word stand in its box, large enough, on as little paper as was promised?"""

from __future__ import annotations

import copy
from typing import Any

import lamp
import pytest

from kb.trouble import TroubleError
from render.paper import Orientation, figures, lay_out
from render.paper.ink import Sheets
from render.paper.svg import all_words

LEAST_CAPITAL_MM = 3.26  # 16 arc-minutes at 0.7 m, facts.md section 2
MOST_CROSSINGS = 2
FARTHEST_LABEL_MM = 5.0
LEAST_USED = 0.45


@pytest.fixture(scope="module")
def stage_chart() -> Sheets:
    return lay_out(lamp.model(), lamp.chart(), paper="A3", date="2026-11-25")


def test_no_text_overlaps_anything(stage_chart: Sheets) -> None:
    assert [f.overlaps for f in figures(stage_chart)] == [()] * len(stage_chart.sheets)


def test_every_word_stays_in_its_box(stage_chart: Sheets) -> None:
    assert [f.strays for f in figures(stage_chart)] == [()] * len(stage_chart.sheets)


def test_capitals_are_high_enough_for_the_distance(stage_chart: Sheets) -> None:
    assert min(f.smallest_capital for f in figures(stage_chart)) >= LEAST_CAPITAL_MM - 1e-9


def test_lines_hardly_cross(stage_chart: Sheets) -> None:
    assert max(f.crossings for f in figures(stage_chart)) <= MOST_CROSSINGS


def test_labels_stand_beside_their_lines(stage_chart: Sheets) -> None:
    distances = [d for f in figures(stage_chart) for d in f.label_distances]
    assert distances
    assert max(distances) <= FARTHEST_LABEL_MM


def test_the_flowchart_sheet_is_well_used(stage_chart: Sheets) -> None:
    flows = [
        f.used
        for f, sheet in zip(figures(stage_chart), stage_chart.sheets, strict=True)
        if sheet.drawing.flows
    ]
    assert min(flows) >= LEAST_USED


def test_the_flowchart_of_a_stage_chart_takes_one_sheet(stage_chart: Sheets) -> None:
    assert sum(bool(sheet.drawing.flows) for sheet in stage_chart.sheets) == 1


def test_a_farther_reader_gets_larger_type() -> None:
    far = lay_out(lamp.model(), lamp.chart(), paper="A0", read_from=1.4, date="2026-11-25")
    assert min(f.smallest_capital for f in figures(far)) >= 2 * LEAST_CAPITAL_MM - 0.01


def test_portrait_sheets_stand_upright() -> None:
    upright = lay_out(
        lamp.model(), lamp.chart(), paper="A2", landscape=Orientation.PORTRAIT, date="2026-11-25"
    )
    assert all(sheet.height > sheet.width for sheet in upright.sheets)


@pytest.mark.parametrize("distance", ["far", "-1", 0.0, float("nan"), 1e9])
def test_absurd_distances_are_told(distance: Any) -> None:
    with pytest.raises(TroubleError, match="PA10"):
        lay_out(lamp.model(), lamp.chart(), read_from=distance)


def test_unknown_paper_is_told_with_the_papers_there_are() -> None:
    with pytest.raises(TroubleError, match="Tabloid"):
        lay_out(lamp.model(), lamp.chart(), paper="foolscap")


def test_a_letter_the_font_lacks_is_named() -> None:
    model = copy.deepcopy(lamp.model())
    model["tests"][0]["says"] = "Turn the 螺丝"
    with pytest.raises(TroubleError, match=r"U\+87BA"):
        lay_out(model, lamp.chart())


def test_markup_in_the_knowledge_stays_words() -> None:
    model = copy.deepcopy(lamp.model())
    model["tests"][0]["says"] = "<b>Try</b> & “see” <script>"
    sheets = lay_out(model, lamp.chart(), date="2026-11-25")
    drawn = " ".join(w.text for sheet in sheets.sheets for w in all_words(sheet))
    assert "<b>Try</b> & “see” <script>" in drawn


def test_a_very_long_word_is_broken_to_fit() -> None:
    model = copy.deepcopy(lamp.model())
    model["tests"][0]["says"] = "Measure " + "electroencephalographically" * 6
    sheets = lay_out(model, lamp.chart(), date="2026-11-25")
    assert [f.strays for f in figures(sheets)] == [()] * len(sheets.sheets)
