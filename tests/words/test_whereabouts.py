"""Do paper, page and walk say alike where a part is, and whose designators these are?"""

from __future__ import annotations

import io
from dataclasses import asdict
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine import library
from engine.model.records import Mains, Model, document
from render.drawing.face import load_family
from render.drawing.outlines import Type
from render.drawing.typeset import Run, fine, widest_word
from render.layout import tables as columns
from render.layout.panels import Leaf, Row, head_height, least_width, row_heights, set_panel
from render.page import frontwriter
from render.paper import whereabouts as panels
from render.paper.contents import Edition, Extra
from render.terminal import replies
from render.terminal import whereabouts as terminal
from render.terminal.replies import Command
from render.terminal.screen import Screen
from render.wording import whereabouts

TOPOLOGIES = [topology.id for topology in library.topologies()]
TYPE = Type(load_family(), 4.0, 4.0)


@cache
def lamp(topology: str) -> Model:
    return library.model(topology, mains=Mains(230.0, 50.0), depth="stage")


def tables(topology: str) -> tuple[whereabouts.StageTable, ...]:
    model = lamp(topology)
    stages, parts, points = ([asdict(n) for n in notes] for notes in (
        model.stages, model.parts, model.points
    ))  # fmt: skip
    return whereabouts.tables(stages, parts, points)


def told(topology: str, typed: str) -> str:
    stream = io.StringIO()
    terminal.show(Screen(stream, width=4000), lamp(topology), typed)
    return stream.getvalue()


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_every_part_and_point_inside_the_unit_stands_in_the_table_of_its_stage(
    topology: str,
) -> None:
    model = lamp(topology)
    outside = {stage.id for stage in model.stages if stage.family == "outside"}
    due = {(n.stage, n.id) for n in (*model.parts, *model.points) if n.stage not in outside}
    assert {(t.stage, line.designator) for t in tables(topology) for line in t.lines} == due


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_every_shipped_part_is_known_by_something_one_can_see(topology: str) -> None:
    for part in lamp(topology).parts:
        assert part.looks or part.pin, part.id


def test_a_dropper_is_told_by_looks_marking_and_pin() -> None:
    control = next(t for t in tables("light-controlled-lamp") if t.stage == "control")
    dropper = next(line for line in control.lines if line.designator == "R2")
    assert dropper.cells == (
        "R2", "high-value dropper resistor, 470 kΩ; chip, or two or three in a row", "usually 474",
        "from bridge plus to D1",
    )  # fmt: skip


@pytest.mark.parametrize("typed", ["R2", "r2", "is R2?"])
def test_the_walk_says_where_a_part_is_and_whose_designator_it_is(typed: str) -> None:
    said = told("light-controlled-lamp", typed)
    assert "from bridge plus to D1" in said
    assert "usually marked 474" in said
    assert whereabouts.NOT_THE_BOARDS in said
    assert "R7" not in said


def test_the_walk_says_what_is_not_on_the_chart() -> None:
    assert "There is no R99 on this chart" in told("light-controlled-lamp", "R99")


def test_where_alone_lists_every_part() -> None:
    said = told("buck-lamp", "")
    for table in tables("buck-lamp"):
        for line in table.lines:
            assert line.designator in said


def test_where_is_a_command_with_a_part() -> None:
    test = lamp("buck-lamp").tests[0]
    assert replies.to_test("where R2", test) == Command("where", "R2")
    assert replies.to_test("where", test) == Command("where")


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_page_and_paper_say_what_the_walk_says(topology: str) -> None:
    wanted = [
        tuple(fine(cell, "here") for cell in line.cells)
        for table in tables(topology)
        for line in table.lines
    ]
    model = document(lamp(topology))
    assert [line for _, lines in frontwriter.locations(model) for line in lines] == wanted
    leaves = list(panels.leaves(model))
    assert [
        tuple("".join(run.text for run in cell) for cell in row.cells)
        for leaf in leaves
        for row in leaf.rows
        if row.cells
    ] == wanted
    assert leaves[0].rows[0].runs[0].text == whereabouts.NOT_THE_BOARDS


def test_the_wall_leaves_it_to_the_booklet() -> None:
    assert Extra.WHERE in Edition.WALL.leaves_out
    assert Extra.WHERE not in Edition.BOOKLET.leaves_out


def test_a_model_without_parts_has_no_such_panel() -> None:
    model = {**document(lamp("buck-lamp")), "parts": [], "points": []}
    assert list(panels.leaves(model)) == []


WORDS = st.text(alphabet="abcdefghi ", min_size=0, max_size=40).map(lambda t: (Run(t.strip()),))
ROWS = st.integers(2, 4).flatmap(
    lambda count: st.lists(st.tuples(*[WORDS] * count), min_size=1, max_size=6)
)


@given(ROWS, st.floats(1.0, 6.0))
def test_no_column_is_narrower_than_its_longest_word(
    rows: list[columns.Cells], roomy: float
) -> None:
    room = columns.least_room(rows, TYPE) * roomy
    widths = columns.column_widths(rows, TYPE, room)
    for column, across in zip(zip(*rows, strict=True), widths, strict=True):
        longest = max(widest_word(cell, TYPE.family, TYPE.body) for cell in column)
        assert across >= longest - 1e-6
    assert sum(widths) <= room + 1e-6


@given(ROWS, st.floats(1.0, 3.0))
def test_a_table_takes_what_its_rows_take_and_its_words_stay_apart(
    rows: list[columns.Cells], roomy: float
) -> None:
    body = tuple(Row((), cells=row) for row in rows)
    leaf = Leaf("t", "Table", body, head=rows[0], cells=tuple(rows))
    room = least_width(leaf, TYPE) * roomy
    panel = set_panel(leaf, TYPE, room)
    high = head_height(leaf, TYPE, room) + sum(row_heights(leaf, TYPE, room))
    assert panel.box.h == pytest.approx(high)
    for word in panel.words:
        assert word.x + word.width <= room + 1e-6
    by_line: dict[float, list[tuple[float, float]]] = {}
    for word in panel.words:
        by_line.setdefault(round(word.y, 4), []).append((word.x, word.x + word.width))
    for spans in by_line.values():
        for (_, end), (start, _) in pairwise(sorted(spans)):
            assert end <= start + 1e-6


def test_a_table_that_goes_on_names_its_columns_again() -> None:
    model = document(lamp("light-controlled-lamp"))
    leaf: Leaf = max(panels.leaves(model), key=lambda leaf: len(leaf.rows))
    rest = leaf.going_on(3)
    words = {word.text for word in set_panel(rest, TYPE, 120.0).words}
    assert whereabouts.COLUMNS[0] in words or whereabouts.COLUMNS[0].split()[0] in words

