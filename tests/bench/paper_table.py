"""The printed chart beside `dot -Tpdf` of the same plan: paper, crossings, seconds, megabytes.

    python -m tests.bench.paper_table [TOPOLOGY ...]

Both draw the same steps with the same words and branch labels, capitals as high, in the same run.
`dot` sets no panels and knows no sheets: it makes one page as large as it likes; how many A3 sheets
that page would be cut into stands beside it. Words of caution are counted at the steps and in the
panels, each as often as it is printed. Its crossings are counted on its own curves, sampled.
Seconds are of this process or of `dot`, CPU time.
"""

from __future__ import annotations

import logging
import math
import resource
import subprocess
import sys
import textwrap
import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Any

from engine import library
from engine.chart import drawing
from engine.model.records import Mains, document
from engine.planner import plan
from render.drawing.face import load_family
from render.drawing.legibility import type_sizes
from render.layout.quality import figures
from render.paper import lay_out, pdf
from render.wording.script import Part, Script
from render.wording.scriptwriter import write_script
from tests.bench.caution_words import caution_words

Point = tuple[float, float]
CASES = (("stage", "A3"), ("stage", "A4"), ("part", "A3"), ("part", "A1"))
_INCH, _POINT = 25.4, 25.4 / 72
_SAMPLES = 8

# Libraries of other tables set up logging for all; the printer's steps are no part of a table.
logging.getLogger("weasyprint").setLevel(logging.WARNING)


@dataclass(frozen=True, slots=True)
class Drawn:
    """What `dot` makes of a plan: page in mm, crossings, CPU seconds, bytes."""

    width: float
    height: float
    crossings: int
    seconds: float
    size: int

    @property
    def a3_sheets(self) -> int:
        """A3 sheets that its page would be cut into."""
        ways = ((420, 297), (297, 420))
        return min(math.ceil(self.width / w) * math.ceil(self.height / h) for w, h in ways)


def lines(topologies: tuple[str, ...] = ()) -> Iterator[str]:
    """The table, a line for each chart."""
    yield (
        "chart                        paper            sheets (flow, least)  capital  crossings  "
        "used      layout  print    MB  caution words | "
        "dot: page mm, A3 sheets, crossings, seconds, MB"
    )
    for topology in topologies or tuple(t.id for t in library.topologies()):
        for depth in ("stage", "part"):
            model = library.model(topology, mains=Mains(230, 50), depth=depth)
            made = document(model)
            chart = drawing.document(drawing.draw_up(model, plan(model, seconds=20.0)))
            other = by_dot(write_script(made, chart))
            for paper in (paper for case, paper in CASES if case == depth):
                ours = _ours(made, chart, paper)
                yield f"{topology[:20]:20s} {depth:6s} {ours} | {_theirs(other)}"


def _ours(model: dict[str, Any], chart: dict[str, Any], paper: str) -> str:
    began = time.process_time()
    laid = lay_out(model, chart, paper=paper, date="2026-11-25")
    placed = time.process_time()
    printed = pdf.draw(laid)
    done = time.process_time()
    measured = figures(laid)
    flow = [f for f, sheet in zip(measured, laid.sheets, strict=True) if sheet.drawing.flows]
    used = sorted(f.used for f in flow)
    steps, panels = caution_words(model, chart, laid)
    return (
        f"{laid.paper:16s} {len(laid.sheets):3d} ({len(flow)}, {laid.least})"
        f"  {min(f.smallest_capital for f in measured):12.2f} mm"
        f"  {max(f.crossings for f in flow):4d}"
        f"  {used[0]:6.0%}-{used[-1]:.0%}"
        f"  {placed - began:6.1f} s {done - placed:5.1f} s {len(printed) / 1e6:5.2f}"
        f"  {steps:5d} + {panels:d}"
    )


def _theirs(drawn: Drawn) -> str:
    return (
        f"{drawn.width:.0f} x {drawn.height:.0f}, {drawn.a3_sheets}, {drawn.crossings}, "
        f"{drawn.seconds:.1f} s, {drawn.size / 1e6:.2f}"
    )


def by_dot(script: Script) -> Drawn:
    """The script's steps drawn by `dot`, words wrapped, capitals at the least height allowed."""
    source = _source(script)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    printed = _dot(source, "pdf")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    plain = _dot(source, "plain").decode()
    _, _, width, height = plain.splitlines()[0].split()
    return Drawn(
        float(width) * _INCH,
        float(height) * _INCH,
        _crossings(plain),
        (after.ru_utime - before.ru_utime) + (after.ru_stime - before.ru_stime),
        len(printed),
    )


def _dot(source: str, form: str) -> bytes:
    return subprocess.run(
        ["dot", f"-T{form}"], input=source.encode(), capture_output=True, check=True
    ).stdout


def _source(script: Script) -> str:
    family = load_family()
    points = family.size_of(type_sizes(0.7).least) / _POINT
    rows = [f'node [shape=box fontname="Sofia Sans Condensed" fontsize={points:.1f}]']
    rows.append(f'edge [fontname="Sofia Sans Condensed" fontsize={points:.1f}]')
    for step in script.steps.values():
        said = " / ".join(_said(part) for part in step.parts)
        rows.append(f'"{step.id}" [label="{_wrapped(said, 26)}"]')
        rows.extend(
            f'"{step.id}" -> "{way.to}" [label="{_wrapped(way.label, 16)}"]' for way in step.exits
        )
    return "digraph {\n" + "\n".join(rows) + "\n}\n"


def _said(part: Part) -> str:
    told = [run.text for paragraph in part.paragraphs for run in paragraph.runs]
    return " ".join([*(signal.word for signal in part.signals), *told])


def _wrapped(text: str, letters: int) -> str:
    flat = text.replace("\\", "/").replace('"', "'")
    return "\\n".join(textwrap.wrap(flat, letters))


def _crossings(plain: str) -> int:
    """Pairs of edges without a common end whose curves meet."""
    edges: list[tuple[str, str, list[Point]]] = []
    for row in plain.splitlines():
        parts = row.split(" ")
        if parts[0] == "edge":
            count = int(parts[3])
            numbers = [float(n) for n in parts[4 : 4 + 2 * count]]
            edges.append(
                (parts[1], parts[2], _sampled(list(zip(numbers[::2], numbers[1::2], strict=True))))
            )
    return sum(
        _meet(a, b)
        for (tail, head, a), (other_tail, other_head, b) in combinations(edges, 2)
        if not {tail, head} & {other_tail, other_head}
    )


def _sampled(control: list[Point]) -> list[Point]:
    """Points along cubic curves given by their control points."""
    found: list[Point] = [control[0]]
    for start in range(0, len(control) - 3, 3):
        p = control[start : start + 4]
        for n in range(1, _SAMPLES + 1):
            t = n / _SAMPLES
            weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
            found.append(
                (
                    sum(w * q[0] for w, q in zip(weights, p, strict=True)),
                    sum(w * q[1] for w, q in zip(weights, p, strict=True)),
                )
            )
    return found


def _meet(a: list[Point], b: list[Point]) -> bool:
    return any(_cross(p, q, r, s) for p, q in pairwise(a) for r, s in pairwise(b))


def _cross(p: Point, q: Point, r: Point, s: Point) -> bool:
    return _side(p, q, r) * _side(p, q, s) < 0 and _side(r, s, p) * _side(r, s, q) < 0


def _side(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


if __name__ == "__main__":
    for line in lines(tuple(sys.argv[1:])):
        print(line, flush=True)
