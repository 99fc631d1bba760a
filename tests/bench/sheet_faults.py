"""What is wrong on the laid-out sheets of shipped charts: broken words, overlaps, strays.

    python -m tests.bench.sheet_faults [--paper A4] [--mains 120] [--depth stage] [TOPOLOGY ...]

Each topology with both its STARTs, in both editions; without options on every paper of the shop, at
both mains and to both depths, which takes a quarter of an hour. One line a fault, and a count.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from itertools import product
from typing import Any

from engine import library
from engine.chart import drawing, secondstart
from engine.model.records import Mains, document
from engine.planner import plan
from render.drawing.ink import Sheets
from render.layout.quality import figures
from render.paper import Edition, lay_out
from render.wording.phrasing import Wording
from render.wording.scriptwriter import write_script
from tests.paper.sayings import fragments, sayings

PAPERS = ("A4", "A3", "Letter")
MAINS = {230: 50, 120: 60}
DEPTHS = ("stage", "part")

Documents = tuple[dict[str, Any], dict[str, Any], dict[str, Any] | None]


def documents(topology: str, volts: int, depth: str, seconds: float = 5.0) -> Documents:
    """Model, chart with its second START, and the model of that."""
    mains = Mains(float(volts), float(MAINS[volts]))
    model = library.model(topology, mains=mains, depth=depth)
    chart = drawing.document(drawing.draw_up(model, plan(model, seconds=seconds)))
    start = library.second_start(None)
    if start is None:
        return document(model), chart, None
    cold = library.model(topology, mains=mains, depth="stage", complaint=start[0])
    other = drawing.document(drawing.draw_up(cold, plan(cold, seconds=seconds)))
    return document(model), secondstart.join(chart, start[1], other), document(cold)


def faults(sheets: Sheets, docs: Documents) -> Iterator[str]:
    """Each fault with its sheet."""
    model, chart, second = docs
    for number, figure in enumerate(figures(sheets), start=1):
        yield from (f"sheet {number}: {one}" for one in (*figure.overlaps, *figure.strays))
    kinds = []
    for wording, edition in product(Wording, Edition):
        script = write_script(model, chart, wording)
        kinds.append(sayings(edition.script_of(script)))
        inner = secondstart.second_of(chart)
        if second is not None and inner is not None:
            other = write_script(second, inner[1], wording, first=script, says=inner[0])
            kinds[-1] |= sayings(edition.script_of(other))
    broken = min((fragments(sheets, told) for told in kinds), key=len)
    yield from (f"broken: {word}" for word in sorted(broken))


def main() -> None:
    """The faults of what was asked for, and how many there are."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--paper", choices=PAPERS)
    options.add_argument("--mains", type=int, choices=sorted(MAINS))
    options.add_argument("--depth", choices=DEPTHS)
    options.add_argument("topology", nargs="*")
    asked = options.parse_args()
    count = 0
    for topology in asked.topology or [t.id for t in library.topologies()]:
        for volts in [asked.mains] if asked.mains else MAINS:
            for depth in [asked.depth] if asked.depth else DEPTHS:
                docs = documents(topology, volts, depth)
                for paper in [asked.paper] if asked.paper else PAPERS:
                    for edition in Edition:
                        sheets = lay_out(
                            docs[0], docs[1], paper=paper, date="2026-11-25", edition=edition,
                            second=docs[2],
                        )  # fmt: skip
                        for fault in faults(sheets, docs):
                            print(f"{topology} {volts} V {depth} {paper} {edition.value}: {fault}")
                            count += 1
    print(f"{count} faults")


if __name__ == "__main__":
    main()
