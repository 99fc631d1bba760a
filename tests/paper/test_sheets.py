"""Does every word stand in its box, large enough, on as little paper as was promised?"""

from __future__ import annotations

import copy
from typing import Any

import pytest

from kb.trouble import TroubleError
from render.drawing.ink import Sheets
from render.drawing.svg import all_words
from render.layout.quality import figures
from render.paper import Orientation, lay_out
from tests.paper import lamp

LEAST_CAPITAL_MM = 3.26  # 16 arc-minutes at 0.7 m, facts.md section 2
MOST_CROSSINGS = 2
FARTHEST_LABEL_MM = 5.0
LEAST_USED = 0.45


SHORT = lamp.chart(lamp.SHORT_TREE)


def short(**asked: Any) -> Sheets:
    return lay_out(lamp.model(), SHORT, date="2026-11-25", **asked)


@pytest.fixture(scope="module")
def stage_chart() -> Sheets:
    return lay_out(lamp.model(), lamp.chart(), paper="A3", date="2026-11-25")


def test_no_text_overlaps_anything(stage_chart: Sheets) -> None:
    assert [f.overlaps for f in figures(stage_chart)] == [()] * len(stage_chart.sheets)


def test_every_word_stays_in_its_box(stage_chart: Sheets) -> None:
    assert [f.strays for f in figures(stage_chart)] == [()] * len(stage_chart.sheets)


def test_capitals_are_high_enough_for_the_distance(stage_chart: Sheets) -> None:
    assert min(f.smallest_capital for f in figures(stage_chart)) >= LEAST_CAPITAL_MM - 1e-9


def test_what_the_hands_do_keeps_its_height_however_short_room_is(stage_chart: Sheets) -> None:
    assert stage_chart.hands_capital >= 4.07  # 20 arc-minutes at 0.7 m


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
    far = short(paper="A1", read_from=1.4)
    assert min(f.smallest_capital for f in figures(far)) >= 2 * LEAST_CAPITAL_MM - 0.01


def test_what_the_hands_do_is_set_larger_where_there_is_room() -> None:
    assert short(paper="A3").hands_capital >= 4.07  # 20 arc-minutes at 0.7 m


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("landscape", [Orientation.PORTRAIT, Orientation.LANDSCAPE])
def test_small_paper_takes_more_sheets_not_smaller_type(paper: str, landscape: Orientation) -> None:
    laid = short(paper=paper, landscape=landscape)
    assert len(laid.sheets) > 1
    for measured in figures(laid):
        assert measured.smallest_capital >= LEAST_CAPITAL_MM - 1e-9
        assert (measured.overlaps, measured.strays) == ((), ())


def test_portrait_sheets_stand_upright() -> None:
    upright = short(paper="A3", landscape=Orientation.PORTRAIT)
    assert all(sheet.height > sheet.width for sheet in upright.sheets)


def test_connectors_pair_up() -> None:
    sheets = short(paper="A4").sheets
    ways_out = {s.link for sheet in sheets for s in sheet.drawing.symbols if s.link}
    ways_in = {
        s.anchor.removeprefix("in:")
        for sheet in sheets
        for s in sheet.drawing.symbols
        if s.anchor.startswith("in:")
    }
    assert ways_out
    assert ways_out == ways_in


def test_a_connector_names_the_sheet_and_letter_where_it_goes_on() -> None:
    sheets = short(paper="A4").sheets
    letters = {
        s.anchor.removeprefix("in:"): (sheet.number, s.words[0].text)
        for sheet in sheets
        for s in sheet.drawing.symbols
        if s.anchor.startswith("in:")
    }
    for sheet in sheets:
        for symbol in sheet.drawing.symbols:
            if symbol.link:
                number, letter = letters[symbol.link]
                told = letter if number == sheet.number else f"{number}{letter}"
                assert symbol.words[0].text == told


@pytest.mark.parametrize("distance", ["far", "-1", 0.0, float("nan"), 1e9])
def test_absurd_distances_are_told(distance: Any) -> None:
    with pytest.raises(TroubleError, match="PA10"):
        short(read_from=distance)


def test_paper_too_small_for_one_step_is_told_with_the_mend() -> None:
    with pytest.raises(TroubleError, match="larger paper"):
        short(paper="A4", read_from=4)


def test_unknown_paper_is_told_with_the_papers_there_are() -> None:
    with pytest.raises(TroubleError, match="Tabloid"):
        short(paper="foolscap")


def _reworded(says: str) -> dict[str, Any]:
    model = copy.deepcopy(lamp.model())
    next(t for t in model["tests"] if t["id"] == "cover")["says"] = says
    return model


def test_a_letter_the_font_lacks_is_named() -> None:
    with pytest.raises(TroubleError, match=r"U\+87BA"):
        lay_out(_reworded("Turn the 螺丝"), SHORT)


def test_markup_in_the_knowledge_stays_words() -> None:
    sheets = lay_out(_reworded("<b>Try</b> & “see” <script>"), SHORT, date="2026-11-25")
    drawn = " ".join(w.text for sheet in sheets.sheets for w in all_words(sheet))
    assert "<b>Try</b> & “see” <script>" in drawn


def test_a_very_long_word_is_broken_to_fit() -> None:
    model = _reworded("Measure " + "electroencephalographically" * 6)
    sheets = lay_out(model, SHORT, date="2026-11-25")
    assert [f.strays for f in figures(sheets)] == [()] * len(sheets.sheets)


def test_documents_of_different_runs_are_refused() -> None:
    model = copy.deepcopy(lamp.model())
    model["tests"] = model["tests"][1:]
    with pytest.raises(TroubleError, match="same run"):
        lay_out(model, SHORT)


def test_each_of_several_sheets_says_how_few_the_flowchart_could_take() -> None:
    """Counted on the sheets themselves; of one sheet nothing is said."""
    several = lay_out(lamp.model(), lamp.chart(), paper="A4", date="2026-11-25")
    one = short(paper="A2")
    count = sum(bool(sheet.drawing.flows) for sheet in several.sheets)
    assert count > 1
    line = f"Flowchart on {count} sheets, {several.least} at least"
    for sheet in several.sheets:
        titles = [panel for panel in sheet.panels if panel.kind == "title"]
        said = [word.text.replace("\u00a0", " ") for panel in titles for word in panel.words]
        assert line in said
    assert not any("Flowchart" in word.text for sheet in one.sheets for word in all_words(sheet))
