"""Do the tiles of a poster, laid together, give the poster?"""

from __future__ import annotations

from dataclasses import replace

import pytest

from kb.trouble import TroubleError
from render.drawing import svg
from render.drawing.ink import Box, Sheet, Sheets
from render.drawing.svg import all_words
from render.paper import lay_out, pdf, tile_sheets
from render.paper.poster import OVERLAP
from tests.paper import lamp


@pytest.fixture(scope="module")
def large() -> Sheets:
    chart = lamp.chart(lamp.SHORT_TREE)
    return lay_out(lamp.model(), chart, paper="A2", date="2026-11-25")


@pytest.fixture(scope="module")
def small(large: Sheets) -> Sheets:
    return tile_sheets(large, "A4")


def tiles(small: Sheets) -> list[Sheet]:
    return [sheet for sheet in small.sheets if sheet.frame]


def test_every_page_is_a4(small: Sheets) -> None:
    assert {tuple(sorted((s.width, s.height))) for s in small.sheets} == {(210.0, 297.0)}  # ISO 216


def test_a_key_map_comes_first_and_names_every_tile(small: Sheets) -> None:
    first = small.sheets[0]
    assert first.frame is None
    named = {word.text for word in all_words(first)}
    for tile in tiles(small):
        assert tile.title.rpartition(" ")[2] in named


def test_every_word_of_the_poster_stands_on_some_tile_inside_its_frame(
    large: Sheets, small: Sheets
) -> None:
    for word in all_words(large.sheets[0]):
        seen = [
            (w, tile)
            for tile in tiles(small)
            for w in all_words(tile)
            if w.text == word.text and w.size == word.size
        ]
        assert any(tile.frame and tile.frame.holds(Box(w.x, w.y, 0, 0), 0.01) for w, tile in seen)


def test_no_tile_is_blank(large: Sheets) -> None:
    """Whatever lies in one corner of the large sheet takes the tiles of that corner alone."""
    near = Box(0, 0, 180, 250)
    corner = [s for s in large.sheets[0].drawing.symbols if near.holds(s.box)]
    drawing = replace(large.sheets[0].drawing, symbols=tuple(corner), flows=(), labels=())
    lone = replace(large, sheets=(replace(large.sheets[0], drawing=drawing, panels=()),))
    assert corner
    parted = tile_sheets(lone, "A4")
    assert [tile.title.rpartition(" ")[2] for tile in tiles(parted)] == ["A1"]
    assert "A2" not in {word.text for word in all_words(parted.sheets[0])}


def test_every_tile_shows_something(small: Sheets) -> None:
    for tile in tiles(small):
        assert tile.drawing.symbols or tile.drawing.flows or tile.panels


def test_neighbours_share_a_strip_to_glue(small: Sheets) -> None:
    first, second = tiles(small)[:2]
    assert first.frame
    assert first.title.endswith("A1")
    assert second.title.endswith("A2")
    both = {w.text for w in all_words(first)} & {w.text for w in all_words(second)}
    shift = first.frame.w - OVERLAP
    places = {w.text: w.x for w in all_words(first)}
    for word in all_words(second):
        if word.text in both and len(word.text) > 12:
            assert places[word.text] == pytest.approx(word.x + shift, abs=1e-6)


def test_tiles_have_crop_marks_outside_their_frame(small: Sheets) -> None:
    for tile in tiles(small):
        assert tile.frame
        ends = [
            (float(seg[1]), float(seg[2])) for m in tile.marks for seg in m.path if seg[0] == "M"
        ]
        assert len(ends) >= 8
        for x, y in ends:
            inside = tile.frame.x < x < tile.frame.right and tile.frame.y < y < tile.frame.bottom
            assert not inside
            assert 0 <= x <= tile.width
            assert 0 <= y <= tile.height


def test_tiles_print_to_pdf_and_svg(small: Sheets) -> None:
    import pypdfium2

    assert len(pypdfium2.PdfDocument(pdf.draw(small))) == len(small.sheets)
    assert "viewBox" in svg.draw(tiles(small)[0], "tile")


def test_each_step_is_an_anchor_on_one_tile_only(small: Sheets) -> None:
    anchors = [s.anchor for t in tiles(small) for s in t.drawing.symbols if s.anchor]
    assert anchors
    assert len(anchors) == len(set(anchors))


def test_unknown_tiles_are_told(large: Sheets) -> None:
    with pytest.raises(TroubleError, match="Tabloid"):
        tile_sheets(large, "napkin")
