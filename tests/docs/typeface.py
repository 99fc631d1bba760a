"""Makes the two font files in render/fonts from those that their authors publish.

    python -m tests.docs.typeface CONDENSED SEMI-CONDENSED

CONDENSED is the folder `files` of the package `@fontsource/sofia-sans-condensed`, which has the
face cut up by script; the pieces are put together again. What it leaves out of the mathematical
signs is taken from the next wider cut, the folder of the package
`@expo-google-fonts/sofia-sans-semi-condensed`. Three signs are added: a narrow space that does not
break, half a space wide, and the arrows ↺ and ↻, drawn as wide as a capital is high; ~ is made
higher.
"""

from __future__ import annotations

import argparse
import math
import tempfile
from pathlib import Path

from fontTools.merge import Merger
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from fontTools.ttLib.tables._g_l_y_f import Glyph

FOLDER = Path(__file__).resolve().parents[2] / "render" / "fonts"
FAMILY = "Sofia Sans Condensed"
FILES = {400: "SofiaSansCondensed-Regular.ttf", 700: "SofiaSansCondensed-Bold.ttf"}
SCRIPTS = ("latin", "latin-ext", "greek", "cyrillic", "cyrillic-ext")
SIGNS = "≤≥→←√≈≠∞"
_NARROW, _ANTICLOCKWISE, _CLOCKWISE = 0x202F, 0x21BA, 0x21BB
_GAP_DEGREES, _STEPS = 62, 24
_STROKES = {400: 0.115, 700: 0.165}
"""Thickness of the arrows' stroke, in heights of a capital."""
_TILDE = 1.9
_HEAD = 2.3
"""Width of the arrows' heads, in strokes."""


def main() -> None:
    """Reads the two folders named and writes our files."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("condensed", type=Path)
    options.add_argument("wider", type=Path)
    asked = options.parse_args()
    for weight, name in FILES.items():
        font = _joined(asked.condensed, weight)
        wider = TTFont(next(asked.wider.glob(f"{weight}*/*{weight}*.ttf")))
        _borrow(font, wider)
        _add(font)
        _raise_tilde(font)
        font["name"].setName(FAMILY, 1, 3, 1, 0x409)
        for words in (0, 13, 14):  # copyright, licence, its address
            font["name"].setName(wider["name"].getDebugName(words), words, 3, 1, 0x409)
        font.save(FOLDER / name)


def _joined(folder: Path, weight: int) -> TTFont:
    """The pieces of one cut as one font."""
    with tempfile.TemporaryDirectory() as spot:
        pieces: list[str] = []
        before: set[int] = set()
        for script in SCRIPTS:
            piece = TTFont(folder / f"sofia-sans-condensed-{script}-{weight}-normal.woff2")
            piece.flavor = None
            pieces.append(str(Path(spot) / f"{script}.ttf"))
            # A letter that two pieces have would else change its shape, and lose its kerning.
            for table in piece["cmap"].tables:
                table.cmap = {code: n for code, n in table.cmap.items() if code not in before}
            before.update(piece.getBestCmap())
            for table in ("STAT", "prep", "gasp", "DSIG"):
                if table in piece:
                    del piece[table]
            piece.save(pieces[-1])
        return Merger().merge(pieces)


def _borrow(font: TTFont, wider: TTFont) -> None:
    """The signs that the pieces lack, from the wider cut."""
    order, shapes = font.getGlyphOrder(), wider.getGlyphSet()
    for sign in SIGNS:
        source = wider.getBestCmap()[ord(sign)]
        pen = TTGlyphPen(None)
        recording = DecomposingRecordingPen(shapes)
        shapes[source].draw(recording)
        recording.replay(pen)
        name = f"wide{ord(sign):04X}"
        _set(font, order, name, ord(sign), pen.glyph(), wider["hmtx"][source][0])
    font.setGlyphOrder(order)


def _add(font: TTFont) -> None:
    capital = font["OS/2"].sCapHeight
    stroke = capital * _STROKES[font["OS/2"].usWeightClass]
    empty = TTGlyphPen(None).glyph()
    glyphs = {
        "nnbspace": (_NARROW, empty, font["hmtx"]["space"][0] // 2),
        "turnleft": (_ANTICLOCKWISE, _arrow(capital, stroke, mirrored=False), round(capital * 1.1)),
        "turnright": (_CLOCKWISE, _arrow(capital, stroke, mirrored=True), round(capital * 1.1)),
    }
    order = font.getGlyphOrder()
    for name, (code, glyph, advance) in glyphs.items():
        _set(font, order, name, code, glyph, advance)
    font.setGlyphOrder(order)


def _raise_tilde(font: TTFont) -> None:
    """The published ~ is so flat that it reads as a minus, beside which it stands on a bridge."""
    glyphs = font["glyf"]
    glyph = glyphs[font.getBestCmap()[ord("~")]]
    points, _, _ = glyph.getCoordinates(glyphs)
    middle = (glyph.yMin + glyph.yMax) / 2
    points.translate((0, -middle))
    points.scale((1, _TILDE))
    points.translate((0, middle))
    points.toInt()
    glyph.coordinates = points
    glyph.recalcBounds(glyphs)


def _set(
    font: TTFont, order: list[str], name: str, code: int, glyph: Glyph, advance: int
) -> None:
    order.append(name)
    font["glyf"][name] = glyph
    glyph.recalcBounds(font["glyf"])
    font["hmtx"][name] = (advance, getattr(glyph, "xMin", 0))
    for table in font["cmap"].tables:
        if table.isUnicode():
            table.cmap[code] = name


def _arrow(capital: float, stroke: float, *, mirrored: bool) -> Glyph:
    """A ring open at the upper side, with a head where it ends."""
    radius, middle = (capital - stroke) / 2, capital / 2
    first, last = 90 + _GAP_DEGREES, 450 - _GAP_DEGREES * 0.35
    turns = [math.radians(first + (last - first) * n / _STEPS) for n in range(_STEPS + 1)]
    start = turns[0]
    outer = [_at(turn, radius + stroke / 2) for turn in turns]
    inner = [_at(turn, radius - stroke / 2) for turn in turns]
    x, y = _at(start, radius)
    ahead, half = stroke * _HEAD, stroke * _HEAD / 2
    tip = (x + math.sin(start) * ahead, y - math.cos(start) * ahead)
    head = [_at(start, radius + half), _at(start, radius - half), tip]
    pen = TTGlyphPen(None)
    for shape in ([*outer, *reversed(inner)], head):
        points = [(capital * 0.55 + x * (-1 if mirrored else 1), middle + y) for x, y in shape]
        if _area(points) > 0:  # TrueType fills what goes clockwise
            points.reverse()
        pen.moveTo(_whole(points[0]))
        for point in points[1:]:
            pen.lineTo(_whole(point))
        pen.closePath()
    return pen.glyph()


def _at(turn: float, radius: float) -> tuple[float, float]:
    return math.cos(turn) * radius, math.sin(turn) * radius


def _whole(point: tuple[float, float]) -> tuple[int, int]:
    return round(point[0]), round(point[1])


def _area(points: list[tuple[float, float]]) -> float:
    pairs = zip(points, points[1:] + points[:1], strict=True)
    return sum(ax * by - bx * ay for (ax, ay), (bx, by) in pairs) / 2


if __name__ == "__main__":
    main()
