"""Words of the index page of a folder of charts."""

from __future__ import annotations

TITLE = "Charts for the wall and for the phone"
LEAD = (
    "Each plan takes the fewest minutes on average, opening, set-up and being wrong counted in. "
    "Print the sheets, or open the page on a phone: it works without a network."
)
CAUTION = "For competent persons. Local codes, law and maker come first."
DEPTHS = {"stage": "To the stage", "part": "To the part"}
SHEETS = "{} sheet{} of {}"
FORMATS = {
    "PDF": "to print",
    "HTML": "to walk on a phone",
    "SVG": "sheets as drawings",
    "PNG": "sheets as pictures",
    "JSON": "the plan as a document",
    "DOT": "for Graphviz to lay out",
}
SHEET = "sheet {}"
PICTURE = "A sheet of the chart of {}, {}"
MISSING = "Not drawn"
