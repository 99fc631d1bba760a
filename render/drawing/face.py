"""The one typeface of the charts: what each letter measures, and which letters it has.

Words are measured by the library that shapes them in browsers and in the PDF (HarfBuzz), with the
font's kerning and without ligatures, as they are set: so screen, SVG, PDF and measure agree to a
hundredth of a millimetre.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import uharfbuzz
from fontTools.ttLib import TTFont

from kb.trouble import Place, Trouble, TroubleError

FAMILY = "Sofia Sans Condensed"
FOLDER = Path(__file__).resolve().parent.parent / "fonts"
_FILES = {False: "SofiaSansCondensed-Regular.ttf", True: "SofiaSansCondensed-Bold.ttf"}
# What `font-variant-ligatures: none` leaves on where words are set.
_FEATURES = {"kern": True, "liga": False, "clig": False, "calt": False}
# Look-alikes for signs people type that the family does not have.
_STAND_INS = {"Ω": "Ω", "μ": "µ", "⟲": "↺", "⟳": "↻", "‑": "-", "⩽": "≤", "⩾": "≥"}


@dataclass(frozen=True, slots=True, eq=False)
class Face:
    """One weight of the family, read once: equal to itself alone. All measures in em."""

    path: Path
    bold: bool
    advances: dict[str, float]
    capital: float
    ascent: float
    descent: float
    _shaper: uharfbuzz.Font = field(repr=False, compare=False)
    _widths: dict[str, float] = field(default_factory=dict, repr=False, compare=False)

    def width(self, text: str, size: float) -> float:
        """Width of `text` set in `size` mm type, mm."""
        ems = self._widths.get(text)
        if ems is None:
            # The same words are measured again at every width and type size tried.
            ems = self._widths[text] = self._shaped(text)
        return ems * size

    def _shaped(self, text: str) -> float:
        """Width of `text` as it is set, em."""
        buffer = uharfbuzz.Buffer()
        buffer.add_str(text)
        buffer.guess_segment_properties()
        uharfbuzz.shape(self._shaper, buffer, _FEATURES)
        units: int = sum(position.x_advance for position in buffer.glyph_positions or ())
        em: int = self._shaper.scale[0]
        return units / em


@dataclass(frozen=True, slots=True, eq=False)
class Family:
    """The two weights shipped with the project."""

    regular: Face
    strong: Face

    def face(self, bold: bool) -> Face:
        """The weight asked for."""
        return self.strong if bold else self.regular

    def size_of(self, capital_mm: float) -> float:
        """Type size in mm whose capitals are `capital_mm` high."""
        return capital_mm / self.regular.capital


@cache
def load_family() -> Family:
    """The family in render/fonts, read once."""
    return Family(_read(bold=False), _read(bold=True))


def _read(bold: bool) -> Face:
    path = FOLDER / _FILES[bold]
    if not path.is_file():
        raise TroubleError(
            Trouble(
                "PA110",
                Place(path.name),
                "The chart's font file is missing from the installed program",
                "Install the program again; the file belongs to its folder render/fonts",
            )
        )
    font = TTFont(path, lazy=True)
    em = float(font["head"].unitsPerEm)
    metrics = font["hmtx"]
    advances = {chr(code): metrics[glyph][0] / em for code, glyph in font.getBestCmap().items()}
    return Face(
        path=path,
        bold=bold,
        advances=advances,
        capital=font["OS/2"].sCapHeight / em,
        ascent=font["hhea"].ascent / em,
        descent=-font["hhea"].descent / em,
        _shaper=uharfbuzz.Font(uharfbuzz.Face(uharfbuzz.Blob.from_file_path(path))),
    )


def printable(text: str, where: str) -> str:
    """`text` in letters that the family has.

    Control characters go, look-alikes and compatibility forms are replaced; TroubleError names
    the first character that has no shape, and `where` it stands.
    """
    letters: list[str] = []
    for letter in unicodedata.normalize("NFC", text):
        if unicodedata.category(letter) in ("Cc", "Cf", "Zl", "Zp"):
            letters.append(" " if letter in "\t\n\r\v\f\u2028\u2029" else "")
            continue
        letters.append(_shape(letter, where))
    return "".join(letters)


@cache
def _letters() -> frozenset[str]:
    family = load_family()
    return frozenset(family.regular.advances.keys() & family.strong.advances.keys())


def _shape(letter: str, where: str) -> str:
    letters = _letters()
    for form in (letter, _STAND_INS.get(letter, ""), unicodedata.normalize("NFKC", letter)):
        if form and all(part in letters for part in form):
            return form
    bare = "".join(p for p in unicodedata.normalize("NFKD", letter) if p in letters)
    if bare:
        return bare
    name = unicodedata.name(letter, "unnamed character")
    raise TroubleError(
        Trouble(
            "PA111",
            Place(where),
            f"The chart's font has no shape for “{letter}” (U+{ord(letter):04X}, {name.lower()})",
            "Reword it with Latin, Greek or Cyrillic letters",
        )
    )
