"""Is the PDF built as ISO 14289-1 (PDF/UA-1) asks, as far as a reader of its objects can tell?

No validator of PDF/UA can be installed here from a package registry; what is checked are the
points that facts about the standard list: header, MarkInfo, Lang, title, tab order, alternative
texts, embedded fonts, headings, tables with their heads, order of words, contents of links. What
no program can tell (whether the order of
reading makes sense) is not.
"""

from __future__ import annotations

import io
import itertools
from collections.abc import Iterator
from typing import Any

import pypdf
import pypdfium2
import pytest
from pypdf.generic import ArrayObject, DictionaryObject

from render.drawing.face import FOLDER, load_family
from render.drawing.ink import Box, Drawing, Panel, Sheet, Sheets, Words
from render.drawing.outlines import Type
from render.layout.panels import set_panel
from render.paper import lay_out, pdf, whereabouts
from tests.paper import lamp

SHORT = lamp.chart(lamp.SHORT_TREE)


@pytest.fixture(scope="module")
def laid() -> Sheets:
    return lay_out(lamp.model(), SHORT, paper="A4", date="2026-11-25")


@pytest.fixture(scope="module")
def read(laid: Sheets) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf.draw(laid)))


def catalog(read: pypdf.PdfReader) -> Any:
    return read.trailer["/Root"]


def elements(node: Any) -> Iterator[DictionaryObject]:
    node = node.get_object()
    if isinstance(node, ArrayObject):
        for one in node:
            yield from elements(one)
    elif isinstance(node, DictionaryObject) and "/S" in node:
        yield node
        if "/K" in node:
            yield from elements(node["/K"])


def structure(read: pypdf.PdfReader) -> list[DictionaryObject]:
    return list(elements(catalog(read)["/StructTreeRoot"]["/K"]))


def links(read: pypdf.PdfReader) -> list[Any]:
    found = [a.get_object() for page in read.pages for a in page.get("/Annots") or ()]
    return [annotation for annotation in found if annotation["/Subtype"] == "/Link"]


def test_header_and_metadata_say_which_standard(read: pypdf.PdfReader) -> None:
    assert read.pdf_header == "%PDF-1.7"
    metadata = catalog(read)["/Metadata"].get_object().get_data()
    assert b'pdfuaid:part="1"' in metadata or b"<pdfuaid:part>1<" in metadata


def test_the_file_is_tagged_has_a_language_and_shows_its_title(read: pypdf.PdfReader) -> None:
    root = catalog(read)
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert read.metadata
    assert read.metadata.title.startswith("Light-controlled LED lamp")


def test_tabs_follow_the_structure_on_every_page(read: pypdf.PdfReader) -> None:
    assert {page["/Tabs"] for page in read.pages} == {"/S"}


def test_every_picture_has_an_alternative_text(read: pypdf.PdfReader) -> None:
    pictures = [e for e in structure(read) if e["/S"] == "/Figure"]
    assert len(pictures) == len(read.pages)
    assert all(e["/Alt"] for e in pictures)


def test_headings_skip_no_level(read: pypdf.PdfReader) -> None:
    levels = [int(e["/S"][2:]) for e in structure(read) if e["/S"][1:2] == "H" and e["/S"] != "/H"]
    assert levels
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))


def test_the_title_of_every_panel_is_a_heading(read: pypdf.PdfReader, laid: Sheets) -> None:
    """One h1 a sheet, and an h2 for each panel that has a title."""
    kinds = [str(e["/S"]) for e in structure(read)]
    titles = [panel for sheet in laid.sheets for panel in sheet.panels if panel.title]
    assert len(titles) > 5
    assert kinds.count("/H2") == len(titles)
    assert kinds.count("/H1") == len(laid.sheets)


def test_a_table_is_a_table_with_heads_read_row_by_row() -> None:
    model = {
        "stages": [{"id": "control", "says": "light control"}],
        "parts": [
            {"id": "R2", "stage": "control", "says": "dropper", "marking": "marked 474",
             "pin": "from plus to D1"},
            {"id": "D1", "stage": "control", "says": "zener", "looks": "a ring at one end"},
        ],
    }  # fmt: skip
    family = load_family()
    type_ = Type(family, 4.0, 4.0)
    panels = [set_panel(leaf, type_, 90.0) for leaf in whereabouts.leaves(model)]
    panels[1] = panels[1].move(0.0, 50.0)
    title = Panel("title", "", Box(0, 0, 0, 0), (Words(1, 95, 4, "A lamp", 20),))
    sheet = Sheet(1, "A lamp – sheet 1 of 1", 100, 100, Drawing(100, 100), (*panels, title))
    file = pdf.draw(Sheets("A lamp", "en", (sheet,), 3.0, 3.0, "A4", "2026-11-25"))
    read = pypdf.PdfReader(io.BytesIO(file))
    table = next(e for e in structure(read) if e["/S"] == "/Table")
    rows = [e for e in elements(table) if e["/S"] == "/TR"]
    cells = [[str(e["/S"]) for e in elements(row) if e["/S"] in ("/TH", "/TD")] for row in rows]
    assert cells == [["/TH"] * 4, ["/TH"], *[["/TH", "/TD", "/TD", "/TD"]] * 2]
    for row in rows[2:]:
        heads = [e["/A"]["/Headers"] for e in elements(row) if e["/S"] == "/TD"]
        assert all(heads)
    text = " ".join(pypdfium2.PdfDocument(file)[0].get_textpage().get_text_range().split())
    order = ("Light control", "R2", "dropper", "474", "from plus to", "D1", "zener")
    assert [text.index(word, text.index("Light control")) for word in order] == sorted(
        text.index(word, text.index("Light control")) for word in order
    )


def test_words_stand_in_the_file_in_the_order_they_are_read(
    read: pypdf.PdfReader, laid: Sheets
) -> None:
    """On each sheet its title first, then each panel from its heading to its last word."""
    for page, sheet in zip(read.pages, laid.sheets, strict=True):
        text = "".join(page.extract_text().split())
        titles = ["".join(p.words[0].text.split()) for p in sheet.panels if p.kind == "title"]
        assert text.startswith(titles[0][:20])
        for panel in sheet.panels:
            reach = 0
            for word in panel.words[:8]:
                bare = "".join(word.text.split())
                place = text.find(bare, reach)
                assert place >= 0, bare
                reach = place


def test_fonts_are_embedded_and_map_to_letters(read: pypdf.PdfReader) -> None:
    fonts = [f.get_object() for p in read.pages for f in p["/Resources"]["/Font"].values()]
    assert fonts
    for font in fonts:
        described = font["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        assert "/FontFile2" in described
        assert "/ToUnicode" in font


def test_every_connector_is_a_link_that_says_where_it_leads(
    read: pypdf.PdfReader, laid: Sheets
) -> None:
    ways = [s for sheet in laid.sheets for s in sheet.drawing.symbols if s.link]
    assert ways
    assert len(links(read)) == len(ways)
    for link in links(read):
        assert link["/Contents"].startswith("sheet-")
        assert link["/Dest"] in read.named_destinations
        left, bottom, right, top = (float(n) for n in link["/Rect"])
        assert abs(right - left) > 1
        assert abs(top - bottom) > 1


def test_bookmarks_name_every_sheet_and_every_verdict(read: pypdf.PdfReader, laid: Sheets) -> None:
    flat: list[str] = []
    todo = list(read.outline)
    while todo:
        entry = todo.pop()
        if isinstance(entry, list):
            todo.extend(entry)
        else:
            flat.append(str(entry.title))
    sheets = {f"Sheet {n} of {len(laid.sheets)}" for n in range(1, len(laid.sheets) + 1)}
    verdicts = sum(node["kind"] == "verdict" for node in SHORT["nodes"].values())
    assert sheets <= set(flat)
    assert len([title for title in flat if title.startswith("V")]) == verdicts


def test_nothing_tells_where_the_program_is_installed(laid: Sheets) -> None:
    assert str(FOLDER) not in pdf.page(laid)


def test_the_identifier_follows_the_content_alone(laid: Sheets, read: pypdf.PdfReader) -> None:
    again = pypdf.PdfReader(io.BytesIO(pdf.draw(laid)))
    assert list(again.trailer["/ID"]) == list(read.trailer["/ID"])
