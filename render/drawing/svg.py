"""One sheet as SVG: the strokes and words of its records, nothing measured anew.

Stand-alone SVG carries the type as embedded subsets, so that it looks the same everywhere.
All text from the knowledge base is escaped; no address outside the file is ever written.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable, Iterator
from html import escape

from fontTools import subset
from fontTools.ttLib import TTFont

from render.drawing.face import FAMILY, Face, shipped
from render.drawing.ink import Flow, Sheet, Stroke, Words

HEAD = 2.1
_FLOW_WEIGHT = 0.4


def draw(sheet: Sheet, title: str, language: str = "en") -> str:
    """The sheet as a stand-alone SVG document."""
    words = tuple(all_words(sheet))
    seen = f"{shapes(sheet)}\n{''.join(_text(w) for w in words)}"
    notes = "".join(_text(w) for w in sheet.notes)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(sheet.width)}mm" '
        f'height="{_n(sheet.height)}mm" viewBox="0 0 {_n(sheet.width)} {_n(sheet.height)}" '
        f'lang="{escape(language)}" role="img">\n<title>{escape(title)}</title>\n'
        f"<style>{_faces((*words, *sheet.notes))}"
        f"text{{font-family:'{FAMILY}',sans-serif;font-kerning:none;"
        "font-variant-ligatures:none;white-space:pre}</style>\n"
        f'<rect width="{_n(sheet.width)}" height="{_n(sheet.height)}" fill="#fff"/>\n'
        f"{_framed(sheet, seen)}\n{marks(sheet)}{notes}\n</svg>\n"
    )


def shapes(sheet: Sheet) -> str:
    """Everything on the sheet but the words, as SVG elements in mm."""
    return "\n".join(path(stroke) for stroke in all_strokes(sheet))


def marks(sheet: Sheet) -> str:
    """What stands around the sheet's frame, as SVG elements in mm."""
    return "\n".join(path(stroke) for stroke in sheet.marks)


def _framed(sheet: Sheet, inner: str) -> str:
    """The elements as seen through the sheet's frame."""
    box = sheet.frame
    if box is None:
        return inner
    across = f'{_n(box.x)}" y="{_n(box.y)}" width="{_n(box.w)}" height="{_n(box.h)}'
    view = f"{_n(box.x)} {_n(box.y)} {_n(box.w)} {_n(box.h)}"
    return f'<svg x="{across}" viewBox="{view}" overflow="hidden">{inner}</svg>'


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
        " ".join(part if isinstance(part, str) else _n(part) for part in segment)
        for segment in stroke.path
    )
    line = (
        f' stroke="{stroke.ink}" stroke-width="{_n(stroke.weight)}" stroke-linejoin="round"'
        if stroke.weight and stroke.ink != "none"
        else ""
    )
    dash = f' stroke-dasharray="{" ".join(_n(d) for d in stroke.dash)}"' if stroke.dash else ""
    return f'<path d="{d}" fill="{stroke.fill}"{line}{dash}/>'


def _text(words: Words) -> str:
    weight = ' font-weight="700"' if words.bold else ""
    fill = "" if words.ink == "#000000" else f' fill="{escape(words.ink)}"'
    return (
        f'<text x="{_n(words.x)}" y="{_n(words.y)}" font-size="{_n(words.size)}"{weight}{fill}>'
        f"{escape(words.text)}</text>\n"
    )


def _faces(words: Iterable[Words]) -> str:
    letters: dict[bool, set[str]] = {False: set(), True: set()}
    for stretch in words:
        letters[stretch.bold].update(stretch.text)
    family = shipped()
    return "".join(
        f"@font-face{{font-family:'{FAMILY}';font-weight:{700 if bold else 400};"
        f"src:url(data:font/woff2;base64,{embedded(family.face(bold), used)}) format('woff2')}}"
        for bold, used in letters.items()
        if used
    )


def embedded(face: Face, letters: Iterable[str]) -> str:
    """The face with only these letters, as WOFF2 in base64 for a data address."""
    font = TTFont(face.path, recalcTimestamp=False)
    options = subset.Options()
    options.flavor = "woff2"
    options.layout_features = []
    maker = subset.Subsetter(options)
    maker.populate(text="".join(sorted(letters)))
    maker.subset(font)
    font.flavor = "woff2"
    buffer = io.BytesIO()
    font.save(buffer)
    return base64.b64encode(buffer.getvalue()).decode("ascii")


def _n(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".") if value else "0"
