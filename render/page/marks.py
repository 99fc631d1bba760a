"""Signs and shapes of the page as SVG symbols: those of the wall chart, so that eye and hand know
them from paper. Each is drawn once and used by name.
"""

from __future__ import annotations

from render.drawing import markup, signs
from render.drawing.markup import element
from render.drawing.svg import path

_SIZE = 24.0
# ISO 5807 outlines in a 28 x 18 square: terminator, preparation, manual operation, decision,
# stadium with a bar for the way out, loop back, document.
_SHAPES = {
    "setup": "M8 2H20L26 9L20 16H8L2 9Z",
    "make-safe": "M2 2H26L21 16H7Z",
    "test": "M14 1.5L26 9L14 16.5L2 9Z",
    "verdict": "M9 2H19A7 7 0 0 1 19 16H9A7 7 0 0 1 9 2Z",
    "recheck": "M22 9A8 6.5 0 1 1 18 3.6M18 .8V4.4H13.6",
    "third": "M22 9A8 6.5 0 1 1 18 3.6M18 .8V4.4H13.6",
    "entry": "M3 2H25V14.5C20 11 17 18 11 15.5C8 14 5 14.6 3 15.5Z",
}


def marks() -> str:
    """Every symbol of the pages."""
    return _signs() + _shapes()


def _signs() -> str:
    """A symbol for every registered sign that can be drawn, under its name."""
    window = markup.view(0, 0, _SIZE, _SIZE)
    return "".join(
        element(
            "symbol",
            {"id": name, "viewBox": window},
            *(path(stroke) for stroke in signs.draw(name, 0.0, 0.0, _SIZE)),
        )
        for name in signs.known_signs()
    )


def _shapes() -> str:
    """A symbol for the outline of each kind of screen."""
    return "".join(
        element(
            "symbol", {"id": f"shape-{kind}", "viewBox": "0 0 28 18"}, element("path", {"d": line})
        )
        for kind, line in _SHAPES.items()
    )
