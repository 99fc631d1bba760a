"""Does the shipped schema take every chart that can be printed: each kind of node, each key?"""

from __future__ import annotations

import copy
import json
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from engine.chart import instead
from engine.chart.confirmed import document_with_confirm
from engine.chart.drawing import document, draw_up
from engine.documents import chart as records
from engine.documents.chart import read_chart
from engine.documents.reading import MisfitError
from engine.model.file import read_model
from engine.planner import plan
from engine.walk import goingon
from render.cli import ranging
from tests.docs.printouts import documents
from tests.docs.recordkeys import filled, listed, wrong_or_unlisted
from tests.safety.shop_models import random_model
from tests.safety.test_stores import BULK, OUTPUT, cabinet
from tests.walk.test_going_on import part_model, stage_model
from tests.words.lantern import TEXT

Document = dict[str, Any]
UNIT, STORES, CONFIRMED, STURDY, WORTH = "buck-lamp", "stores", "confirmed", "sturdy", "worth"
LAST = "last"
CHARTS = (UNIT, STORES, CONFIRMED, STURDY, WORTH, LAST)


@cache
def printed() -> dict[str, Document]:
    """A shipped unit as the command line prints it, one with stores, one with confirm steps, one
    with ranges, one of a shop that says what it is worth, one whose only check can't be done."""
    stores = replace(cabinet(BULK, OUTPUT), complaint="dim")
    shop, lantern = random_model(3), read_model(TEXT, "lantern")
    sturdy = ranging.drafting(2, True, lambda model, made: document(draw_up(model, made)))
    stage, last = stage_model(), part_model()
    charts = {
        UNIT: documents()["chart"],
        STORES: document(draw_up(stores, plan(stores))),
        CONFIRMED: document_with_confirm(lantern, plan(lantern)),
        STURDY: sturdy(shop, plan(shop)),
        WORTH: goingon.with_going_on(
            stage, document(draw_up(stage, plan(stage))), goingon.Stage(part_model(), plan, 50.0)
        ),
        LAST: instead.with_ways_on(
            last, document(draw_up(last, plan(last))), plan, 0.0, lambda *_: None
        ),
    }
    read: dict[str, Document] = json.loads(json.dumps(charts))
    return read


@pytest.mark.parametrize("name", CHARTS)
def test_a_chart_keeps_to_its_schema_and_has_no_key_beside_it(name: str) -> None:
    assert wrong_or_unlisted("chart.json", printed()[name]) == []


@pytest.mark.parametrize("name", CHARTS)
def test_a_chart_that_is_read_prints_as_it_was(name: str) -> None:
    """Key by key in the same order, nothing added and nothing dropped."""
    chart = printed()[name]
    assert json.dumps(read_chart(chart).plain()) == json.dumps(chart)


def test_each_key_of_each_node_is_met() -> None:
    """So that the schema is tried on each."""
    keys = {key for chart in printed().values() for key in filled(read_chart(chart))}
    assert listed(records) - keys - _of_the_second_start() == set()


def _of_the_second_start() -> set[tuple[str, str]]:
    """Keys of a first START that a second one can't have: it is never asked for with them."""
    asked_for = ("expected_cost_with_misreads", "expected_cost_with_confirm", "confirm",
                 "ranges", "sturdy")  # fmt: skip
    return {("Start", key) for key in asked_for}


def test_a_key_that_is_not_listed_is_let_pass_by_the_shipped_schema_alone() -> None:
    """`/1` stays `/1` while keys are added; the check above sees one that nobody listed."""
    chart = copy.deepcopy(printed()[STORES])
    chart["nodes"][chart["root"]]["mood"] = "good"
    assert read_chart(chart).root == chart["root"]
    assert wrong_or_unlisted("chart.json", chart) != []


@pytest.mark.parametrize(
    ("key", "value", "what"),
    [
        ("minutes", "2", 'nodes.n1.minutes: this should be a number, not "2"'),
        ("open", "lid", 'nodes.n1.open: this should be a list, not "lid"'),
        ("minutes", True, "nodes.n1.minutes: this should be a number, not true"),
        ("rig", None, "nodes.n1.rig: this should be text, not null"),
        ("kind", "rest", "nodes.n1: "),
    ],
)
def test_a_damaged_node_is_told_by_its_place(key: str, value: Any, what: str) -> None:
    """Nothing is taken for something else."""
    chart = copy.deepcopy(printed()[STORES])
    assert chart["nodes"]["n1"]["kind"] == "setup"
    chart["nodes"]["n1"][key] = value
    with pytest.raises(MisfitError) as misfit:
        read_chart(chart)
    assert str(misfit.value).startswith(what)


def test_a_missing_key_is_told_with_its_line() -> None:
    chart = copy.deepcopy(printed()[STORES])
    del chart["nodes"]["n1"]["next"]
    text = json.dumps(chart, indent=1)
    with pytest.raises(MisfitError, match=r'nodes\.n1: "next" is missing') as misfit:
        read_chart(chart)
    line, _ = misfit.value.line(text)
    assert '"n1": {' in text.splitlines()[line - 1]
