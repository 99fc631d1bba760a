"""Do the confirm steps of a chart stand on their lines of the page, with all that is theirs?"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from typing import Any

import pytest

from engine.chart.confirmed import document_with_confirm
from engine.model.records import document as model_document
from engine.planner import plan
from render import page
from tests.page.charts import DATE
from tests.page.reading import Screen, screens_of, spoken, tree_of
from tests.safety.shop_models import mistaken, random_model

SEEDS = (3, 5, 17)


@cache
def documents(seed: int) -> tuple[dict[str, Any], dict[str, Any]]:
    """A random shop's model in which readings are often mistaken, and its chart with confirms."""
    model = mistaken(random_model(seed), 0.08)
    chart = document_with_confirm(model, plan(model, seconds=0.0, effort=4e8))
    return json.loads(json.dumps(model_document(model))), json.loads(json.dumps(chart))


@cache
def screens(seed: int) -> Mapping[str, Screen]:
    """Its page, read back."""
    return screens_of(tree_of(page.draw(*documents(seed), date=DATE)))


def test_there_are_confirm_steps_with_set_ups_and_without() -> None:
    """Else the rest would prove nothing."""
    steps = [step for seed in SEEDS for step in documents(seed)[1]["confirm"]]
    firsts = {step["nodes"][step["root"]]["kind"] for step in steps}
    assert firsts == {"setup", "test"}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_line_with_a_confirm_step_leads_through_it(seed: int) -> None:
    """And every other line where the plan leads."""
    chart = documents(seed)[1]
    through = {(step["at"], step["outcome"]): step["root"] for step in chart["confirm"]}
    for name, node in chart["nodes"].items():
        for answer in screens(seed)[name].answers:
            wanted = through.get((name, answer.outcome), node["branches"][answer.outcome])
            assert answer.to == wanted


@pytest.mark.parametrize("seed", SEEDS)
def test_each_node_of_a_confirm_step_is_a_screen(seed: int) -> None:
    """With its minutes, cautions, stores and pointers."""
    model, chart = documents(seed)
    minutes = {test["id"]: test["minutes"] for test in model["tests"]}
    for step in chart["confirm"]:
        for name, node in step["nodes"].items():
            screen = screens(seed)[name]
            assert set(screen.cautions) == set(node.get("cautions", ()))
            assert [p for p, _ in screen.points] == [
                spoken(p["point"]) for p in node.get("make_safe", ())
            ]
            if node["kind"] == "setup":
                assert (screen.minutes, screen.next) == (node["minutes"], node["next"])
            elif node["kind"] == "test":
                assert screen.minutes == minutes[node["test"]]
                assert {a.outcome: a.to for a in screen.answers} == node["branches"]


@pytest.mark.parametrize("seed", SEEDS)
def test_told_otherwise_what_came_twice_counts(seed: int) -> None:
    """On to the verdict, or back to the test."""
    for step in documents(seed)[1]["confirm"]:
        for name, node in step["nodes"].items():
            if node["kind"] == "recheck":
                screen = screens(seed)[name]
                ways = {answer.outcome: answer.to for answer in screen.answers}
                assert (screen.kind, ways) == ("third", {"same": step["to"], "other": step["back"]})


@pytest.mark.parametrize("seed", SEEDS)
def test_a_repeated_test_claims_no_odds(seed: int) -> None:
    """By true readings it would show the same; how often it does not is the model's to say."""
    for step in documents(seed)[1]["confirm"]:
        for name, node in step["nodes"].items():
            if node["kind"] == "test":
                odds = [answer.odds for answer in screens(seed)[name].answers]
                assert all(p != p for p in odds)  # not told, so not a number


@pytest.mark.parametrize("seed", SEEDS)
def test_the_plans_own_minutes_stay_what_they_are(seed: int) -> None:
    """For true readings."""
    chart = documents(seed)[1]
    root = screens(seed)[chart["root"]]
    assert root.minutes + root.ahead == pytest.approx(chart["expected_minutes"], abs=1e-9)
