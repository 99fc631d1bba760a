"""Is every word on the laid-out sheets a whole word of what the sheets are to say?

Words of symbols and branches are compared with the script, those of circles with the numbers they
may name; a word that was broken, hyphenated or pushed into a narrow column is none of them.
"""

from __future__ import annotations

from typing import Any

import pytest

from render.drawing.ink import Sheet, Sheets
from render.paper import Orientation, lay_out
from render.wording.phrasing import Wording
from render.wording.script import Script
from render.wording.scriptwriter import write_script
from tests.paper import lamp
from tests.paper.test_trunk import SEEDS, random_documents

PAPERS = ("A4", "A3", "Letter")


def sayings(script: Script) -> set[str]:
    """The words of every symbol and branch, marks and signal words beside them."""
    sayings_here: set[str] = set()
    for step in script.steps.values():
        for part in step.parts:
            runs = [run.text for paragraph in part.paragraphs for run in paragraph.runs]
            signals = [w for s in part.signals for w in (s.word, *s.hazards)]
            marks = [mark.word for mark in (part.mark, part.first_mark) if mark]
            # A paragraph's runs stand close where no space parts them.
            sayings_here.update("".join(runs).split())
            for words in (*runs, *signals, *marks, *(run.text for run in part.tail)):
                sayings_here.update(words.split())
        for way in step.exits:
            sayings_here.update(way.label.split())
    return {word.strip(",.") for word in sayings_here}


def words_on(sheet: Sheet) -> set[str]:
    symbols = [s for s in sheet.drawing.symbols if s.kind not in ("connector", "decision")]
    words = [w.text for s in symbols for w in s.words]
    words += [w.text for la in sheet.drawing.labels if la.outcomes for w in la.words]
    return {word.strip(",.") for text in words for word in text.split()} - {"", "·", "P1–P5"}


def fragments(sheets: Sheets, sayings_here: set[str]) -> set[str]:
    """Words on the sheets that nobody says: pieces of broken ones."""
    return {word for sheet in sheets.sheets for word in words_on(sheet)} - sayings_here


def origins(sheets: Sheets) -> list[list[str]]:
    """The lines beside each circle that is come to."""
    return [
        [w.text for w in label.words]
        for sheet in sheets.sheets
        for label in sheet.drawing.labels
        if label.start.startswith("in:")
    ]


def documents(case: str) -> tuple[dict[str, Any], dict[str, Any]]:
    return (lamp.model(), lamp.chart()) if case == "lamp" else random_documents(int(case))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("case", ["lamp", *map(str, SEEDS)])
def test_no_word_of_a_step_or_a_branch_is_broken(case: str, paper: str) -> None:
    model, chart = documents(case)
    for way in (Orientation.PORTRAIT, Orientation.LANDSCAPE):
        sheets = lay_out(model, chart, paper=paper, landscape=way, date="2026-11-25")
        scripts = [write_script(model, chart, wording) for wording in Wording]
        assert min((fragments(sheets, sayings(script)) for script in scripts), key=len) == set()


@pytest.mark.parametrize("case", ["lamp", *map(str, SEEDS)])
def test_where_a_circle_is_come_from_is_told_in_whole_words(case: str) -> None:
    model, chart = documents(case)
    metres = 0.7 if case == "lamp" else 1.3
    sheets = lay_out(model, chart, paper="A4", read_from=metres, date="2026-11-25")
    listing = origins(sheets)
    assert listing
    for lines in listing:
        tokens = " ".join(lines).replace("\u00a0", " ").replace("…", "").split()
        assert tokens[0] == "from"
        for token in tokens[1:]:
            bare = token.strip(",:")
            assert bare in ("sheet", "START", "") or bare.isdigit()
