"""Sheets as a tagged PDF: one picture of the lines, and every word as real text in its place.

The words are set from the measured records, so the PDF says at each place what `ink` says; links
lead from connectors to where they go on, bookmarks to sheets and verdicts. WeasyPrint is imported
late (it takes half a second) and may read nothing but the two font files.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

import jinja2

from kb.trouble import Place, Trouble, TroubleError
from render.drawing import markup, svg
from render.drawing.face import FAMILY, Face, load_family
from render.drawing.ink import Box, Sheet, Sheets, Symbol, Words
from render.drawing.markup import number
from render.paper.printing import Paragraph, paragraphs

_TEMPLATE = "sheets.html.j2"
_PICTURE = "data:image/svg+xml;base64,"


@dataclass(frozen=True, slots=True)
class _Block:
    tag: str
    words: tuple[Paragraph, ...]
    anchor: str = ""
    link: str = ""
    bookmark: str = ""
    level: str = "none"
    rows: tuple[tuple[tuple[Paragraph, ...], ...], ...] = ()


def draw(sheets: Sheets) -> bytes:
    """The sheets as a PDF/UA-1 file; equal sheets give equal bytes."""
    weasyprint = _weasyprint()
    text = page(sheets)
    maker = weasyprint.HTML(string=text, url_fetcher=_fetcher(), base_url=None)
    identifier = re.sub(r"[^0-9a-f]", "", _digest(text))[:32]
    content: bytes = maker.write_pdf(
        pdf_variant="pdf/ua-1", pdf_identifier=identifier.encode(), uncompressed_pdf=False
    )
    return content


def page(sheets: Sheets) -> str:
    """The sheets as one HTML page in millimetres, the form the PDF is printed from."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        finalize=markup.finish,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
    )
    environment.filters["css"] = _css_text
    family = load_family()
    first = sheets.sheets[0]
    return environment.get_template(_TEMPLATE).render(
        title=sheets.title,
        language=sheets.language,
        description=f"Repair flowchart, {len(sheets.sheets)} sheets of {sheets.paper}",
        date=sheets.date,
        family=FAMILY,
        faces=[
            {"weight": 700 if face.bold else 400, "url": _font_address(face)}
            for face in (family.regular, family.strong)
        ],
        width=number(first.width),
        height=number(first.height),
        sheets=[_sheet(sheet, _circles(sheets)) for sheet in sheets.sheets],
    )


def _circles(sheets: Sheets) -> dict[str, str]:
    """Names of the places where connectors go on, said so that a reader aloud can say them."""
    return {
        symbol.anchor: f"sheet-{sheet.number}-letter-{symbol.words[0].text}"
        for sheet in sheets.sheets
        for symbol in sheet.drawing.symbols
        if symbol.kind == "connector" and symbol.anchor and symbol.words
    }


def _sheet(sheet: Sheet, circles: Mapping[str, str]) -> Mapping[str, Any]:
    return {
        "number": sheet.number,
        "width": number(sheet.width),
        "height": number(sheet.height),
        "picture": _picture(sheet, svg.shapes(sheet)),
        "alt": f"Outlines, flow lines and signs of {sheet.title}",
        "blocks": list(_blocks(sheet, circles)),
        "frame": _frame(sheet.frame) if sheet.frame else None,
        "marks": _picture(sheet, svg.marks(sheet)) if sheet.marks else "",
        "notes": paragraphs(sheet.notes),
    }


def _picture(sheet: Sheet, elements: str) -> str:
    return _PICTURE + base64.b64encode(svg.picture(sheet, elements).encode()).decode()


def _frame(box: Box) -> Mapping[str, str]:
    return {"x": number(box.x), "y": number(box.y), "w": number(box.w), "h": number(box.h)}


def _blocks(sheet: Sheet, circles: Mapping[str, str]) -> Iterator[_Block]:
    marks = iter(range(10_000))
    with_title = False
    for panel in sorted(sheet.panels, key=lambda p: p.kind != "title"):
        tag = "p"
        bookmark, level = "", "none"
        if panel.kind == "title" and not with_title:
            with_title, tag, bookmark, level = True, "h1", _short(sheet), "1"
        elif panel.title:
            bookmark, level = panel.title, "2"
        head, rest = panel.words[: panel.heading], panel.words[panel.heading :]
        anchor = f"s{sheet.number}-{next(marks)}"
        if head:
            yield _Block("h2", paragraphs(head), anchor, bookmark=bookmark, level=level)
            anchor, bookmark, level = "", "", "none"
        if panel.rows:
            yield _Block("table", (), anchor, rows=_rows(panel.rows, rest))
        else:
            yield _Block(tag, paragraphs(rest), anchor, bookmark=bookmark, level=level)
    for symbol in sorted(sheet.drawing.symbols, key=_verdict_number):
        verdict = _verdict_words(symbol)
        yield _Block(
            "p",
            paragraphs(symbol.words),
            circles.get(symbol.anchor) or _anchor(symbol.anchor),
            circles.get(f"in:{symbol.link}", "") if symbol.link else "",
            bookmark=verdict,
            level="2" if verdict else "none",
        )
    for label in sheet.drawing.labels:
        yield _Block("p", paragraphs(label.words))


def _rows(
    counts: Sequence[Sequence[int]], words: Sequence[Words]
) -> tuple[tuple[tuple[Paragraph, ...], ...], ...]:
    """The paragraphs of each cell of a table, row by row."""
    rest = iter(words)
    return tuple(
        tuple(paragraphs(tuple(islice(rest, count))) for count in row) for row in counts
    )


def _short(sheet: Sheet) -> str:
    """The sheet's own part of its title."""
    return sheet.title.rpartition(" – ")[2].capitalize()


_VERDICT = re.compile(r"\bV(\d+)\u00a0.*", re.DOTALL)


def _verdict_words(symbol: Symbol) -> str:
    """A verdict's number and remedy; empty for other symbols."""
    if symbol.kind != "terminator":
        return ""
    match = _VERDICT.search(" ".join(word.text for word in symbol.words))
    return match[0].split("\u00a0·")[0] if match else ""


def _verdict_number(symbol: Symbol) -> int:
    """Verdicts in the order of their numbers, all else before them."""
    match = _VERDICT.match(_verdict_words(symbol))
    return int(match[1]) if match else 0


def _anchor(name: str) -> str:
    return "at-" + re.sub(r"[^A-Za-z0-9_-]", "-", name) if name else ""


def _css_text(text: str) -> str:
    return re.sub(r"[^A-Za-z0-9 ]", lambda m: f"\\{ord(m.group()):06x} ", text)


def _fetcher() -> Any:
    """A reader that opens our two font files and our own inline pictures, and no other address."""
    from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

    family = load_family()
    fonts = {_font_address(face): face.path for face in (family.regular, family.strong)}

    class Fetcher(URLFetcher):  # type: ignore[misc]
        def fetch(self, url: str, headers: Any = None) -> Any:
            if url in fonts:
                return URLFetcherResponse(
                    url, fonts[url].read_bytes(), {"Content-Type": "font/ttf"}
                )
            if url.startswith(_PICTURE):
                picture = base64.b64decode(url.removeprefix(_PICTURE))
                return URLFetcherResponse(url, picture, {"Content-Type": "image/svg+xml"})
            raise FatalURLFetchingError(f"a chart reads nothing but its fonts, not {url[:60]}")

    return Fetcher()


def _font_address(face: Face) -> str:
    """An address that says nothing of where the program is installed: equal pages, equal bytes."""
    return f"font:{face.path.name}"


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _weasyprint() -> Any:
    try:
        import weasyprint
    except (ImportError, OSError) as error:
        raise TroubleError(
            Trouble(
                "PA140",
                Place("PDF printing"),
                "The system lacks Pango, which sets the type of the PDF",
                "Install it: apt-get install libpango-1.0-0 libpangoft2-1.0-0, "
                "dnf install pango, or brew install pango; or ask for .svg",
                why=str(error).splitlines()[0],
            )
        ) from error
    return weasyprint
