"""Writes a chart to a file: PDF, SVG or PNG by its suffix, whole or not at all."""

from __future__ import annotations

import io
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from enum import Enum
from pathlib import Path
from typing import Any

from engine.chart import secondstart
from kb.trouble import Place, Trouble, TroubleError
from render.drawing import papers, svg
from render.drawing.face import load_family
from render.drawing.ink import Sheets
from render.drawing.issue import MARK, issue_date, save
from render.drawing.legibility import TypeSizes, distance, type_sizes
from render.drawing.papers import Orientation
from render.paper import contents, pdf, sheets
from render.paper.contents import Edition, Extra
from render.paper.poster import tile_sheets
from render.wording.phrasing import Wording
from render.wording.scriptwriter import write_script

PNG_DPI = 150


class Format(Enum):
    """The kinds of file a chart can be printed to."""

    PDF = "pdf"
    SVG = "svg"
    PNG = "png"


def lay_out(
    model_doc: Mapping[str, Any],
    chart_doc: Mapping[str, Any],
    *,
    paper: str = "A3",
    landscape: Orientation = Orientation.AUTO,
    read_from: float | str = 0.7,
    date: str | None = None,
    leave_out: Collection[Extra] = (),
    edition: Edition = Edition.BOOKLET,
    add: Collection[Extra] = (),
    second: Mapping[str, Any] | None = None,
    link: str = "",
) -> Sheets:
    """The chart of the two documents on sheets, in plain mm.

    `second` is the model document of the chart's second START, where it has one; its sheets follow.

    `read_from` is in metres, or as typed, such as 0.7m. AUTO lays it out both ways up and takes
    the way with fewer sheets, then the one that has to give way less.

    An edition leaves out what is not for it, `leave_out` more; only `add` brings the record.

    `date` is an ISO date; None takes SOURCE_DATE_EPOCH, and today where that is not set.
    `link` is the address of the walk on a screen: a code on the sheet leads there.
    TroubleError for documents that don't belong together, unknown paper, an absurd distance,
    letters that the font lacks, or if even one step is larger than the paper.
    """
    metres = distance(read_from)
    sizes = type_sizes(metres)
    ways = papers.ways_up(paper, landscape)
    full, tight = (write_script(model_doc, chart_doc, wording) for wording in Wording)
    on_request = frozenset({Extra.RECORD}) - frozenset(add)
    without = frozenset(leave_out) | edition.leaves_out | on_request
    first = sheets.Order(ways[0], metres, date or issue_date(), without=without, link=link)
    orders = [replace(first, paper=way) for way in ways]
    best = sheets.place(
        edition.script_of(full), edition.script_of(tight), load_family(), sizes, orders
    )
    if best is None:
        raise _too_small(paper, sizes, metres)
    inner = secondstart.second_of(chart_doc)
    if second is None or inner is None:
        return best
    scripts = [
        write_script(second, inner[1], script.wording, first=script, says=inner[0])
        for script in (full, tight)
    ]
    left_out = without | contents.told_before(full, scripts[0])
    scripts = [edition.script_of(script) for script in scripts]
    same = [order for order in orders if order.paper.says == best.paper]
    follow = [
        replace(order, without=left_out, before=len(best.sheets), link="") for order in same
    ]
    follows = sheets.place(scripts[0], scripts[1], load_family(), sizes, follow)
    if follows is None:
        raise _too_small(paper, sizes, metres)
    return sheets.join(best, follows, load_family())


def _too_small(paper: str, sizes: TypeSizes, metres: float) -> TroubleError:
    return TroubleError(
        Trouble(
            "PA130",
            Place("--paper"),
            f"On {paper} a single step is larger than the sheet when capitals are "
            f"{sizes.least:.1f} mm high, to be read from {metres:g} m",
            "Take larger paper, a nearer --read-from, or --depth stage",
        )
    )


def write(
    model_doc: Mapping[str, Any],
    chart_doc: Mapping[str, Any],
    path: Path | str,
    *,
    paper: str = "A3",
    landscape: Orientation = Orientation.AUTO,
    read_from: float | str = 0.7,
    date: str | None = None,
    form: Format | None = None,
    leave_out: Collection[Extra] = (),
    edition: Edition = Edition.BOOKLET,
    add: Collection[Extra] = (),
    tiles: str | None = None,
    second: Mapping[str, Any] | None = None,
) -> tuple[Path, ...]:
    """Lay the chart out and print it to `path`, over tiles of that paper if any; files written."""
    target = Path(path)
    form = form or _form_of(target)
    layout = lay_out(
        model_doc,
        chart_doc,
        paper=paper,
        landscape=landscape,
        read_from=read_from,
        date=date,
        leave_out=leave_out,
        edition=edition,
        add=add,
        second=second,
    )
    return print_out(tile_sheets(layout, tiles) if tiles else layout, target, form)


def print_out(layout: Sheets, path: Path | str, form: Format | None = None) -> tuple[Path, ...]:
    """Print sheets to `path`, in the format that its suffix says unless told; the files written.

    A PDF holds all sheets; SVG and PNG are one file a sheet, numbered when there are several.
    Everything is made first and renamed into place last, so no half-written file is left.
    """
    target = Path(path)
    return save(_pages(layout, form or _form_of(target)), target)


def _form_of(target: Path) -> Format:
    suffix = target.suffix.lower().removeprefix(".")
    for form in Format:
        if form.value == suffix:
            return form
    raise TroubleError(
        Trouble(
            "PA150",
            Place(str(target)),
            f"A chart can't be printed to a file ending in “{target.suffix or 'nothing'}”",
            "Let the name end in .pdf, .svg or .png, or give --format",
        )
    )


def _pages(layout: Sheets, form: Format) -> list[bytes]:
    if form is Format.SVG:
        return [svg.draw(s, s.title, layout.language).encode() for s in layout.sheets]
    content = pdf.draw(layout)
    if form is Format.PDF:
        return [content]
    return rasterise(content, PNG_DPI, [sheet.title for sheet in layout.sheets])


def rasterise(content: bytes, dpi: float, titles: Sequence[str] = ()) -> list[bytes]:
    """Each page of a PDF as PNG bytes, with the titles given in it."""
    import pypdfium2
    from PIL.PngImagePlugin import PngInfo

    document = pypdfium2.PdfDocument(content)
    pictures = []
    for number, page in enumerate(document):
        buffer, info = io.BytesIO(), PngInfo()
        info.add_text("Software", MARK)
        if titles:
            info.add_itxt("Title", titles[number])
        picture = page.render(scale=dpi / 72).to_pil()
        picture.save(buffer, "PNG", dpi=(dpi, dpi), pnginfo=info)
        pictures.append(buffer.getvalue())
    return pictures
