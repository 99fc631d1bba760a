"""Where each part and test point is, as a table in stages."""

from __future__ import annotations

from collections.abc import Iterator

from render.drawing.typeset import Run, fine
from render.layout.panels import Leaf, Row
from render.layout.tables import Cells
from render.wording import whereabouts
from render.wording.script import Document


def leaves(model: Document) -> Iterator[Leaf]:
    """The line that says whose designators these are, then a table with a heading for each stage;
    none where the model lists no parts."""
    tables = whereabouts.tables(
        model.get("stages") or (), model.get("parts") or (), model.get("points") or ()
    )
    if not tables:
        return
    yield Leaf("where", whereabouts.TITLE, (Row((Run(whereabouts.NOT_THE_BOARDS),)),))
    head = tuple((Run(name, bold=True),) for name in whereabouts.COLUMNS)
    rows: list[Row] = []
    for table in tables:
        rows.append(Row((Run(fine(table.says, f"stage {table.stage}"), bold=True),)))
        rows.extend(Row((), cells=_cells(line)) for line in table.lines)
    cells = (head, *(row.cells for row in rows if row.cells))
    yield Leaf("where", whereabouts.BY_STAGE, tuple(rows), head=head, cells=cells)


def _cells(line: whereabouts.Location) -> Cells:
    first, *others = (fine(text, f"part {line.designator}") for text in line.cells)
    return ((Run(first, bold=True),), *((Run(text),) for text in others))
