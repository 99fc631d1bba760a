"""Are equal sub-plans drawn once, and do few units come to what the wall leaves to the booklet?

What two ways have in common is worked out here anew, from the documents and along each path; odds
of a path are the product of the model's rows, by Bayes' rule (textbook).
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest

from render.paper.contents import Edition
from render.wording.phrasing import Wording
from render.wording.script import Script
from render.wording.scriptwriter import write_script
from render.wording.seldom import KIND
from tests.page.charts import documents

NAMES = ("capacitor-dropper-lamp-stage", "buck-lamp-stage")


@cache
def script_of(name: str) -> Script:
    return write_script(*documents(name), Wording.TIGHT)


def paths(nodes: dict[str, Any], root: str) -> Iterator[tuple[list[tuple[str, str]], str]]:
    """Every way from the root to a verdict: nodes with the outcome told at each, and the verdict;
    where an answer only asks to measure again, no way goes on."""
    stack: list[tuple[str, list[tuple[str, str]]]] = [(root, [])]
    while stack:
        name, way = stack.pop()
        node = nodes[name]
        if node["kind"] == "verdict":
            yield way, name
        elif node["kind"] == "setup":
            stack.append((node["next"], [*way, (name, "")]))
        elif node["kind"] == "test":
            stack.extend((to, [*way, (name, o)]) for o, to in node["branches"].items())


def says(nodes: dict[str, Any], name: str) -> tuple[Any, ...]:
    node = nodes[name]
    points = tuple(p["point"] for p in node.get("make_safe") or ())
    told = (node["kind"], node.get("test"), node.get("remedy"), node.get("supply"))
    return (*told, node.get("rig"), tuple(node.get("open") or ()), tuple(node["cautions"]), points)


@pytest.mark.parametrize("name", NAMES)
def test_along_every_way_the_drawn_twin_says_what_the_document_says(name: str) -> None:
    """Same checks, set-ups, cautions, stores and remedy, in the same order."""
    _, chart = documents(name)
    # Tight words run set-ups that follow each other together.
    script, nodes = write_script(*documents(name)), chart["nodes"]
    onward = {
        (step.parts[-1].node, outcome): way.to
        for step in script.steps.values()
        for way in step.exits
        for outcome in (way.outcomes or ("",))
    }
    heads = {head: [part.node for part in step.parts] for head, step in script.steps.items()}
    for way, verdict in paths(nodes, chart["root"]):
        at = script.steps[script.root].exits[0].to
        drawn_nodes: list[str] = []
        answers = dict(way)
        told = [outcome for name, outcome in way if nodes[name]["kind"] == "test"]
        while at:
            drawn_nodes += heads[at]
            last = heads[at][-1]
            kind = nodes[last]["kind"]
            at = "" if kind == "verdict" else onward[last, told.pop(0) if kind == "test" else ""]
        expected = [*answers, verdict]
        assert [says(nodes, n) for n in drawn_nodes] == [says(nodes, n) for n in expected]


def test_there_are_twins_among_the_plans() -> None:
    """Else the test above would say nothing of them."""
    kinds = {
        documents(name)[1]["nodes"][node]["kind"]
        for name in NAMES
        for node in script_of(name).merged
    }
    assert {"test", "setup"} <= kinds


@pytest.mark.parametrize("name", NAMES)
def test_the_wall_leaves_out_what_few_units_come_to(name: str) -> None:
    """The odds of all paths that end in a seldom way, summed here, are those told: two in a hundred
    at most."""
    model, chart = documents(name)
    wall = Edition.WALL.script_of(script_of(name))
    likelihood, prior = model["likelihood"], {f["id"]: f["prior"] for f in model["faults"]}
    onward = {
        (step.parts[-1].node, outcome): (way.to, step.parts[-1].node)
        for step in wall.steps.values()
        for way in step.exits
        for outcome in (way.outcomes or ("",))
    }
    lost = 0.0
    stack = [(wall.steps[wall.root].exits[0].to, prior)]
    while stack:
        at, weights = stack.pop()
        step = wall.steps[at]
        if step.parts[-1].kind == KIND:
            lost += sum(weights.values())
            continue
        node = chart["nodes"][step.parts[-1].node]
        for way in step.exits:
            share = {
                f: w * sum(likelihood[node["test"]][f].get(o, 0.0) for o in way.outcomes)
                for f, w in weights.items()
            } if node["kind"] == "test" else weights
            stack.append((way.to, share))
    assert lost == pytest.approx(wall.seldom, abs=1e-9)
    assert lost <= 0.02
    assert onward


@pytest.mark.parametrize("name", NAMES)
def test_nobody_is_asked_what_all_answers_lead_off_the_wall_by(name: str) -> None:
    """A check of which every answer is seldom is left to the booklet itself."""
    wall = Edition.WALL.script_of(script_of(name))
    for step in wall.steps.values():
        ends = [wall.steps[way.to].parts[-1].kind for way in step.exits]
        assert not ends or set(ends) != {KIND}


@pytest.mark.parametrize("name", NAMES)
def test_the_booklet_has_every_step_that_the_wall_lacks(name: str) -> None:
    """The wall's steps are the booklet's, numbers and all; a seldom way names its question."""
    whole = script_of(name)
    wall = Edition.WALL.script_of(whole)
    assert Edition.BOOKLET.script_of(whole) is whole
    assert len(wall.steps) < len(whole.steps)
    for end, step in wall.steps.items():
        if step.parts[-1].kind == KIND:
            words = "".join(run.text for run in step.parts[-1].paragraphs[0].runs)
            asker = whole.steps[end.partition(":")[2]]
            assert f"at {asker.number}?" in words
        else:
            assert step.number == whole.steps[end].number


@pytest.mark.parametrize("name", NAMES)
def test_who_leaves_the_wall_with_the_unit_live_is_told_to_unplug(name: str) -> None:
    """Nobody walks off to fetch a booklet from an energised unit."""
    model, _ = documents(name)
    energies = {one["id"]: one["energy"] for one in model["supply"]["arrangements"]}
    wall = Edition.WALL.script_of(script_of(name))
    for end, step in wall.steps.items():
        if step.parts[-1].kind != KIND:
            continue
        mark = wall.steps[end.partition(":")[2]].parts[-1].mark
        words = "".join(run.text for run in step.parts[-1].paragraphs[0].runs)
        assert mark is not None
        assert ("unplug" in words) == mark.word.startswith("LIVE")
        assert "mains" in energies.values()
