"""Does every screen tell how the bench stands, and is every store asked for in volts?"""

from __future__ import annotations

import pytest

from render.drawing.bench_marks import Bench
from render.drawing.signs import in_words
from tests.page.charts import SOURCES, documents, html
from tests.page.reading import spoken, tree_of, with_class, words_of

NAMES = tuple(SOURCES)


@pytest.mark.parametrize("name", NAMES)
def test_every_screen_bears_the_bench_mark_of_its_node(name: str) -> None:
    model, chart = documents(name)
    bench = Bench.of(model)
    stands = {chart["root"]: {(frozenset(model["start"]["opened"]), model["start"]["supply"])}}
    todo = [chart["root"]]
    while todo:
        node_id = todo.pop()
        node = chart["nodes"][node_id]
        for opened, supply in stands[node_id]:
            if node["kind"] == "setup":
                opened, supply = opened | set(node["open"]), node["supply"]
            for child in [node["next"]] if "next" in node else node.get("branches", {}).values():
                if (opened, supply) not in stands.setdefault(child, set()):
                    stands[child].add((opened, supply))
                    todo.append(child)
    for section in with_class(tree_of(html(name)), "screen"):
        if section.get("data-kind") not in ("setup", "test"):
            continue
        node_id = str(section.get("id"))
        node = chart["nodes"][node_id]
        after = {
            bench.mark(node.get("supply", supply), opened | set(node.get("open", ()))).word
            for opened, supply in stands[node_id]
        }
        (mark,) = with_class(section, "mark")
        assert words_of(next(mark.iter("b"))) in after


@pytest.mark.parametrize("name", NAMES)
def test_hazards_that_stand_are_named_and_not_told_again(name: str) -> None:
    model, chart = documents(name)
    hazards = {caution["id"]: caution["hazard"] for caution in model["cautions"]}
    for section in with_class(tree_of(html(name)), "screen"):
        node = chart["nodes"].get(str(section.get("id")), {})
        if node.get("kind") not in ("setup", "test"):
            continue
        lines = " ".join(words_of(line) for line in with_class(section, "still")).casefold()
        for caution in node.get("standing") or ():
            assert spoken(in_words(hazards[caution])).casefold() in lines


@pytest.mark.parametrize("name", NAMES)
def test_a_store_is_answered_with_a_number_or_as_out_of_reach(name: str) -> None:
    for store in with_class(tree_of(html(name)), "store"):
        kinds = sorted(str(box.get("type")) for box in store.iter("input"))
        assert kinds == ["checkbox", "number"]
        assert float(str(store.get("data-below"))) > 0


@pytest.mark.parametrize("name", NAMES)
def test_going_on_out_of_reach_is_offered_only_before_the_opening_that_bares_it(name: str) -> None:
    model, chart = documents(name)
    stores = {store["part"]: store for store in model["stores"]}
    for section in with_class(tree_of(html(name)), "screen"):
        node = chart["nodes"].get(str(section.get("id")), {})
        fields = list(with_class(section, "store"))
        for point, field in zip(node.get("make_safe") or (), fields, strict=True):
            if field.get("data-onward") is None:
                continue
            follows = chart["nodes"][node["next"]]
            bared = stores[point["part"]].get("exposed_by") or ()
            assert set(follows["open"]) & set(bared)


@pytest.mark.parametrize("name", NAMES)
def test_what_holds_at_every_repair_stands_in_full_once(name: str) -> None:
    model, chart = documents(name)
    grouped = (chart.get("grouped") or {}).get("verdict", ())
    panels = list(with_class(tree_of(html(name)), "repair"))
    assert len(panels) == bool(grouped)
    says = {caution["id"]: caution["says"] for caution in model["cautions"]}
    for panel in panels:
        assert all(spoken(says[caution]) in words_of(panel) for caution in grouped)


def test_every_method_that_the_plan_needs_stands_on_the_page() -> None:
    model, chart = documents("buck-lamp-stage")
    fed = {node["supply"] for node in chart["nodes"].values() if node["kind"] == "setup"}
    words = words_of(next(e for e in tree_of(html("buck-lamp-stage")).iter()
                          if e.get("id") == "methods"))  # fmt: skip
    for method in model["methods"]:
        if fed & set(method["of"]):
            assert all(spoken(step) in words for step in method["steps"])
