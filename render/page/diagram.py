"""The unit as blocks on the page: the wall chart's diagram, folded as narrow as it goes.

The words of the drawing are words; what the lines say is told beside it, for those who don't see.
"""

from __future__ import annotations

from render.drawing import markup
from render.drawing.face import FAMILY, load_family
from render.drawing.ink import Words
from render.drawing.markup import element
from render.drawing.outlines import Type
from render.drawing.svg import path
from render.drawing.typeset import fine
from render.layout.blocks import set_blocks
from render.layout.unitmap import unit_map
from render.page import pagewords
from render.wording.script import Document

_TYPE_MM = 4.0


def draw(model: Document) -> str:
    """The diagram as an SVG element, all words escaped; empty where the model names no stages."""
    unit = unit_map(model)
    if not unit.stages:
        return ""
    panel = set_blocks(unit, Type(load_family(), _TYPE_MM, _TYPE_MM), 0.0)
    return element(
        "svg",
        {
            "class": "diagram",
            "role": "img",
            "aria-label": panel.title,
            "viewBox": f"0 0 {panel.box.w:.2f} {panel.box.h:.2f}",
        },
        *(path(stroke) for stroke in panel.strokes),
        *(_text(words) for words in panel.words),
    )


def sentences(model: Document) -> tuple[str, ...]:
    """The lines of the diagram as sentences."""
    unit = unit_map(model)
    names = {stage.id: fine(stage.says or unit.mains, f"stage {stage.id}") for stage in unit.stages}
    feeds = [(tail, pagewords.FEEDS, head) for tail, head in (*unit.entry, *unit.feeds)]
    rules = [(tail, pagewords.GOVERNS, head) for tail, head in unit.controls]
    return tuple(f"{names[a]} {verb} {names[b]}." for a, verb, b in (*feeds, *rules))


def _text(words: Words) -> str:
    return element(
        "text",
        {
            "x": f"{words.x:.2f}",
            "y": f"{words.y:.2f}",
            "font-size": f"{words.size:.2f}",
            "font-family": FAMILY,
            "fill": words.ink,
            "font-weight": "700" if words.bold else "",
        },
        markup.words(words.text),
    )
