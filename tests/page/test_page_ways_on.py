"""Does the page go on from a check that can't be done, and is what it goes on with a plan?

The page's script is run by V8 over the elements that tinyhtml5 reads off the page. Each way on is
held against the audit, which knows nothing of planner and chart writer: its minutes, odds and costs
are recomputed from the odds and the bench at the check.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element

import pytest
from py_mini_racer import MiniRacer

import render.page
from engine import safetygate
from engine.audit import audit
from engine.chart import detours as ways_on
from engine.chart.detours import Detour
from engine.chart.drawing import document as chart_document
from engine.chart.drawing import draw_up
from engine.model import shorts
from engine.model.plan import Ask
from engine.model.records import Model, Start, sha256
from engine.model.records import document as model_document
from engine.planner import cost_without, plan
from kb.trouble import TroubleError
from render import page
from tests.models import stage_chain
from tests.page.charts import DATE
from tests.page.reading import Screen, screens_of, spoken, tree_of, with_class
from tests.safety.shop_models import random_model

SEEDS = (3,)
LEAST = 0.1
PLANNER = partial(plan, seconds=0.0, effort=2e7)
ELEMENTS = (Path(__file__).parent / "elements.js").read_text(encoding="utf-8")
RECKONED = ("AU103", "AU104", "AU105", "AU106", "AU107", "AU108", "AU2")
"""What the audit says of pointers, names, odds and costs; of the bench it is the gate that says."""


@cache
def made(seed: int) -> tuple[Model, dict[str, Any], tuple[Detour, ...]]:
    """A random shop's model, its chart, and the ways on from its likelier checks."""
    model = random_model(seed)
    chart = chart_document(draw_up(model, plan(model, seconds=0.0, effort=4e8)))
    gate = safetygate.guard(PLANNER)
    return model, chart, ways_on.detours(model, chart, gate, LEAST, lambda number, of: None)


@cache
def html(seed: int) -> str:
    """Its page."""
    model, chart, detours = made(seed)
    documents = json.loads(json.dumps([model_document(model), chart]))
    return page.draw(*documents, date=DATE, detours=detours)


@cache
def tree(seed: int) -> Element:
    """The same as elements."""
    return tree_of(html(seed))


@cache
def screens(seed: int) -> Mapping[str, Screen]:
    """The page, read back."""
    return screens_of(tree(seed))


def _links(seed: int) -> dict[str, str]:
    """Where each check leads that can't be done."""
    return {
        str(section.get("id")): str(link.get("href")).removeprefix("#")
        for section in with_class(tree(seed), "screen")
        for link in with_class(section, "cannot")
    }


def _tests_of(chart: Mapping[str, Any]) -> set[str]:
    return {node["test"] for node in chart["nodes"].values() if node["kind"] == "test"}


def test_there_are_ways_on_with_checks_and_set_ups_of_their_own() -> None:
    """Else the rest would prove nothing."""
    kinds = {
        node["kind"] for seed in SEEDS for way in made(seed)[2]
        for node in way.chart["nodes"].values()
    }  # fmt: skip
    assert {"setup", "test", "verdict"} <= kinds


@pytest.mark.parametrize("seed", SEEDS)
def test_each_check_leads_on_to_where_its_way_on_begins(seed: int) -> None:
    """And each of its nodes is a screen with its pointers, minutes and cautions."""
    model, _, detours = made(seed)
    minutes = {test.id: test.minutes for test in model.tests}
    said = {caution.id: spoken(caution.says) for caution in model.cautions}
    assert _links(seed) == {way.at: way.chart["root"] for way in detours}
    for name, node in (pair for way in detours for pair in way.chart["nodes"].items()):
        screen = screens(seed)[name]
        assert screen.kind == node["kind"]
        assert screen.next == node.get("next", "")
        assert {a.outcome: a.to for a in screen.answers} == node.get("branches", {})
        own = minutes[node["test"]] if node["kind"] == "test" else node.get("minutes", 0.0)
        assert screen.minutes == pytest.approx(own)
        assert set(screen.cautions) == set(node.get("cautions", ()))
        assert all(said[caution] in words for caution, words in screen.cautions.items())


@pytest.mark.parametrize("seed", SEEDS)
def test_nothing_is_lost_or_found_where_one_goes_on(seed: int) -> None:
    """As many units go on as come to the check, and to be expected is what the plan expects."""
    for way in made(seed)[2]:
        here, root = screens(seed)[way.at], screens(seed)[way.chart["root"]]
        assert root.reach == pytest.approx(here.reach, abs=1e-9)
        if root.kind != "verdict":
            expected = way.chart["expected_minutes"]
            assert root.minutes + root.ahead == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_audit_reckons_each_way_on_as_it_says(seed: int) -> None:
    """From the bench at the check and the odds there, put into the model's place."""
    model, chart, detours = made(seed)
    for way in detours:
        share = sum(way.weights.values())
        plain = model_document(model)
        plain["faults"] = [
            {**fault, "prior": way.weights.get(fault["id"], 0.0) / share}
            for fault in plain["faults"]
        ]
        plain["start"] = {
            "opened": sorted(way.state.opened), "supply": way.state.supply, "rig": way.state.rig,
        }  # fmt: skip
        assert way.chart["model_sha256"] == sha256(model)
        breaches = [b for b in audit(plain, way.chart) if b.code.startswith(RECKONED)]
        assert breaches == []
        assert chart["nodes"][way.at]["test"] not in _tests_of(way.chart)


@pytest.mark.parametrize("seed", range(3))
def test_a_way_on_from_the_first_check_costs_what_planning_without_it_costs(seed: int) -> None:
    """On the bench that stands as for that check."""
    model = stage_chain(seed, 6, 8)
    chart = chart_document(draw_up(model, plan(model, seconds=0.0, effort=4e8)))
    first = ways_on.detours(model, chart, PLANNER, 0.999, lambda number, of: None)[0]
    test = chart["nodes"][first.at]["test"]
    bench = first.state
    there = replace(model, start=Start(tuple(bench.opened), bench.supply, bench.rig))
    assert first.more == pytest.approx(cost_without(there, test), abs=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_way_on_tries_what_a_short_on_any_way_to_it_bars(seed: int) -> None:
    model, chart, detours = made(seed)
    nodes, barred = chart["nodes"], dict[str, set[str]]()
    stack: list[tuple[str, frozenset[str]]] = [(chart["root"], frozenset())]
    while stack:
        name, bars = stack.pop()
        barred.setdefault(name, set()).update(bars)
        if "next" in nodes[name]:
            stack.append((nodes[name]["next"], bars))
        for outcome, child in nodes[name].get("branches", {}).items():
            stack.append((child, bars | shorts.bars(model, nodes[name]["test"], outcome)))
    for way in detours:
        assert not barred[way.at] & _tests_of(way.chart)


def test_a_way_on_that_the_laws_of_safety_reject_is_not_drawn() -> None:
    """One that goes to hands-on checks from a bench that it does not make dead."""
    model, chart, _ = made(SEEDS[0])

    def careless(model: Model, **given: Any) -> Any:
        made_plan = PLANNER(model, **given)
        live = next(a.id for a in model.supply.arrangements if not a.hands_on)
        nodes = {
            name: replace(node, state=replace(node.state, supply=live))
            if isinstance(node, Ask) and model.test(node.test).hands_on else node
            for name, node in made_plan.nodes.items()
        }  # fmt: skip
        return replace(made_plan, nodes=nodes)

    with pytest.raises(TroubleError, match="law of safety"):
        ways_on.detours(
            model, chart, safetygate.guard(careless), LEAST, lambda number, of: None
        )


# -- the page's script over the page's elements -------------------------------------------------


def _plain(element: Element) -> dict[str, Any]:
    """An element as JSON, for the few things that the script asks of it."""
    children = [_plain(child) for child in element if isinstance(child.tag, str)]
    words = " ".join("".join(element.itertext()).split())
    return {
        "tag": element.tag, "attributes": dict(element.attrib), "words": words, "inside": children,
    }  # fmt: skip


@cache
def script(seed: int) -> MiniRacer:
    """V8 with the page's script, and the page's elements to follow codes through."""
    engine = MiniRacer()
    source = (Path(render.page.__file__).parent / "page.js").read_text(encoding="utf-8")
    assert source.rstrip().endswith("})();")
    engine.eval(ELEMENTS)
    engine.call("setPage", _plain(tree(seed)))
    engine.eval(source.rstrip().removesuffix("})();") + "globalThis.followed = follow;\n})();")
    return engine


def _codes_to(chart: Mapping[str, Any], goal: str, begin: str) -> list[str]:
    """The codes from one node of a chart to another, by positions of answers."""
    stack: list[tuple[str, list[str]]] = [(begin, [])]
    while stack:
        name, codes = stack.pop()
        if name == goal:
            return codes
        stack.extend((child, [*codes, code]) for code, child in _steps(chart["nodes"][name]))
    raise AssertionError(goal)


def _steps(node: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    if "next" in node:
        yield "d", node["next"]
    for place, child in enumerate(node.get("branches", {}).values()):
        yield str(place), child


def _begun(seed: int) -> list[str]:
    return ["s", "e"] if "entry" in html(seed) and 'id="entry"' in html(seed) else ["s"]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_script_goes_on_by_the_way_on_down_to_its_verdicts(seed: int) -> None:
    """The check that was not done takes no minutes and moves no odds; it stands in the record."""
    _, chart, detours = made(seed)
    minutes = {name: screen.minutes for name, screen in screens(seed).items()}
    for way in detours:
        before = [*_begun(seed), *_codes_to(chart, way.at, chart["root"])]
        ends = [n for n, node in way.chart["nodes"].items() if node["kind"] == "verdict"]
        come = script(seed).call("summary", before)
        assert come["at"] == way.at
        for end in ends:
            after = _codes_to(way.chart, end, way.chart["root"])
            came = script(seed).call("summary", [*before, "x", *after])
            assert came["at"] == end
            assert came["steps"][len(come["steps"])]["answer"] == "not done here"
            name, spent = way.chart["root"], 0.0
            for code in after:
                spent += minutes[name]
                name = dict(_steps(way.chart["nodes"][name]))[code]
            assert came["minutes"] - come["minutes"] == pytest.approx(spent, abs=1e-6)


def test_the_script_leaves_no_check_that_has_no_way_on() -> None:
    """A set-up is not left out, nor a check on the way on itself."""
    seed = SEEDS[0]
    _, chart, detours = made(seed)
    stays = script(seed).call("summary", [*_begun(seed), "x"])
    root = chart["root"]
    assert stays["at"] == root or root in {way.at for way in detours}
    way = next(w for w in detours if _tests_of(w.chart))
    inner = next(n for n, node in way.chart["nodes"].items() if node["kind"] == "test")
    before = [*_begun(seed), *_codes_to(chart, way.at, root), "x"]
    before += _codes_to(way.chart, inner, way.chart["root"])
    assert script(seed).call("summary", [*before, "x"])["at"] == inner
