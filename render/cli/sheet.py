"""A chart on paper, written whole: the drawing is `render.paper`'s."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from render import paper


def write(
    model: Mapping[str, Any],
    chart: Mapping[str, Any],
    target: Path,
    kind: str,
    size: str,
    read_from: str,
) -> None:
    """Draw the chart and move it to `target` when it is whole; several SVG sheets are numbered."""
    paper.write(model, chart, target, form=paper.Format(kind), paper=size, read_from=read_from)
