"""Panels beside the flowchart: title block, entry check, cautions, proofs, legend.

A panel is rows of words under a title, set at a width; each comes at several widths so that the
imposition can fit it into a corner that the flowchart leaves free.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from engine.model.complaints import in_words
from render.drawing import signs
from render.drawing.bench_marks import MILDEST_FIRST
from render.drawing.benchband import band
from render.drawing.face import Family
from render.drawing.ink import Box, Panel, Stroke, Words
from render.drawing.outlines import (
    SHAPES,
    Type,
    circle_path,
    diamond_path,
    outline_of,
    rectangle_path,
)
from render.drawing.squarecode import matrix
from render.drawing.typeset import LEADING, Run, SetLine, break_lines, fine, widest_word, width
from render.layout import blocks, linkpanel
from render.layout.boxes import set_words
from render.layout.tables import Cells, column_widths, least_room, row_height, set_cells
from render.layout.unitmap import UnitMap
from render.wording import fixedwords, planwords
from render.wording.notices import notice
from render.wording.odds import percent
from render.wording.phrasing import Wording
from render.wording.script import Script

_PAD = 0.4
_FRAME = 0.25
_HAIR = 0.12
_GREY = "#333333"
_SHORT_MARKER = 4
_ON = " (continued)"


@dataclass(frozen=True, slots=True)
class Row:
    """One entry of a panel: a marker, perhaps a picture, and words; or `cells` that stand in the
    panel's columns. `size` is a type factor."""

    runs: tuple[Run, ...]
    marker: str = ""
    sign: str = ""
    signal: str = ""
    figure: str = ""
    size: float = 1.0
    anchor: str = ""
    cells: Cells = ()


@dataclass(frozen=True, slots=True)
class Leaf:
    """A panel not yet set: its kind, title and rows, or the unit that it is a picture of, or the
    address that its code leads to.

    Where rows have cells, `head` names the columns, again in each part of the panel, and `cells`
    are those of all parts, so that the columns of all stand alike.
    """

    kind: str
    title: str
    rows: tuple[Row, ...]
    unit: UnitMap | None = None
    address: str = ""
    head: Cells = ()
    cells: tuple[Cells, ...] = ()

    @property
    def is_picture(self) -> bool:
        """Whether it has a picture in place of rows: it is never cut in parts."""
        return self.unit is not None or bool(self.address)

    def going_on(self, row: int) -> Leaf:
        """What follows from row `row` on, under a title that says so."""
        title = self.title.removesuffix(_ON)
        return replace(self, rows=self.rows[row:], title=title + _ON if title else "")


@dataclass(frozen=True, slots=True)
class Facts:
    """What the title block says besides the documents: date, reading distance, sheet count; and, of
    a flowchart on several sheets, how many those are and how few they could be."""

    date: str
    read_from: float
    capital: float
    hands_capital: float
    sheet: str
    flow: str = ""


def set_panel(leaf: Leaf, type_: Type, room: float) -> Panel:
    """The panel set `room` mm wide, its top left corner at (0, 0)."""
    if leaf.unit:
        return blocks.set_blocks(leaf.unit, type_, room)
    if leaf.address:
        return linkpanel.set_link(leaf.address, matrix(leaf.address), type_, room)
    pad = _PAD * type_.body
    words: list[Words] = []
    strokes: list[Stroke] = []
    anchors: list[tuple[str, float]] = []
    y = pad * 0.6
    heading = 0
    if leaf.title:
        for line in _title_lines(leaf, type_, room):
            words.extend(set_words(line, pad, y, type_.body, type_.family))
            y += type_.body * LEADING
        heading = len(words)
        y += 0.12 * type_.body
        strokes.append(Stroke((("M", 0.0, y), ("L", room, y)), _FRAME))
        y += 0.12 * type_.body
    hang = _hang(leaf, type_)
    columns = _columns(leaf, type_, room)
    rows: list[tuple[int, ...]] = []
    if leaf.head:
        rows.append(_add_cells(set_cells(leaf.head, columns, type_, pad, y), words))
        y += row_height(leaf.head, columns, type_)
    for row in leaf.rows:
        if row.anchor:
            anchors.append((row.anchor, y))
        if row.cells:
            strokes.append(Stroke((("M", pad, y), ("L", room - pad, y)), _HAIR))
            rows.append(_add_cells(set_cells(row.cells, columns, type_, pad, y), words))
            y += row_height(row.cells, columns, type_)
            continue
        before = len(words)
        y = _set_row(row, hang, type_, room, y, words, strokes)
        rows.append((len(words) - before,))
    box = Box(0, 0, room, y + pad * 0.6)
    frame = Stroke(rectangle_path(box), _FRAME)
    return Panel(
        leaf.kind, leaf.title, box, tuple(words), (frame, *strokes), tuple(anchors), heading,
        tuple(rows) if leaf.head else (),
    )  # fmt: skip


def _add_cells(cells: list[list[Words]], words: list[Words]) -> tuple[int, ...]:
    """Adds a row's words to those of the panel, and counts those of each cell."""
    for cell in cells:
        words.extend(cell)
    return tuple(map(len, cells))


def head_height(leaf: Leaf, type_: Type, room: float) -> float:
    """What the title and the edges of a panel of words set `room` mm wide take, mm."""
    head = 1.2 * _PAD * type_.body
    if leaf.title:
        head += (len(_title_lines(leaf, type_, room)) * LEADING + 0.24) * type_.body
    if leaf.head:
        head += row_height(leaf.head, _columns(leaf, type_, room), type_)
    return head


def row_heights(leaf: Leaf, type_: Type, room: float) -> tuple[float, ...]:
    """What each row of a panel set `room` mm wide takes, mm; in a part of the panel that lacks its
    longest marker a row may take less."""
    hang, columns = _hang(leaf, type_), _columns(leaf, type_, room)
    return tuple(
        row_height(row.cells, columns, type_) if row.cells
        else _row_height(row, hang, type_, room)
        for row in leaf.rows
    )  # fmt: skip


def _columns(leaf: Leaf, type_: Type, room: float) -> tuple[float, ...]:
    return column_widths(leaf.cells, type_, room - 2 * _PAD * type_.body)


def _title_lines(leaf: Leaf, type_: Type, room: float) -> tuple[SetLine, ...]:
    head = (Run(fine(leaf.title, leaf.kind), bold=True),)
    return break_lines(head, type_.family, type_.body, room - 2 * _PAD * type_.body)


def _row_height(row: Row, hang: float, type_: Type, room: float) -> float:
    size = type_.body * row.size
    lines = break_lines(*_row_measure(row, hang, type_, room))
    return len(lines) * size * LEADING + 0.14 * size


def _row_measure(
    row: Row, hang: float, type_: Type, room: float
) -> tuple[tuple[Run, ...], Family, float, float]:
    """A row's runs, and the type size and room in mm that they are set in."""
    size = type_.body * row.size
    indent = _PAD * type_.body + 1.3 * size * bool(row.sign) + 3.6 * size * bool(row.figure)
    if row.marker:
        across = width((Run(row.marker, bold=True),), type_.family, size)
        indent += max(across, hang) + 0.35 * size
    return _row_runs(row), type_.family, size, room - indent - _PAD * type_.body


def _row_runs(row: Row) -> tuple[Run, ...]:
    if not row.signal:
        return row.runs
    ink = signs.SIGNAL_COLOURS.get(row.signal, ("#FFFFFF", "#000000"))[1]
    return (Run(row.signal, bold=True, ink=ink), Run(" "), *row.runs)


def _hang(leaf: Leaf, type_: Type) -> float:
    """The indent in mm that clears a panel's short markers, so that its words stand in line."""
    sizes = [
        width((Run(row.marker, bold=True),), type_.family, type_.body * row.size)
        for row in leaf.rows
        if 0 < len(row.marker) <= _SHORT_MARKER
    ]
    return max(sizes, default=0.0)


def _set_row(
    row: Row,
    hang: float,
    type_: Type,
    room: float,
    y: float,
    words: list[Words],
    strokes: list[Stroke],
) -> float:
    pad, size = _PAD * type_.body, type_.body * row.size
    indent = pad
    line_height = size * LEADING
    if row.sign:
        mark = 1.08 * size
        strokes.extend(signs.draw(row.sign, indent, y, mark))
        indent += 1.3 * size
    if row.figure:
        figure_w = 3.1 * size
        strokes.extend(
            _figure(row.figure, Box(indent, y + 0.08 * size, figure_w, 0.95 * size), type_)
        )
        indent += figure_w + 0.5 * size
    if row.marker:
        marker = (Run(row.marker, bold=True),)
        across = width(marker, type_.family, size)
        words.extend(_one_line(marker, indent, y, size, type_))
        indent += max(across, hang) + 0.35 * size
    for number, line in enumerate(break_lines(*_row_measure(row, hang, type_, room))):
        stretches = list(set_words(line, indent, y, size, type_.family))
        if row.signal and not number:
            head = stretches[0]
            back = signs.SIGNAL_COLOURS.get(row.signal, ("#FFFFFF", "#000000"))[0]
            chip = Box(head.x - 0.08 * size, y + 0.08 * size, head.width + 0.16 * size, 0.92 * size)
            strokes.append(Stroke(rectangle_path(chip), 0.0, "none", back))
        words.extend(stretches)
        y += line_height
    return y + 0.14 * size


def _one_line(runs: tuple[Run, ...], x: float, y: float, size: float, type_: Type) -> list[Words]:
    lines = break_lines(runs, type_.family, size, 1e6)
    return [word for line in lines for word in set_words(line, x, y, size, type_.family)]


def _figure(kind: str, box: Box, type_: Type) -> Iterable[Stroke]:
    for mark in MILDEST_FIRST:
        if kind == mark.word:
            shape = SHAPES["test"]
            return (shape.outline(box, type_), *band(mark, shape, box, type_))
    if kind == "connector":
        r = box.h / 2
        return (circle_path(box.x + box.w / 2, box.y + r, r),)
    if kind == "decision":
        return (Stroke(diamond_path(box), 0.35),)
    return (outline_of(kind, box, type_),)


def least_width(leaf: Leaf, type_: Type) -> float:
    """The narrowest width in mm at which no word of the panel has to be cut."""
    inner = max(
        (widest_word(row.runs, type_.family, type_.body * row.size) for row in leaf.rows),
        default=0.0,
    )
    marks = max(
        (
            1.3 * bool(row.sign)
            + 3.6 * bool(row.figure)
            + (len(row.marker) * 0.55 + 0.35) * bool(row.marker)
            for row in leaf.rows
        ),
        default=0.0,
    )
    words = min(inner + marks * type_.body, 30 * type_.body)
    return max(words, least_room(leaf.cells, type_)) + 2 * _PAD * type_.body


def title_block(script: Script, facts: Facts) -> Leaf:
    """Topology, mains, depth, complaint, figures of the plan, versions, date and sheet."""
    model, chart = script.model, script.chart
    name = str(model.get("says") or model["topology"])
    mains = chart.get("mains") or model["mains"]
    complaint = chart.get("complaint") or model.get("complaint")
    lines = [
        f"{_figure_of(mains['volts'])} V {_figure_of(mains['hertz'])} Hz · "
        f"to the {chart.get('depth') or model['depth']} · "
        + (in_words(str(complaint)) if complaint else "any complaint"),
        planwords.line(chart),
        f"knowledge {model.get('knowledge') or 'unversioned'} · "
        f"model {_short(str(chart.get('model_sha256', '')))}",
        f"{facts.sheet} · {facts.date} · capitals {facts.capital:.2f} mm, to read from "
        f"{facts.read_from:g} m"
        + (
            f"; hands’ {facts.hands_capital:.2f} mm"
            if facts.hands_capital > facts.capital + 0.01
            else ""
        ),
    ]
    rows = [Row((Run(fine(name, "topology"), bold=True),), size=1.15)]
    rows.extend(Row((Run(fine(line, "title block")),)) for line in lines)
    rows.extend(_origin(model))
    return Leaf("title", "", tuple(rows))


def running_title(script: Script, facts: Facts) -> Leaf:
    """The small title block of a sheet of panels or of a later sheet of the flowchart."""
    model = script.model
    name = str(model.get("says") or model["topology"])
    mains = script.chart.get("mains") or model["mains"]
    line = (
        f"{_figure_of(mains['volts'])} V · "
        f"model {_short(str(script.chart.get('model_sha256', '')))} · {facts.date}"
    )
    number = (Run(facts.sheet, bold=True), Run("\u00a0· " + fine(line, "title")))
    flow = (Row((Run(facts.flow),)),) if facts.flow else ()
    rows = (Row((Run(fine(name, "topology"), bold=True),)), Row(number), *flow, *_origin(model))
    return Leaf("title", "", rows)


def _origin(model: Mapping[str, Any]) -> tuple[Row, ...]:
    """Where the unit's circuit is from, where the document says so."""
    words = fine(str(model.get("origin") or ""), "origin")
    return (Row((Run(words),)),) if words else ()


def _figure_of(value: float) -> str:
    return f"{value:g}"


def _short(digest: str) -> str:
    return digest[:8] or "unversioned"


def link(address: str) -> Leaf | None:
    """The code that opens the walk on a screen; None where no address is given."""
    return Leaf("link", fixedwords.LINK_TITLE, (), address=address) if address else None


def general() -> Leaf:
    """The general caution that defers to local codes and competent persons."""
    first, rest = fixedwords.GENERAL[0], fixedwords.GENERAL[1:]
    rows = [Row((Run(first),), sign="W012", signal="WARNING")]
    rows.extend(Row((Run(line),)) for line in rest)
    return Leaf("general", fixedwords.GENERAL_TITLE, tuple(rows))


def legend(script: Script) -> Leaf:
    """The symbols with their meaning, then the bench's marks that stand on them."""
    rows = [Row((Run(text),), figure=kind) for kind, text in fixedwords.LEGEND]
    rows += [
        Row((Run(mark.word, bold=True), Run(": " + mark.says)), figure=mark.word)
        for mark in script.marks
    ]
    return Leaf("legend", fixedwords.LEGEND_TITLE, tuple(rows))


def every_repair(script: Script) -> Leaf | None:
    """What holds at every repair, told once on each sheet that a verdict stands on."""
    if not script.grouped and not script.upon:
        return None
    rows = [Row((Run(fixedwords.REPAIR_LEAD),))]
    if script.upon:
        rows.append(Row((Run(fixedwords.UPON.format(stores="; ".join(script.upon))),)))
    notices = (notice(caution) for caution in script.grouped)
    rows += [Row((Run(one.says),), signal=one.signal, sign=one.sign) for one in notices]
    return Leaf("every-repair", fixedwords.REPAIR_TITLE, tuple(rows))


def notes(script: Script) -> Leaf:
    """How the short signs on the chart are to be read."""
    lines = list(fixedwords.LEGEND_NOTES)
    if script.wording is Wording.TIGHT and script.usual_proofs:
        lines.append(fixedwords.USUAL_PROOFS.format(proofs=script.usual_proofs))
    if script.seldom:
        lines.append(fixedwords.SELDOM_NOTE.format(share=percent(script.seldom)))
    return Leaf("notes", "", tuple(Row((Run(text),)) for text in lines))
