"""Is the DOT file the whole chart, can Graphviz draw it, and do its ranks bear ours out?"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import graphviz
import pytest

from engine.chart.confirmed import document_with_confirm
from engine.chart.secondstart import join
from engine.model.records import document as model_document
from engine.planner import plan
from render.cli.commands import main
from render.drawing import dot
from render.drawing.ink import Sheet, Symbol
from render.drawing.typeset import fine
from render.layout import blocks
from render.paper import Extra, flowgraph, lay_out
from render.wording import bands
from render.wording.scriptwriter import write_script
from tests.paper import lamp
from tests.safety.shop_models import mistaken, random_model
from tests.words.cli import LANTERN

DATE = "2026-11-25"
SEEDS = (3, 5, 17)
Documents = tuple[dict[str, Any], dict[str, Any]]


@dataclass(frozen=True)
class Graph:
    """A graph as Graphviz read it: words by node, and (tail, head, words) of each arrow."""

    nodes: dict[str, str]
    arrows: list[tuple[str, str, str]]
    title: str


def drawn(text: str) -> Graph:
    """DOT text as the program itself parses it."""
    told = json.loads(graphviz.Source(text).pipe(format="json", encoding="utf-8", quiet=True))
    names = {one["_gvid"]: one["name"] for one in told["objects"]}
    return Graph(
        {one["name"]: plain(one["label"]) for one in told["objects"]},
        [
            (names[one["tail"]], names[one["head"]], plain(one.get("label", "")))
            for one in told["edges"]
        ],
        plain(told["label"]),
    )


def plain(label: str) -> str:
    """A label's words without the ends of its lines."""
    return " ".join(label.replace("\\l", " ").replace("\u00a0", " ").split())


@cache
def documents(seed: int) -> Documents:
    """A random shop's model in which readings are often mistaken, and its chart with confirms."""
    model = mistaken(random_model(seed), 0.08)
    chart = document_with_confirm(model, plan(model, seconds=0.0, effort=4e8))
    return json.loads(json.dumps(model_document(model))), json.loads(json.dumps(chart))


def expected(model: dict[str, Any], chart: dict[str, Any]) -> Iterator[tuple[str, str, str]]:
    """The arrows of the documents with their answers; what is only measured again leads nowhere."""
    outcomes = {t["id"]: {o["id"]: o for o in t["outcomes"]} for t in model["tests"]}
    merged = write_script(model, chart).merged
    again = {step["at"]: {} for step in chart.get("confirm", ())}
    for step in chart.get("confirm", ()):
        again[step["at"]][step["outcome"]] = step["root"]
    rechecks = {n for n, node in chart["nodes"].items() if node["kind"] == "recheck"}
    yield "start", chart["root"], ""
    for name, node in chart["nodes"].items():
        if node["kind"] == "setup":
            yield name, node["next"], ""
        by_end: dict[str, list[dict[str, Any]]] = {}
        for answer, to in node.get("branches", {}).items():
            end = again.get(name, {}).get(answer, to)
            by_end.setdefault(merged.get(end, end), []).append(outcomes[node["test"]][answer])
        for end, told in by_end.items():
            if end not in rechecks:
                yield name, end, plain(fine(bands.branch(told), "test"))
    for step in chart.get("confirm", ()):
        for name, node in step["nodes"].items():
            if node["kind"] == "setup":
                yield name, node["next"], ""
            elif node["kind"] == "test":
                yield name, step["to"], ""


@pytest.mark.parametrize("seed", [*SEEDS, None], ids=str)
def test_its_nodes_and_arrows_are_those_of_the_chart(seed: int | None) -> None:
    """As Graphviz reads them, confirm steps on their lines, each answer in its words."""
    model, chart = documents(seed) if seed is not None else (lamp.model(), lamp.chart())
    graph = drawn(flowgraph.write(model, chart, date=DATE))
    arrows = sorted(expected(model, chart))
    assert sorted(graph.arrows) == arrows
    assert set(graph.nodes) == {end for tail, head, _ in arrows for end in (tail, head)}


def test_there_are_confirm_steps_to_be_drawn() -> None:
    """Else the test above would prove nothing of them."""
    assert all(documents(seed)[1]["confirm"] for seed in SEEDS)


def test_every_caution_stands_at_its_node_and_in_full() -> None:
    """The signal word at the node, the text in the head."""
    model, chart = lamp.model(), lamp.chart()
    graph = drawn(flowgraph.write(model, chart, date=DATE))
    cautions = {one["id"]: one for one in model["cautions"]}
    told = {c for node in chart["nodes"].values() for c in node.get("cautions", ())}
    assert told
    for caution in told:
        assert plain(fine(cautions[caution]["says"], "caution")) in graph.title
    heads = {step.parts[0].node: step for step in write_script(model, chart).steps.values()}
    for step in heads.values():
        for part in step.parts:
            for signal in part.signals:
                assert f"{signal.word}: {', '.join(signal.hazards)}".replace(
                    "\u00a0", " "
                ) in graph.nodes[part.node]


def test_what_is_left_out_is_missing_and_nothing_else() -> None:
    """Panels can go; signal words at the nodes can't."""
    model, chart = lamp.model(), lamp.chart()
    whole = drawn(flowgraph.write(model, chart, date=DATE))
    less = drawn(flowgraph.write(model, chart, date=DATE, leave_out=[Extra.PROOFS]))
    assert (less.nodes, less.arrows) == (whole.nodes, whole.arrows)
    assert "PROOF AFTER REPAIR" in whole.title
    assert "PROOF AFTER REPAIR" not in less.title


def test_a_second_start_is_drawn_beside_the_first() -> None:
    """With a start of its own, its checks numbered on."""
    model, chart = lamp.model(), lamp.chart()
    both = join(chart, "a bang", lamp.chart())
    graph = drawn(flowgraph.write(model, both, second=model, date=DATE))
    alone = drawn(flowgraph.write(model, chart, date=DATE))
    assert len(graph.nodes) == 2 * len(alone.nodes)
    assert graph.nodes["second-start"].startswith("SECOND START after a bang")
    verdicts = [n for words in graph.nodes.values() for n in re.findall(r"(V\d+) .*prove", words)]
    assert len(verdicts) > 10
    assert len(set(verdicts)) == len(verdicts)


def test_words_that_look_like_markup_stay_words() -> None:
    """Escapes, HTML and quotes of a knowledge base are drawn as they are written."""
    model, chart = lamp.model(), lamp.chart()
    odd = '<b>\\N "x" {y|z}\\'
    model["tests"][0]["says"] = odd
    name = next(n for n, v in chart["nodes"].items() if v.get("test") == model["tests"][0]["id"])
    source = graphviz.Source(flowgraph.write(model, chart, date=DATE))
    picture = source.pipe(format="svg", encoding="utf-8", quiet=True)
    mine = picture.partition(f"<title>{name}</title>")[2].partition("</g>")[0]
    assert "&lt;b&gt;\\N &quot;x&quot; {y|z}\\" in mine.replace("&#160;", " ")


# ---- ranks ----


def heights(text: str) -> tuple[dict[str, float], list[tuple[str, str]]]:
    """How far down each node stands in Graphviz's own layout, in inches, and the arrows."""
    plain_text = graphviz.Source(text).pipe(format="plain", encoding="utf-8", quiet=True)
    # A long label would be broken by a backslash at the end of a line.
    lines = [line.split() for line in plain_text.replace("\\\n", "").splitlines()]
    down = {line[1]: -float(line[3]) for line in lines if line[0] == "node"}
    return down, [(line[1], line[2]) for line in lines if line[0] == "edge"]


def boxes(sheet: Sheet, node: str) -> list[Symbol]:
    return [one for one in sheet.drawing.symbols if one.node == node]


@pytest.mark.parametrize("seed", [*SEEDS, None], ids=str)
def test_our_sheets_lead_on_along_the_arrows_that_graphviz_ranks(seed: int | None) -> None:
    """Down in its layout; down or to the right on our sheets, but for what a letter leads on to."""
    model, chart = documents(seed) if seed is not None else (lamp.model(), lamp.chart())
    down, arrows = heights(flowgraph.write(model, chart, date=DATE))
    assert [arrow for arrow in arrows if down[arrow[0]] >= down[arrow[1]]] == []
    laid = lay_out(model, chart, paper="A2", date=DATE)
    on_sheet = {s.node: sheet for sheet in laid.sheets for s in sheet.drawing.symbols}
    assert set(down) <= set(on_sheet)
    steps = write_script(model, chart).steps
    head_of = {part.node: head for head, step in steps.items() for part in step.parts}
    drawn_here = 0
    for tail, head in arrows:
        letter = f"out:{head_of[tail]}:{head}"
        if letter in on_sheet or on_sheet[tail] is not on_sheet[head]:
            continue
        drawn_here += 1
        before, after = boxes(on_sheet[tail], tail)[-1], boxes(on_sheet[head], head)[0]
        below = after.box.y >= before.box.bottom - 1e-6
        assert below or after.box.x >= before.box.right - 1e-6, (tail, head)
    assert drawn_here > len(arrows) / 2


# ---- at the command line ----


def ran(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    """The exit code of the program."""
    monkeypatch.setattr("sys.argv", ["nextprobe", "chart", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    return int(ended.value.code or 0)


def test_the_suffix_dot_writes_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """By itself, and said so; it is the chart that the document tells of."""
    target, unit = tmp_path / "lantern.dot", ("--model", str(LANTERN))
    assert ran(monkeypatch, *unit, "-o", os.fspath(target)) == 0
    assert capsys.readouterr().out == f"{target} is written.\n"
    assert ran(monkeypatch, *unit, "--format", "json") == 0
    chart = json.loads(capsys.readouterr().out)
    graph = drawn(target.read_text(encoding="utf-8"))
    asking = {n for n, node in chart["nodes"].items() if node["kind"] in ("setup", "test")}
    assert asking | {"start"} <= set(graph.nodes) <= {*chart["nodes"], "start"}


@pytest.mark.parametrize("words", [("svg", "--leave-out", "blocks"), ("dot",)], ids=" ".join)
def test_without_blocks_no_graphviz_is_needed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    """Sheets without the block diagram, and DOT, which others lay out; sheets with it are refused.

    Of the shipped unit that is soonest laid out.
    """
    monkeypatch.setenv("PATH", os.fspath(tmp_path))
    blocks.diagrams.cache_clear()
    dot.place.cache_clear()
    form, *more = words
    target = tmp_path / f"chart.{form}"
    unit = ("enabled-lamp", "--depth", "stage")
    if more:
        assert ran(monkeypatch, *unit, "-o", os.fspath(target)) != 0
        assert not any(tmp_path.iterdir())
    assert ran(monkeypatch, *unit, *more, "-o", os.fspath(target)) == 0
    assert [*tmp_path.glob(f"chart*.{form}")]
