"""One chart from what was asked to files, with a line that says how far it is."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from engine import chart as charts
from engine.model import Model, document
from render.cli import files, knowledge, planning
from render.cli.asked import Asked
from render.cli.waiting import status

Written = tuple[Path, ...]

PRINTED = frozenset({"pdf", "svg", "png"})


@dataclass(frozen=True, slots=True)
class Sheet:
    """What a chart is to be printed on: size, which way up, read from how far."""

    paper: str
    hang: str
    read_from: str


def drawn(asked: Asked, form: str, target: Path, sheet: Sheet, seconds: float) -> Written:
    """Plan and draw what was asked, as `form` to `target`; the files written."""
    model, chart = planned(asked, seconds, ready=form in PRINTED)
    return put_down(model, chart, form, target, sheet)


def planned(asked: Asked, seconds: float, ready: bool = False) -> tuple[Model, dict[str, Any]]:
    """The model of what was asked and its chart document.

    With `ready` what printing needs is looked for before the time is spent.
    """
    model = knowledge.either(
        asked.topology, asked.model, asked.mains, asked.depth, asked.complaint, asked.kb,
        asked.without,
    )  # fmt: skip
    if ready and model.stages:
        from render.paper import dot

        dot.ready()
    return model, charts.document(charts.draw_up(model, planning.planned(model, seconds)))


def put_down(model: Model, chart: dict[str, Any], form: str, target: Path, sheet: Sheet) -> Written:
    """Write a chart document as `form`: its JSON, the page, or on sheets."""
    if form == "json":
        files.write_text(target, json.dumps(chart, ensure_ascii=False, indent=1) + "\n")
        return (target,)
    if form == "html":
        return _page(document(model), chart, target)
    return _printed(document(model), chart, form, target, sheet)


def _page(model: dict[str, Any], chart: dict[str, Any], target: Path) -> Written:
    from render import page

    with status("writing the page"):
        return page.write(model, chart, target)


def _printed(
    model: dict[str, Any], chart: dict[str, Any], form: str, target: Path, sheet: Sheet
) -> Written:
    from render import paper as press

    with status(f"laying out on {sheet.paper}"):
        return press.write(
            model, chart, target,
            paper=sheet.paper, landscape=press.Orientation(sheet.hang),
            read_from=sheet.read_from, form=press.Format(form),
        )  # fmt: skip
