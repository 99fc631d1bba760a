"""`nextprobe export`: cases as documents for another shop, or as a table."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import ShopOption


class Kind(StrEnum):
    """As documents with everything, or as a table with a line for each case."""

    JSON = "json"
    CSV = "csv"


def export(
    numbers: Annotated[
        list[int] | None, typer.Argument(help="Numbers of cases; without any, all.")
    ] = None,
    output: Annotated[
        Path, typer.Option("-o", "--output", metavar="FILE", help="Where to; - is the screen.")
    ] = Path("-"),
    kind: Annotated[Kind, typer.Option("--format", help="Documents or a table.")] = Kind.JSON,
    photographs: Annotated[
        bool, typer.Option(help="Put the photographs' bytes into the documents.")
    ] = True,
    counts: Annotated[
        bool,
        typer.Option("--counts", help="Numbers of cases by fault only, to share without names."),
    ] = False,
    salvage: Annotated[
        bool,
        typer.Option(
            "--salvage",
            help="What can still be read of a damaged shop's file, which stays as it is.",
        ),
    ] = False,
    shop: ShopOption = None,
) -> None:
    """Write cases out: nextprobe-case/1 documents that import reads, or a table (CSV).

    Example: nextprobe export 12 -o case-12.json

    Example: nextprobe export --format csv -o cases.csv

    Example: nextprobe export --counts -o counts.json

    Example: nextprobe export --salvage --shop damaged.db -o cases.json
    """
    from engine.cases import exchange, lessons
    from render.cli import files, keeping

    if salvage:
        _salvage(shop, output)
        return
    books = keeping.open_to_read(shop)
    if counts:
        files.write_json(output, lessons.document(books))
        return
    if kind is Kind.CSV:
        rows = [row for row in books.rows() if not numbers or row.number in numbers]
        files.write_text(output, exchange.table(rows))
        return
    picks = numbers or sorted(row.number for row in books.rows())
    documents = [
        exchange.document(books.case(number), books.contents(number) if photographs else None)
        for number in picks
    ]
    only = documents[0] if numbers and len(numbers) == 1 else documents
    files.write_json(output, only)


def _salvage(shop: str | None, output: Path) -> None:
    """Write what can be read, then say what is missing. TroubleError CS125 where cases are."""
    from engine.cases.mishaps import trouble
    from engine.cases.salvage import salvage
    from render.cli import files

    rest = salvage(shop)
    files.write_json(output, list(rest.documents))
    if rest.bare:
        print(f"nextprobe: note: without their photographs: cases {_numbers(rest.bare)}.",
              file=sys.stderr)  # fmt: skip
    if rest.lost:
        raise trouble(
            "CS125", str(output),
            f"{len(rest.documents)} cases are written; these can't be read: {_numbers(rest.lost)}",
            "Look for them in a backup",
        )  # fmt: skip


def _numbers(numbers: tuple[int, ...]) -> str:
    return ", ".join(map(str, numbers))
