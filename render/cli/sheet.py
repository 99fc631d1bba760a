"""A chart on paper, written whole: the drawing is `render.paper`'s."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from render import paper
from render.cli import files


def write(
    model: Mapping[str, Any],
    chart: Mapping[str, Any],
    target: Path,
    kind: str,
    size: str,
    read_from: str,
) -> None:
    """Draw the chart into a file beside `target` and move it there when it is whole."""
    with files.whole(target) as temporary:
        paper.write(model, chart, temporary, kind=kind, paper=size, read_from=read_from)
