"""A bench sheet as a PDF, one A4 page in a usual case, in the typeface of the charts.

WeasyPrint is imported late and may read nothing but the two font files and the case's photographs.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import jinja2

from kb.trouble import Place, Trouble, TroubleError
from render.benchsheet.content import Content
from render.drawing import markup
from render.drawing.face import FAMILY, load_family

_TEMPLATE = "sheet.html.j2"
_QUALITY, _PICTURE_DPI = 75, 200
"""Of photographs, which are printed small: enough to see a burnt part by."""


def page(content: Content, date: str) -> str:
    """The sheet as HTML, the form the PDF is printed from; `date` is that of its making."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        finalize=markup.finish,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    faces = [{"weight": weight, "url": f"font:{path.name}"} for weight, path in _fonts()]
    return environment.get_template(_TEMPLATE).render(
        sheet=content, date=date, family=FAMILY, faces=faces
    )


def pdf(content: Content, date: str) -> bytes:
    """The sheet as a tagged PDF. TroubleError PA140 where the type can't be set."""
    try:
        import weasyprint
        from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse
    except (ImportError, OSError) as wrong:
        raise TroubleError(
            Trouble(
                "PA140", Place("PDF printing"),
                "The system lacks Pango, which sets the type of the PDF",
                "Install it: apt-get install libpango-1.0-0 libpangoft2-1.0-0, dnf install pango, "
                "or brew install pango",
                why=str(wrong).splitlines()[0],
            )
        ) from wrong  # fmt: skip
    pictures = {f"picture:{number}": one for number, one in enumerate(content.pictures)}
    fonts = {f"font:{path.name}": path for _, path in _fonts()}

    class Fetcher(URLFetcher):  # type: ignore[misc]
        def fetch(self, url: str, headers: Any = None) -> Any:
            if url in pictures:
                picture = pictures[url]
                kind = {"Content-Type": picture.kind}
                return URLFetcherResponse(url, picture.content, kind)
            if url not in fonts:
                raise FatalURLFetchingError(f"a sheet reads nothing but its fonts, not {url[:60]}")
            content = fonts[url].read_bytes()
            return URLFetcherResponse(url, content, {"Content-Type": "font/ttf"})

    maker = weasyprint.HTML(string=page(content, date), url_fetcher=Fetcher(), base_url=None)
    result: bytes = maker.write_pdf(
        pdf_variant="pdf/ua-1", optimize_images=True, jpeg_quality=_QUALITY, dpi=_PICTURE_DPI
    )
    return result


def _fonts() -> list[tuple[int, Path]]:
    family = load_family()
    return [(400, family.regular.path), (700, family.strong.path)]
