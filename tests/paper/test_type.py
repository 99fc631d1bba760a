"""Are words as wide on paper and screen as they were measured, and has the face every sign?"""

from __future__ import annotations

import base64
import io
import tempfile
import unicodedata
from pathlib import Path

import pypdfium2
import pytest
import uharfbuzz
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from render.drawing.face import FAMILY, FOLDER, Face, load_family
from render.drawing.svg import all_words, subset_in_base64
from render.paper import lay_out, pdf
from tests.paper import lamp

MM = 25.4 / 72
CUTS = (load_family().regular, load_family().strong)
KERNED = ("AVATAR", "To TP4, Tap", "R11 (10 kΩ).", "V9 – Y, ‘T’")
SIGNS = "Ωµ≤≥°±–→←↓↑√½×·…“”’↺↻\u00a0\u202f"


@pytest.mark.parametrize("face", CUTS, ids=["regular", "bold"])
def test_a_pair_that_is_drawn_together_is_measured_so(face: Face) -> None:
    assert face.width("AVATAR", 1.0) < sum(face.width(letter, 1.0) for letter in "AVATAR") - 0.02


@given(st.text(alphabet="AVTRoy.,14kΩ–", min_size=1, max_size=12))
def test_a_width_grows_with_the_type(text: str) -> None:
    face = load_family().regular
    assert face.width(text, 5.0) == pytest.approx(5.0 * face.width(text, 1.0))


def test_words_are_as_wide_in_the_pdf_as_they_were_measured() -> None:
    """Every line of every sheet, by the advance of its letters in the file."""
    sheets = lay_out(lamp.model(), lamp.chart(lamp.SHORT_TREE), date="2026-11-25", paper="A2")
    document = pypdfium2.PdfDocument(pdf.draw(sheets))
    compared = 0
    for page, sheet in zip(document, sheets.sheets, strict=True):
        text = page.get_textpage()
        boxes = [text.get_charbox(n, loose=True) for n in range(text.count_chars())]
        letters = text.get_text_range()
        assert len(letters) == len(boxes)
        for word in all_words(sheet):
            if len(word.text) < 8 or letters.count(word.text) != 1:
                continue
            start = letters.index(word.text)
            left, right = boxes[start][0], boxes[start + len(word.text) - 1][2]
            assert (right - left) * MM == pytest.approx(word.width, rel=1e-3, abs=0.06), word.text
            compared += 1
    assert compared > 40


@pytest.mark.parametrize("face", CUTS, ids=["regular", "bold"])
@pytest.mark.parametrize("text", KERNED)
def test_the_letters_sent_along_with_a_drawing_are_kerned_alike(face: Face, text: str) -> None:
    woff = base64.b64decode(subset_in_base64(face, text))
    font = TTFont(io.BytesIO(woff))
    font.flavor = None
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "subset.ttf"
        font.save(path)
        shaper = uharfbuzz.Font(uharfbuzz.Face(uharfbuzz.Blob.from_file_path(path)))
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    uharfbuzz.shape(shaper, buffer, {"liga": False, "clig": False, "calt": False})
    ems = sum(p.x_advance for p in buffer.glyph_positions) / shaper.scale[0]
    assert ems == pytest.approx(face.width(text, 1.0), abs=1e-6)


@pytest.mark.parametrize("face", CUTS, ids=["regular", "bold"])
def test_the_face_has_every_sign_and_the_alphabets_of_a_repairer(face: Face) -> None:
    letters = [chr(code) for code in (*range(0x20, 0x7F), *range(0xC0, 0x100))]
    letters += [chr(code) for code in (*range(0x391, 0x3CA), *range(0x410, 0x450)) if code != 0x3A2]
    missing = [sign for sign in (*SIGNS, *letters) if sign not in face.advances]
    assert not missing, [unicodedata.name(sign) for sign in missing]


@pytest.mark.parametrize("face", CUTS, ids=["regular", "bold"])
def test_a_narrow_space_is_half_a_space(face: Face) -> None:
    assert face.width("\u202f", 1.0) == pytest.approx(face.width(" ", 1.0) / 2, abs=0.001)


@pytest.mark.parametrize("face", CUTS, ids=["regular", "bold"])
def test_capitals_are_as_wide_as_can_be_read(face: Face) -> None:
    """ISO 9241-3, 5.7: a capital H is at least half as wide as it is high (from memory)."""
    assert 0.5 <= face.width("H", 1.0) / face.capital <= 1.0


def test_the_files_are_small_named_right_and_their_licence_lies_beside_them() -> None:
    for face in CUTS:
        assert face.path.stat().st_size <= 300_000
        assert TTFont(face.path)["name"].getDebugName(1) == FAMILY
    licence = (FOLDER / "OFL.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
    assert "Sofia Sans Project Authors" in licence
    assert "Reserved Font Name \"" not in licence
