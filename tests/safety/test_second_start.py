"""Has a chart a second START for units after a bang, a smell, a trip or damage, on each medium?"""

from __future__ import annotations

import copy
import json
import re
from functools import cache
from typing import Any

import pytest

from engine import library
from engine.audit import audit
from engine.chart.drawing import document as chart_document
from engine.chart.drawing import draw_up
from engine.chart.secondstart import join, second_of
from engine.documents.chart import read_chart
from engine.model.records import Mains, Model
from engine.model.records import document as model_document
from engine.planner import plan
from render import page
from render.drawing.svg import all_words
from render.layout.quality import figures
from render.paper import Extra, Orientation, lay_out
from tests.page.reading import screens_of, tree_of

Document = dict[str, Any]
NAME = library.topologies()[0].id
DATE = "2026-11-25"


def unit(complaint: str | None) -> Model:
    return library.model(NAME, mains=Mains(230.0, 50.0), depth="stage", complaint=complaint)


def charted(model: Model) -> Document:
    return chart_document(draw_up(model, plan(model, seconds=0.0, effort=4e8)))


@cache
def documents() -> tuple[Document, Document, Document]:
    """The first model, the chart with both STARTs, the model of the second."""
    wanted = library.second_start(None)
    assert wanted is not None
    complaint, says = wanted
    first, second = unit(None), unit(complaint)
    chart = join(charted(first), says, charted(second))
    made = (model_document(first), chart, model_document(second))
    model, both, other = json.loads(json.dumps(made))
    return model, both, other


def test_both_starts_are_reckoned_each_with_its_model() -> None:
    """And the document keeps its shape."""
    model, chart, second = documents()
    assert audit(model, chart, second) == ()
    assert read_chart(chart).plain() == chart


def test_a_second_start_without_its_model_is_not_let_pass() -> None:
    """Nor with the first one's."""
    model, chart, _ = documents()
    assert {breach.code for breach in audit(model, chart)} == {"AU101"}
    assert "AU101" in {breach.code for breach in audit(model, chart, model)}


@pytest.mark.parametrize("key", ["topology", "mains", "knowledge"])
def test_a_second_start_of_another_unit_is_a_breach(key: str) -> None:
    model, chart, second = copy.deepcopy(documents())
    chart["second"]["chart"][key] = second[key] = "another"
    assert any(f"another {key}" in breach.what for breach in audit(model, chart, second))


def test_a_breach_behind_the_second_start_is_found() -> None:
    """Minutes that are not the steps'."""
    model, chart, second = copy.deepcopy(documents())
    chart["second"]["chart"]["expected_minutes"] += 1
    assert {breach.code for breach in audit(model, chart, second)} == {"AU207"}


def test_both_starts_have_nodes_of_their_own_and_the_second_is_cold() -> None:
    _, chart, _ = documents()
    found = second_of(chart)
    assert found is not None
    says, inner = found
    assert says == "a bang, a smell, a trip or damage"
    assert not set(inner["nodes"]) & set(chart["nodes"])
    first = inner["nodes"][inner["root"]]
    assert (first["kind"], first["open"], first["supply"]) == (
        "setup", ["cold-checks"], "unplugged"
    )  # fmt: skip
    assert inner["nodes"][first["next"]]["test"].endswith("-at-contacts")


@pytest.mark.parametrize("complaint", [None, "dim", "never-lights"])
def test_a_symptom_has_a_second_start(complaint: str | None) -> None:
    assert library.second_start(complaint) == (
        "bang-smell-trip-damage", "a bang, a smell, a trip or damage"
    )  # fmt: skip


@pytest.mark.parametrize(
    "complaint",
    ["died-with-flash", "burnt-smell", "trips-protection", "broken-mechanical",
     "bang-smell-trip-damage"],
)  # fmt: skip
def test_a_plan_that_begins_with_cold_checks_needs_no_second(complaint: str) -> None:
    assert library.second_start(complaint) is None


def test_on_paper_it_is_a_second_start_on_further_sheets() -> None:
    """Counted through, checks and verdicts numbered on from those before, no word astray."""
    model, chart, second = documents()
    # one way up: which is better is asked elsewhere, of each START by itself
    ways = {"date": DATE, "leave_out": tuple(Extra), "landscape": Orientation.LANDSCAPE}
    alone = lay_out(model, chart, **ways)
    laid = lay_out(model, chart, **ways, second=second)
    assert {(f.strays, f.overlaps) for f in figures(laid)} == {((), ())}
    told = [" ".join(word.text for word in all_words(sheet)) for sheet in laid.sheets]
    own = len(alone.sheets)
    assert len(laid.sheets) > own
    assert [number for number, words in enumerate(told) if "SECOND START" in words] == [
        next(n for n in range(own, len(told)) if "SECOND START" in told[n])
    ]
    for number, words in enumerate(told, start=1):
        assert f"Sheet {number} of {len(told)}" in words.replace("\u00a0", " ")
    starts = [
        s.node for sheet in laid.sheets for s in sheet.drawing.symbols if s.node.endswith("start")
    ]
    assert starts == ["start", "second-start"]
    numbers = [set(re.findall(r"\b(V?\d+)\?", " ".join(words))) for words in
               (told[:own], told[own:])]  # fmt: skip
    assert not numbers[0] & numbers[1]


def test_on_the_page_the_entry_check_leads_to_it() -> None:
    """A bang goes on with the second START; no pointer leads nowhere, each name stands once."""
    model, chart, second = documents()
    tree = tree_of(page.draw(model, chart, date=DATE, second=second))
    inner = chart["second"]["chart"]
    entry = next(e for e in tree.iter() if e.get("id") == "entry")
    assert entry.get("data-second") == inner["root"]
    names = [str(e.get("id")) for e in tree.iter() if e.get("id")]
    assert len(names) == len(set(names))
    assert set(inner["nodes"]) | set(chart["nodes"]) <= set(names)
    pointers = {str(e.get("href"))[1:] for e in tree.iter("a")}
    assert pointers <= set(names)
    told = [e for e in entry.iter() if e.get("data-effect") == "cold-first"]
    assert told
    assert all("plan of its own" in "".join(e.itertext()) for e in told)
    labels = [e.get("data-label") for e in tree.iter() if e.get("data-kind") == "test"]
    assert len(labels) == len(set(labels))


def test_a_page_of_a_cold_plan_goes_on_after_a_bang() -> None:
    """It need not send anyone away: its own first step is the cold check."""
    made = unit("died-with-flash")
    tree = tree_of(page.draw(model_document(made), charted(made), date=DATE))
    asked = next(e for e in tree.iter() if e.get("data-question") == "bang-smell-trip")
    assert {e.get("value") for e in asked.iter("input")} == {"go-on"}
    assert screens_of(tree)
