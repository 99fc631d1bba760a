"""Is every word on the laid-out sheets a whole word of what the sheets are to say?

Words of symbols and branches are compared with the script, those of circles with the numbers they
may name; a word that was broken, hyphenated or pushed into a narrow column is none of them.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from render.drawing.ink import Sheets
from render.paper import Edition, Orientation, figures, lay_out
from render.wording.phrasing import Wording
from render.wording.scriptwriter import write_script
from tests.bench import sheet_faults
from tests.bench.sheet_faults import Documents
from tests.paper import lamp
from tests.paper.sayings import fragments, sayings
from tests.paper.test_trunk import SEEDS, random_documents

PAPERS = ("A4", "A3", "Letter")


def origins(sheets: Sheets) -> list[list[str]]:
    """The lines beside each circle that is come to."""
    return [
        [w.text for w in label.words]
        for sheet in sheets.sheets
        for label in sheet.drawing.labels
        if label.start.startswith("in:")
    ]


@cache
def documents_of(topology: str, volts: int, depth: str) -> Documents:
    return sheet_faults.documents(topology, volts, depth, seconds=1.0)


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
        assert [f.overlaps + f.strays for f in figures(sheets) if f.overlaps + f.strays] == []


@pytest.mark.parametrize("edition", Edition)
def test_a_shipped_chart_has_no_broken_word_and_nothing_on_anything_else(edition: Edition) -> None:
    """With both its STARTs; every chart, paper and mains: `python -m tests.bench.sheet_faults`."""
    model, chart, second = documents_of("buck-lamp", 230, "stage")
    sheets = lay_out(
        model, chart, paper="A4", second=second, edition=edition, date="2026-11-25"
    )
    assert list(sheet_faults.faults(sheets, (model, chart, second))) == []


def test_what_is_wrong_on_a_sheet_is_told() -> None:
    """A word that nobody says, and one on top of it."""
    model, chart, _ = documents_of("buck-lamp", 230, "stage")
    sheets = lay_out(model, chart, paper="A4", edition=Edition.WALL, date="2026-11-25")
    first = next(s for s in sheets.sheets if any(x.kind == "process" for x in s.drawing.symbols))
    symbol = next(s for s in first.drawing.symbols if s.kind == "process")
    shifted = replace(symbol.words[0], text="fro")
    worse = replace(symbol, words=(*symbol.words, shifted))
    drawing = replace(
        first.drawing,
        symbols=tuple(worse if s is symbol else s for s in first.drawing.symbols),
    )
    broken = replace(sheets, sheets=(replace(first, drawing=drawing),))
    told = list(sheet_faults.faults(broken, (model, chart, None)))
    assert "broken: fro" in told
    assert any("“fro” on" in one or "on “fro”" in one for one in told)


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
