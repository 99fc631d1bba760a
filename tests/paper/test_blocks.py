"""Does the block diagram show every stage and test point, in place, and what feeds what?"""

from __future__ import annotations

import os
from collections.abc import Iterator
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine import library
from engine.model.records import Mains, document
from kb.trouble import TroubleError
from render.cli.commands import main
from render.drawing import dot
from render.drawing.face import load_family
from render.drawing.ink import Box, Panel
from render.drawing.outlines import Type
from render.drawing.papers import Orientation, find
from render.layout import blocks
from render.layout.blocks import Arrow, Diagram
from render.layout.unitmap import SOURCE, UnitMap, unit_map

TOPOLOGIES = [topology.id for topology in library.topologies()]
CAPITAL_MM = 3.26  # 16 arc-minutes at 0.7 m, facts.md section 2
# Rounding of Graphviz: it counts in points of 1/72 of our unit.
SLACK = 0.03


@cache
def made(topology: str) -> dict[str, Any]:
    return document(library.model(topology, mains=Mains(230.0, 50.0), depth="stage"))


def drawn(topology: str) -> tuple[Diagram, ...]:
    return blocks.diagrams(unit_map(made(topology)))


def type_() -> Type:
    body = load_family().size_of(CAPITAL_MM)
    return Type(load_family(), body, body)


def runs(arrow: Arrow) -> Iterator[Box]:
    for (ax, ay), (bx, by) in pairwise(arrow.points):
        yield Box(min(ax, bx), min(ay, by), abs(bx - ax), abs(by - ay))


def inked(diagram: Diagram) -> list[Box]:
    """The boxes of all words from capitals to base line; descenders may touch a line below."""
    words = [w for b in diagram.blocks for w in b.words]
    words += [s.label for s in diagram.spots] + list(diagram.notes)
    return [Box(w.x, w.y - 0.72, w.width, 0.74) for w in words]


def rings(diagram: Diagram) -> list[Box]:
    return [Box(s.x, s.y, 0, 0).grow(0.3) for s in diagram.spots]


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_every_stage_is_on_it(topology: str) -> None:
    wanted = [stage["id"] for stage in made(topology)["stages"]]
    for diagram in drawn(topology):
        assert sorted(b.stage.id for b in diagram.blocks) == sorted(wanted)


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_every_test_point_stands_at_its_stage(topology: str) -> None:
    wanted = {(point["id"], point["stage"]) for point in made(topology)["points"]}
    for diagram in drawn(topology):
        assert {(spot.point, spot.stage) for spot in diagram.spots} == wanted
        boxes = {block.stage.id: block.box for block in diagram.blocks}
        assert all(boxes[s.stage].grow(0.61).holds(Box(s.x, s.y, 0, 0)) for s in diagram.spots)


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_arrows_follow_what_feeds_and_what_governs(topology: str) -> None:
    stages = made(topology)["stages"]
    for diagram in drawn(topology):
        inside = [a for a in diagram.arrows if not stages_by(topology)[a.tail].get("outside")]
        feeds = {(a.tail, a.head) for a in inside if not a.governs}
        governs = {(a.tail, a.head) for a in inside if a.governs}
        assert feeds == {(s["id"], head) for s in stages for head in s["feeds"]}
        assert governs == {(s["id"], head) for s in stages for head in s["controls"]}


def stages_by(topology: str) -> dict[str, dict[str, Any]]:
    found = {s["id"]: dict(s) for s in made(topology)["stages"]}
    for stage in found.values():
        stage["outside"] = stage["family"] == "outside"
    return found


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_power_comes_from_the_owners_socket_into_the_first_stage(topology: str) -> None:
    for diagram in drawn(topology):
        entry = [(a.tail, a.head) for a in diagram.arrows if a.tail == "outside"]
        assert entry == [("outside", "entry")]
        assert [note.text for note in diagram.notes] == ["230\u202fV"]


def faults_of(diagram: Diagram) -> list[str]:
    """What is wrong with a drawing: overlaps, words outside, lines through things, loose ends."""
    found = []
    boxes = {b.stage.id: b.box for b in diagram.blocks}
    whole = Box(0, 0, diagram.w, diagram.h)
    for block in diagram.blocks:
        found += [f"“{w.text}” leaves" for w in block.words if not block.box.holds(w.box, SLACK)]
        found += [] if whole.holds(block.box, SLACK) else [f"{block.stage.id} off the sheet"]
    found += [f"{a} on {b}" for a, b in combinations(boxes, 2) if boxes[a].overlaps(boxes[b], 0.1)]
    ink = inked(diagram)
    found += [f"words {a} on {b}" for a, b in combinations(ink, 2) if a.overlaps(b, SLACK)]
    found += ["ring on words" for r in rings(diagram) for w in ink if r.overlaps(w, SLACK)]
    labels = [Box(s.label.x, s.label.y - 0.72, s.label.width, 0.74) for s in diagram.spots]
    found += ["label in block" for la in labels for b in boxes.values() if la.overlaps(b, SLACK)]
    for arrow in diagram.arrows:
        name = f"{arrow.tail} to {arrow.head}"
        for run in runs(arrow):
            found += [f"{name} through words" for w in ink if run.grow(0.02).overlaps(w)]
            found += [f"{name} through {n}" for n, b in boxes.items() if run.overlaps(b.grow(-0.1))
                      or run.grow(0.01).overlaps(b.grow(-0.1))]  # fmt: skip
        for point, stage in ((arrow.points[0], arrow.tail), (arrow.points[-1], arrow.head)):
            edge = Box(*point, 0, 0)
            box = boxes[stage]
            if not box.grow(SLACK).holds(edge) or box.grow(-SLACK - 0.02).holds(edge):
                found.append(f"{name} does not end at {stage}")
    return found


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_nothing_overlaps_and_every_word_stays_in_its_block(topology: str) -> None:
    assert [faults_of(diagram) for diagram in drawn(topology)] == [[]] * len(drawn(topology))


@st.composite
def units(draw: st.DrawFn) -> UnitMap:
    """Units as a knowledge base can describe them: each stage fed by an earlier one."""
    count = draw(st.integers(1, 9))
    notes: list[dict[str, Any]] = [
        {"id": f"s{n}", "says": draw(st.sampled_from(WORDS)), "feeds": [], "controls": []}
        for n in range(count)
    ]
    for n in range(1, count):
        notes[draw(st.integers(max(0, n - 3), n - 1))]["feeds"].append(f"s{n}")
    if count > 2:
        governor, governed = draw(st.permutations(range(count)))[:2]
        notes[governor]["controls"].append(f"s{governed}")
    points = []
    for n in range(count):
        notes[n]["parts"] = [f"R{k}" for k in range(draw(st.integers(0, 7)))]
        sides = draw(st.lists(st.sampled_from(["in", "out", "rail"]), max_size=3))
        notes[n]["points"] = [f"TP{n}{k}" for k in range(len(sides))]
        points += [{"id": f"TP{n}{k}", "side": side} for k, side in enumerate(sides)]
    if draw(st.booleans()):
        notes.insert(0, {"id": "out", "says": "socket", "family": "outside"})
    return unit_map({"stages": notes, "points": points, "mains": {"volts": 230}})


WORDS = ["filter", "mains inlet with fuse and surge part", "step-down LED driver", "light control"]


@settings(max_examples=40)
@given(units())
def test_any_unit_can_be_drawn(unit: UnitMap) -> None:
    for diagram in blocks.diagrams(unit):
        assert faults_of(diagram) == []


def test_a_stage_fed_by_two_and_a_ring_of_stages_are_drawn() -> None:
    notes = [
        {"id": "a", "says": "a", "feeds": ["b", "c"]},
        {"id": "b", "says": "b", "feeds": ["c"]},
        {"id": "c", "says": "c", "feeds": ["a", "nowhere"], "controls": ["b"]},
    ]
    unit = unit_map({"stages": notes, "mains": {"volts": 120}})
    diagram = blocks.diagrams(unit)[-1]
    feeds = {(arrow.tail, arrow.head) for arrow in diagram.arrows if not arrow.governs}
    assert feeds == {(SOURCE, "a"), ("a", "b"), ("a", "c"), ("b", "c"), ("c", "a")}
    assert [(a.tail, a.head) for a in diagram.arrows if a.governs] == [("c", "b")]


def test_graphviz_is_asked_again_and_answers_the_same() -> None:
    unit = unit_map(made("light-controlled-lamp"))
    first = blocks.diagrams(unit)
    blocks.diagrams.cache_clear()
    dot.place.cache_clear()
    assert blocks.diagrams(unit) == first


@pytest.mark.parametrize("paper", ["A3", "A4", "Letter"])
@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_it_goes_on_common_paper_with_every_word_inside(topology: str, paper: str) -> None:
    unit, sheet = unit_map(made(topology)), find(paper, Orientation.LANDSCAPE)
    fitting = [w for w in blocks.widths(unit, type_()) if w <= sheet.inner_width]
    panels = [blocks.set_blocks(unit, type_(), width) for width in fitting]
    assert any(panel.box.h < 0.8 * sheet.inner_height for panel in panels)
    assert [stray for panel in panels for stray in strays(panel)] == []
    assert {w.size for panel in panels for w in panel.words} == {type_().body}


def strays(panel: Panel) -> list[str]:
    return [w.text for w in panel.words if not panel.box.holds(w.box, 0.1)]


def test_markup_and_names_like_ports_do_no_harm() -> None:
    note = {"id": 'a:n"]; b [label=<b>', "says": '<b>\\N "x"; {y|z}', "points": []}
    diagram = blocks.diagrams(unit_map({"stages": [note], "mains": {"volts": 230}}))[-1]
    words = " ".join(w.text for b in diagram.blocks for w in b.words)
    assert '<b>\\N "x"; {y|z}' in words


@pytest.fixture
def no_graphviz(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A machine without Graphviz that has asked for no diagram yet."""
    monkeypatch.setenv("PATH", os.fspath(tmp_path))
    blocks.diagrams.cache_clear()
    dot.place.cache_clear()


@pytest.mark.usefixtures("no_graphviz")
def test_a_missing_graphviz_is_told_with_its_commands() -> None:
    with pytest.raises(TroubleError, match=r"PA141 .*apt-get .*dnf .*brew install graphviz"):
        blocks.diagrams(unit_map(made("buck-lamp")))


@pytest.mark.usefixtures("no_graphviz")
def test_a_drawing_without_graphviz_ends_with_2_and_leaves_no_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "chart.pdf"
    words = ["nextprobe", "chart", "buck-lamp", "--depth", "stage", "-o", os.fspath(target)]
    monkeypatch.setattr("sys.argv", words)
    with pytest.raises(SystemExit) as ended:
        main()
    told = capsys.readouterr().err
    assert (ended.value.code, told.count("PA141"), target.exists()) == (2, 1, False)


@pytest.mark.usefixtures("no_graphviz")
def test_the_document_needs_no_graphviz(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "chart.json"
    words = ["nextprobe", "chart", "buck-lamp", "--depth", "stage", "-o", os.fspath(target)]
    monkeypatch.setattr("sys.argv", words)
    with pytest.raises(SystemExit) as ended:
        main()
    assert (ended.value.code, target.exists()) == (0, True)
