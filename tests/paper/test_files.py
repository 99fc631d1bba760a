"""Are the files whole, equal for equal input, and does the PDF say what the chart says?"""

from __future__ import annotations

import re
import zlib
from pathlib import Path
from xml.etree import ElementTree

import pypdfium2
import pytest

from kb.trouble import TroubleError
from render.paper import write
from tests.paper import lamp

SHORT = lamp.chart(lamp.SHORT_TREE)
MM = 25.4 / 72


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("chart") / "chart.pdf"
    (made,) = write(lamp.model(), SHORT, target, paper="A3", date="2026-11-25")
    return made


def _text(path: Path) -> str:
    document = pypdfium2.PdfDocument(path)
    pages = [page.get_textpage().get_text_bounded() for page in document]
    return " ".join(" ".join(pages).replace("\u202f", " ").split())


def _streams(path: Path) -> bytes:
    found = re.findall(rb"stream\r?\n(.*?)endstream", path.read_bytes(), re.DOTALL)
    plain = []
    for content in found:
        try:
            plain.append(zlib.decompressobj().decompress(content))
        except zlib.error:
            plain.append(content)
    return b"".join(plain)


def test_the_page_is_a3(printed: Path) -> None:
    width, height = pypdfium2.PdfDocument(printed)[0].get_size()
    assert (width * MM, height * MM) == pytest.approx((420, 297), abs=0.2)  # ISO 216


def test_every_test_and_remedy_of_the_chart_is_read_back(printed: Path) -> None:
    text = _text(printed)
    tests = {t["id"]: t for t in lamp.model()["tests"]}
    remedies = {r["id"]: r for r in lamp.model()["remedies"]}
    for node in SHORT["nodes"].values():
        if node["kind"] == "test":
            assert tests[node["test"]]["says"] in text
        if node["kind"] == "verdict":
            assert remedies[node["remedy"]]["says"].replace("'", "’") in text


def test_every_caution_of_the_chart_is_read_back_with_its_signal_word(printed: Path) -> None:
    text = _text(printed)
    cautions = {c["id"]: c for c in lamp.model()["cautions"]}
    named = {c for node in SHORT["nodes"].values() for c in node.get("cautions", ())}
    assert named
    for caution in named:
        assert cautions[caution]["says"] in text
        assert cautions[caution]["signal"] in text


def test_the_pdf_is_tagged_with_title_language_and_bookmarks(printed: Path) -> None:
    document = pypdfium2.PdfDocument(printed)
    assert document.get_metadata_value("Title").startswith("Light-controlled LED lamp")
    assert document.is_tagged()
    assert b"pdfuaid:part" in _streams(printed)  # ISO 14289-1 asks for it in the XMP packet
    assert len(list(document.get_toc())) > 3


def test_capitals_on_the_page_are_as_high_as_promised(printed: Path) -> None:
    page = pypdfium2.PdfDocument(printed)[0].get_textpage()
    heights = []
    for index in range(page.count_chars()):
        if page.get_text_range(index, 1) in tuple("EFHT"):
            _, low, _, high = page.get_charbox(index)
            heights.append((high - low) * MM)
    assert min(heights) >= 3.24  # 3.26 mm less the outline's rounding to the font's grid


def test_equal_input_gives_equal_bytes(printed: Path, tmp_path: Path) -> None:
    (again,) = write(lamp.model(), SHORT, tmp_path / "chart.pdf", paper="A3", date="2026-11-25")
    assert again.read_bytes() == printed.read_bytes()


def test_svg_is_whole_and_reaches_for_nothing_outside(tmp_path: Path) -> None:
    for made in write(lamp.model(), SHORT, tmp_path / "chart.svg", date="2026-11-25"):
        text = made.read_text(encoding="utf-8")
        ElementTree.fromstring(text)
        assert "http" not in text.replace("http://www.w3.org/2000/svg", "")


def test_png_has_the_size_of_the_sheet(tmp_path: Path) -> None:
    first = write(lamp.model(), SHORT, tmp_path / "chart.png", date="2026-11-25")[0]
    raw = first.read_bytes()
    assert raw[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(raw[16:20]) / 150 * 25.4 == pytest.approx(420, abs=0.5)


def test_a_folder_that_is_not_there_is_told_and_nothing_is_left(tmp_path: Path) -> None:
    with pytest.raises(TroubleError, match="PA151"):
        write(lamp.model(), SHORT, tmp_path / "nowhere" / "chart.svg", date="2026-11-25")
    assert list(tmp_path.iterdir()) == []


def test_a_kind_of_file_nobody_prints_is_told() -> None:
    with pytest.raises(TroubleError, match=r"\.pdf, \.svg or \.png"):
        write(lamp.model(), SHORT, "chart.docx")


def test_the_date_follows_source_date_epoch(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "0")
    made = write(lamp.model(), SHORT, tmp_path / "chart.svg")[0]
    assert "1970-01-01" in made.read_text(encoding="utf-8")
