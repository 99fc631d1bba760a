"""One sheet as SVG: the strokes and words of its records, nothing measured anew.

Stand-alone SVG carries the type as embedded subsets, so that it looks the same everywhere.
All text from the knowledge base is escaped; no address outside the file is ever written.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable, Iterator

from fontTools import subset
from fontTools.ttLib import TTFont

from render.drawing import markup
from render.drawing.face import FAMILY, Face, load_family
from render.drawing.ink import Flow, Sheet, Stroke, Words
from render.drawing.issue import MARK
from render.drawing.markup import Attributes, element, number

HEAD = 2.1
_FLOW_WEIGHT = 0.4


def draw(sheet: Sheet, title: str, language: str = "en") -> str:
    """The sheet as a stand-alone SVG document."""
    words = tuple(all_words(sheet))
    content = f"{shapes(sheet)}\n{''.join(_text(w) for w in words)}"
    notes = "".join(_text(w) for w in sheet.notes)
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<!-- {MARK} -->\n'
        + element(
            "svg",
            {
                "xmlns": markup.SPACE,
                "width": f"{number(sheet.width)}mm",
                "height": f"{number(sheet.height)}mm",
                "viewBox": markup.view(0, 0, sheet.width, sheet.height),
                "lang": language,
                "role": "img",
            },
            f"\n{element('title', {}, markup.words(title))}\n",
            f"{element('style', {}, _style((*words, *sheet.notes)))}\n",
            element("rect", {"width": sheet.width, "height": sheet.height, "fill": "#fff"}),
            f"\n{_in_frame(sheet, content)}\n{marks(sheet)}{notes}\n",
        )
        + "\n"
    )


def picture(sheet: Sheet, elements: str) -> str:
    """Elements in mm as a picture of the sheet's size, without type."""
    size = {"width": f"{number(sheet.width)}mm", "height": f"{number(sheet.height)}mm"}
    window = markup.view(0, 0, sheet.width, sheet.height)
    return element("svg", {"xmlns": markup.SPACE, "viewBox": window, **size}, elements)


def shapes(sheet: Sheet) -> str:
    """Everything on the sheet but the words, as SVG elements in mm."""
    return "\n".join(path(stroke) for stroke in all_strokes(sheet))


def marks(sheet: Sheet) -> str:
    """What stands around the sheet's frame, as SVG elements in mm."""
    return "\n".join(path(stroke) for stroke in sheet.marks)


def _in_frame(sheet: Sheet, inner: str) -> str:
    """The elements as seen through the sheet's frame."""
    box = sheet.frame
    if box is None:
        return inner
    place = {"x": box.x, "y": box.y, "width": box.w, "height": box.h}
    window = markup.view(box.x, box.y, box.w, box.h)
    return element("svg", {**place, "viewBox": window, "overflow": "hidden"}, inner)


def all_strokes(sheet: Sheet) -> Iterator[Stroke]:
    """Every stroke of the sheet, lowest first."""
    for panel in sheet.panels:
        yield from panel.strokes
    for flow in sheet.drawing.flows:
        yield from flow_strokes(flow)
    for symbol in sheet.drawing.symbols:
        yield symbol.outline
        yield from symbol.signs


def all_words(sheet: Sheet) -> Iterator[Words]:
    """Every stretch of type on the sheet."""
    for symbol in sheet.drawing.symbols:
        yield from symbol.words
    for label in sheet.drawing.labels:
        yield from label.words
    for panel in sheet.panels:
        yield from panel.words


def flow_strokes(flow: Flow) -> Iterable[Stroke]:
    """A flow line and its arrowhead."""
    first, *rest = flow.points
    points = [first, *rest]
    if not flow.head:
        yield Stroke((("M", *first), *(("L", *p) for p in rest)), _FLOW_WEIGHT)
        return
    (bx, by), (ex, ey) = points[-2], points[-1]
    length = ((ex - bx) ** 2 + (ey - by) ** 2) ** 0.5 or 1.0
    ux, uy = (ex - bx) / length, (ey - by) / length
    neck = (ex - ux * HEAD * 0.8, ey - uy * HEAD * 0.8)
    yield Stroke((("M", *first), *(("L", *p) for p in rest[:-1]), ("L", *neck)), _FLOW_WEIGHT)
    half = HEAD * 0.36
    back = (ex - ux * HEAD, ey - uy * HEAD)
    yield Stroke(
        (
            ("M", ex, ey),
            ("L", back[0] - uy * half, back[1] + ux * half),
            ("L", back[0] + uy * half, back[1] - ux * half),
            ("Z",),
        ),
        0.0,
        "none",
        "#000000",
    )


def path(stroke: Stroke) -> str:
    """One stroke as an SVG path element."""
    d = " ".join(
        " ".join(part if isinstance(part, str) else number(part) for part in segment)
        for segment in stroke.path
    )
    line: dict[str, str | float] = {}
    if stroke.weight and stroke.ink != "none":
        line = {"stroke": stroke.ink, "stroke-width": stroke.weight, "stroke-linejoin": "round"}
    dash = " ".join(number(length) for length in stroke.dash)
    return element("path", {"d": d, "fill": stroke.fill, **line, "stroke-dasharray": dash})


def _text(words: Words) -> str:
    place = {"x": words.x, "y": words.y, "font-size": words.size}
    weight = "700" if words.bold else ""
    fill = "" if words.ink == "#000000" else words.ink
    attributes: Attributes = {**place, "font-weight": weight, "fill": fill}
    return element("text", attributes, markup.words(words.text)) + "\n"


def _style(words: Iterable[Words]) -> str:
    return (
        f"{_faces(words)}text{{font-family:'{FAMILY}',sans-serif;font-kerning:normal;"
        "font-variant-ligatures:none;white-space:pre}"
    )


def _faces(words: Iterable[Words]) -> str:
    letters: dict[bool, set[str]] = {False: set(), True: set()}
    for stretch in words:
        letters[stretch.bold].update(stretch.text)
    family = load_family()
    subsets = {
        bold: subset_in_base64(family.face(bold), characters)
        for bold, characters in letters.items()
        if characters
    }
    return "".join(
        f"@font-face{{font-family:'{FAMILY}';font-weight:{700 if bold else 400};"
        f"src:url(data:font/woff2;base64,{subset}) format('woff2')}}"
        for bold, subset in subsets.items()
    )


def subset_in_base64(face: Face, letters: Iterable[str]) -> str:
    """The face with only these letters, as WOFF2 in base64 for a data address."""
    font = TTFont(face.path, recalcTimestamp=False)
    options = subset.Options()
    options.flavor = "woff2"
    options.layout_features = ["ccmp", "kern", "locl", "mark"]
    maker = subset.Subsetter(options)
    maker.populate(text="".join(sorted(letters)))
    maker.subset(font)
    font.flavor = "woff2"
    buffer = io.BytesIO()
    font.save(buffer)
    return base64.b64encode(buffer.getvalue()).decode("ascii")
