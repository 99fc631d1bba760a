"""Printed flowcharts: from the model and chart documents to PDF, SVG and PNG.

measure -> place -> draw: words and symbols are measured with the shipped font, placed on sheets in
plain mm, and only then drawn.
"""

from render.drawing.papers import Orientation
from render.layout.quality import Figures, figures
from render.paper.contents import Edition, Extra
from render.paper.poster import tile_sheets
from render.paper.press import Format, lay_out, print_out, write

__all__ = [
    "Edition",
    "Extra",
    "Figures",
    "Format",
    "Orientation",
    "figures",
    "lay_out",
    "print_out",
    "tile_sheets",
    "write",
]
