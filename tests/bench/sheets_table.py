"""What a printed chart takes: sheets, goings-on between them, seconds, words of caution.

    python -m tests.bench.sheets_table [TOPOLOGY ...]

Each shipped topology to both depths on A3, A4 and Letter, the first START alone; the booklet is
counted whole, and of it the sheets of the flowchart; of the wall edition those and all. `least`
bounds sheets and hops from below in the same words and type. Seconds are CPU time of this process:
`plan` from a kept model, `lay` and `print` of the booklet. Words of caution as in `paper_table`.
"""

from __future__ import annotations

import logging
import sys
import time
from collections.abc import Iterator
from typing import Any

from engine import library
from engine.chart import drawing
from engine.model.records import Mains, document
from engine.planner import plan
from render.drawing.ink import Sheets
from render.layout.quality import figures
from render.paper import Edition, lay_out, pdf
from tests.bench.caution_words import caution_words

PAPERS = ("A3", "A4", "Letter")

# Libraries of other tables set up logging for all; the printer's steps are no part of a table.
logging.getLogger("weasyprint").setLevel(logging.WARNING)


def lines(topologies: tuple[str, ...] = ()) -> Iterator[str]:
    """The table, a line for each chart and paper."""
    yield (
        "chart                       paper            flow (least)  booklet  wall      "
        "hops (least)  used      crossings  plan   lay   print  caution words"
    )
    for topology in topologies or tuple(t.id for t in library.topologies()):
        for depth in ("stage", "part"):
            model = library.model(topology, mains=Mains(230, 50), depth=depth)
            began = time.process_time()
            chart = drawing.document(drawing.draw_up(model, plan(model, seconds=20.0)))
            plan_seconds = time.process_time() - began
            for paper in PAPERS:
                yield f"{topology[:20]:20s} {depth:6s} " + _line(
                    document(model), chart, paper, plan_seconds
                )


def _line(model: dict[str, Any], chart: dict[str, Any], paper: str, plan_seconds: float) -> str:
    began = time.process_time()
    booklet = lay_out(model, chart, paper=paper, date="2026-11-25")
    lay_seconds = time.process_time() - began
    wall = lay_out(model, chart, paper=paper, date="2026-11-25", edition=Edition.WALL)
    began = time.process_time()
    pdf.draw(booklet)
    print_seconds = time.process_time() - began
    steps, in_panels = caution_words(model, chart, booklet)
    flow = _flow(booklet)
    fill = sorted(figure.used for figure in flow)
    return (
        f"{booklet.paper:16s} {len(flow):4d} ({booklet.least})     {len(booklet.sheets):4d}"
        f"   {len(_flow(wall)):2d} of {len(wall.sheets):2d}"
        f"   {booklet.hops:.2f} ({booklet.least_hops:.2f})"
        f"  {fill[0]:4.0%}-{fill[-1]:.0%}  {sum(f.crossings for f in flow):4d}"
        f"     {plan_seconds:5.1f} {lay_seconds:5.1f} {print_seconds:5.1f}"
        f"   {steps:5d} + {in_panels}"
    )


def _flow(sheets: Sheets) -> list[Any]:
    """Figures of the sheets that have some of the flowchart."""
    pairs = zip(figures(sheets), sheets.sheets, strict=True)
    return [figure for figure, sheet in pairs if sheet.drawing.flows]


if __name__ == "__main__":
    for line in lines(tuple(sys.argv[1:])):
        print(line, flush=True)
