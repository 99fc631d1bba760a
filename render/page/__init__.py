"""The plan as one HTML file: works offline on a phone, with and without scripts, and in print.

Two documents -> `pagewriter` and `screenwriter` (records of `screens`) -> `binding` (HTML with
type, style, script).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from engine.chart.detours import Detour
from render.drawing.issue import issue_date, save
from render.page.binding import bind
from render.page.pagewriter import write_page

__all__ = ["draw", "write"]


def draw(
    model_doc: Mapping[str, Any],
    chart_doc: Mapping[str, Any],
    *,
    date: str | None = None,
    second: Mapping[str, Any] | None = None,
    detours: Sequence[Detour] = (),
) -> str:
    """The page of the two documents as HTML text.

    `second` is the model document of the chart's second START, where it has one; `detours` are the
    ways on from its checks, where they can't be done.
    `date` is an ISO date; None takes SOURCE_DATE_EPOCH, and today where that is not set.
    TroubleError for documents that don't belong together, or letters that the font lacks.
    """
    return bind(write_page(model_doc, chart_doc, date or issue_date(), second, detours))


def write(
    model_doc: Mapping[str, Any],
    chart_doc: Mapping[str, Any],
    path: Path | str,
    *,
    date: str | None = None,
    second: Mapping[str, Any] | None = None,
    detours: Sequence[Detour] = (),
) -> tuple[Path, ...]:
    """Write the page to `path`, whole or not at all; returns the files written."""
    page = draw(model_doc, chart_doc, date=date, second=second, detours=detours)
    return save([page.encode()], Path(path))
