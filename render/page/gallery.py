"""The index page of a folder of charts: what each is, how long it takes, and its files.

One HTML file without scripts; pictures lie in it, so that it can be shown by itself.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass

from render.drawing.typeset import fine
from render.page import gallerywords
from render.page.binding import dress
from render.wording import planwords


@dataclass(frozen=True, slots=True)
class Drawn:
    """A chart that was drawn. `files` are (format, names in the folder), `sheets` of paper or 0,
    `picture` a PNG of its first sheet or nothing."""

    topology: str
    says: str
    depth: str
    volts: float
    hertz: float
    paper: str
    minutes: float
    cost: float
    lower_bound: float
    proved: bool
    checks: int
    verdicts: int
    sheets: int
    files: tuple[tuple[str, tuple[str, ...]], ...]
    picture: bytes = b""


@dataclass(frozen=True, slots=True)
class Missing:
    """A chart that could not be drawn, and why, in sentences."""

    topology: str
    depth: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Card:
    chart: Drawn
    facts: tuple[str, ...]
    picture: str
    links: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]


def index(charts: Sequence[Drawn], missing: Sequence[Missing], date: str) -> str:
    """The index of a folder as HTML; charts of one topology stand together, by name and depth."""
    units: dict[str, list[_Card]] = {}
    for chart in sorted(charts, key=lambda c: (c.topology, c.depth != "stage", c.volts)):
        units.setdefault(chart.topology, []).append(_card(chart))
    return dress(
        "gallery.html.j2", "gallery.css", w=gallerywords, units=units, missing=missing, date=date,
        title=gallerywords.TITLE,
    )  # fmt: skip


def _card(chart: Drawn) -> _Card:
    proof = planwords.proof(chart.proved, chart.lower_bound)
    figures = planwords.figures(chart.minutes, chart.cost, proof, chart.checks, chart.verdicts)
    facts = [f"{chart.volts:g} V {chart.hertz:g} Hz", *figures]
    if chart.sheets:
        plural = "" if chart.sheets == 1 else "s"
        facts.append(gallerywords.SHEETS.format(chart.sheets, plural, chart.paper))
    picture = base64.b64encode(chart.picture).decode("ascii")
    links = tuple(
        (form.upper(), tuple((name, str(n)) for n, name in enumerate(names, start=1)))
        for form, names in chart.files
    )
    return _Card(chart, tuple(fine(fact, "index") for fact in facts), picture, links)
