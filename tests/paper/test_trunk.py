"""Does the likeliest way run straight down, and are goings-on to other sheets counted as they are?

Charts are the sample and plans of random chains of stages; hops are counted here by following the
circles of the finished sheets.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest

from engine.model.records import document
from render.drawing.ink import Sheets
from render.layout.quality import figures
from render.paper import lay_out
from render.wording.passage import Passage
from render.wording.phrasing import Wording
from render.wording.script import Script
from render.wording.scriptwriter import write_script
from tests.models import stage_chain
from tests.paper import lamp
from tests.safety.drawn_charts import drawn

Documents = tuple[dict[str, Any], dict[str, Any]]
SEEDS = (3, 11, 29)


@cache
def random_documents(seed: int) -> Documents:
    model = stage_chain(seed, 24, 24, splits=0.2)
    return document(model), dict(drawn(model, 2e8))


def cases() -> Iterator[Documents]:
    yield lamp.model(), lamp.chart()
    yield from (random_documents(seed) for seed in SEEDS)


def ending(script: Script, passage: Passage) -> dict[str, float]:
    return {s.id: passage.arrivals[s.id] for s in script.steps.values() if not s.exits}


@pytest.mark.parametrize("seed", SEEDS)
def test_odds_of_ending_at_a_verdict_are_those_of_the_document(seed: int) -> None:
    """The document's reach is the planner's sum; ours goes along the lines as drawn."""
    model, chart = random_documents(seed)
    script = write_script(model, chart, Wording.TIGHT)
    ends = ending(script, Passage.of(script))
    reach: dict[str, float] = {}
    for step in script.steps.values():
        if not step.exits:
            node = chart["nodes"][step.parts[-1].node]
            merged = [n for n, to in script.merged.items() if to == step.parts[-1].node]
            reach[step.id] = sum(
                float(chart["nodes"][n]["reach"]) for n in {step.parts[-1].node, *merged}
            )
            assert node["kind"] == "verdict"
    assert ends == pytest.approx(reach, abs=1e-6)


def sheet_of_steps(sheets: Sheets, script: Script) -> dict[str, int]:
    head = {part.node: step.id for step in script.steps.values() for part in step.parts}
    return {
        head[symbol.node]: sheet.number
        for sheet in sheets.sheets
        for symbol in sheet.drawing.symbols
        if symbol.node in head
    }


@pytest.mark.parametrize("paper", ["A4", "A3"])
@pytest.mark.parametrize("case", range(1 + len(SEEDS)))
def test_hops_are_those_that_circles_to_other_sheets_make(case: int, paper: str) -> None:
    model, chart = list(cases())[case]
    sheets = lay_out(model, chart, paper=paper, date="2026-11-25")
    script = write_script(model, chart, Wording.TIGHT)
    passage, sheet_of = Passage.of(script), sheet_of_steps(sheets, script)
    hops = 0.0
    for sheet in sheets.sheets:
        for symbol in sheet.drawing.symbols:
            if symbol.link:
                step = symbol.node.removeprefix("out:").rsplit(":", 1)[0]
                elsewhere = sheet_of[symbol.link] != sheet.number
                assert symbol.words[0].text[0].isdigit() == elsewhere
                hops += passage.ways[step, symbol.link] * elsewhere
    assert sheets.hops == pytest.approx(hops, abs=1e-9)
    assert sheets.least_hops <= sheets.hops + 1e-9


@pytest.mark.parametrize("case", range(1 + len(SEEDS)))
def test_the_path_of_most_reach_runs_straight_down(case: int) -> None:
    """On small paper, where the chart takes several sheets: every line of the path that is drawn
    as a line has one x; where it goes on beside itself a circle stands straight below."""
    model, chart = list(cases())[case]
    metres = 1.3 if case else 0.7
    sheets = lay_out(model, chart, paper="A4", read_from=metres, date="2026-11-25")
    assert sum(bool(sheet.drawing.flows) for sheet in sheets.sheets) > 1
    script = write_script(model, chart, Wording.TIGHT)
    passage = Passage.of(script)
    step = script.steps[script.root]
    flows = {(f.start, f.end): f for s in sheets.sheets for f in s.drawing.flows}
    while step.exits:
        ahead = max(step.exits, key=lambda way: (passage.ways[step.id, way.to], way.to)).to
        line = flows[step.id, ahead]
        assert len({round(x, 6) for x, _ in line.points}) == 1
        assert [y for _, y in line.points] == sorted(y for _, y in line.points)
        step = script.steps[ahead]


@pytest.mark.parametrize("case", range(1 + len(SEEDS)))
def test_sheets_of_several_are_as_clean_as_one(case: int) -> None:
    model, chart = list(cases())[case]
    sheets = lay_out(model, chart, paper="A4", date="2026-11-25")
    for measured in figures(sheets):
        assert (measured.overlaps, measured.strays) == ((), ())
