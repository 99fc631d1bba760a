"""Does the code on a sheet lead where its letters say, by a decoder that has not seen the coder?"""

from __future__ import annotations

import io

import pytest
import zxingcpp
from PIL import Image

from kb.trouble import TroubleError
from render.cli.drawing import _walk_at
from render.drawing import squarecode
from render.drawing.ink import Panel, Sheets
from render.paper import lay_out, pdf
from render.paper.press import rasterise
from tests.paper import lamp

ADDRESS = "http://bench-3.shop.example:8410/take-in?topology=buck-lamp&complaint=never-lights"
_DPI = 200


@pytest.fixture(scope="module")
def sheets() -> Sheets:
    """A chart with a code."""
    return lay_out(
        lamp.model(), lamp.chart(lamp.SHORT_TREE), paper="A4", date="2026-11-25", link=ADDRESS
    )


def panel_of(sheets: Sheets) -> Panel:
    """The panel with the code; there is one."""
    (panel,) = [p for sheet in sheets.sheets for p in sheet.panels if p.kind == "link"]
    return panel


def test_a_decoder_reads_the_address_off_the_printed_sheet(sheets: Sheets) -> None:
    """ISO/IEC 18004 as zxing-cpp, a general decoder, has it."""
    pages = [Image.open(io.BytesIO(one)) for one in rasterise(pdf.draw(sheets), _DPI)]
    found = [code for page in pages for code in zxingcpp.read_barcodes(page)]
    assert [(code.text, code.format.name) for code in found] == [(ADDRESS, "QRCode")]


def test_the_address_stands_beside_it_letter_by_letter(sheets: Sheets) -> None:
    """Nothing is put in where it is cut, and no letter is outside its panel."""
    panel = panel_of(sheets)
    assert "".join(word.text for word in panel.words[panel.heading :]) == ADDRESS
    assert all(panel.box.holds(word.box, 0.3) for word in panel.words)


def test_around_the_code_stays_what_the_standard_asks(sheets: Sheets) -> None:
    """Four light modules on each side (ISO/IEC 18004, 9.1, from memory): no ink but its own."""
    panel = panel_of(sheets)
    symbol = panel.strokes[-1]
    xs = [float(s[1]) for s in symbol.path if len(s) == 3]
    ys = [float(s[2]) for s in symbol.path if len(s) == 3]
    quiet = 4 * (max(xs) - min(xs)) / len(squarecode.matrix(ADDRESS)) - 0.1
    left, right, top, bottom = min(xs) - quiet, max(xs) + quiet, min(ys) - quiet, max(ys) + quiet
    assert panel.box.x <= left
    assert panel.box.right >= right
    for word in panel.words:
        assert word.box.bottom <= top + 0.3 or word.box.y >= bottom - 0.3


@pytest.mark.parametrize("address", [
    "", "bench:8410", "javascript:alert(1)", "ftp://bench", "http://", "http://a b",
    "http://bänk", "http://a/" + "x" * 300, "http://a\nb",
])  # fmt: skip
def test_what_is_no_address_is_refused(address: str) -> None:
    with pytest.raises(TroubleError) as refused:
        squarecode.matrix(address)
    assert refused.value.troubles[0].code == "PA160"


@pytest.mark.parametrize(("link", "leads"), [
    ("http://bench:8410", "http://bench:8410/take-in?topology=buck-lamp&complaint=flicker"),
    ("http://bench:8410/", "http://bench:8410/take-in?topology=buck-lamp&complaint=flicker"),
    ("https://shop.example/walks/7", "https://shop.example/walks/7"),
    ("http://bench:8410?x=1", "http://bench:8410?x=1"), ("", ""),
])  # fmt: skip
def test_a_page_of_ours_leads_to_such_a_unit(link: str, leads: str) -> None:
    assert _walk_at(link, {"topology": "buck-lamp", "complaint": "flicker"}) == leads
