"""`nextprobe sheet`: the bench sheet of a case, for its owner and for the shop."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import CaseNumber, ShopOption


def sheet(
    number: CaseNumber = None,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", metavar="FILE", help="The PDF; without it case-NUMBER.pdf."),
    ] = None,
    shop: ShopOption = None,
) -> None:
    """Print the bench sheet of a case: for the owner in plain words, for the shop the trail.

    A unit that is not mended with every proof passed gets a label to cut out: do not plug in.

    Example: nextprobe sheet 12 -o case-12.pdf
    """
    from render.benchsheet import content, press
    from render.cli import casework, keeping
    from render.drawing.issue import issue_date, save

    books = keeping.open_to_read(shop)
    case = casework.fetch(books, number)
    target = output or Path(f"case-{case.number}.pdf")
    if target.suffix.lower() != ".pdf":
        from render.cli.briefing import trouble

        raise trouble("CL152", str(target), "a bench sheet is a PDF", "End its name in .pdf")
    model = casework.model_of(case, books)
    pictures = books.contents(case.number)
    save([press.pdf(content.content(case, model, pictures), issue_date())], target)
    print(target)
