"""`nextprobe import`: cases of another shop, from the documents that export writes."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import ShopOption, Who


def import_(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="What export wrote; - for stdin.")],
    weight: Annotated[
        float, typer.Option(help="What a case of another shop's counts is worth, of one's own.")
    ] = 0.5,
    shop: ShopOption = None,
    who: Who = None,
) -> None:
    """Take in cases that export wrote, each under a number of this shop's; all or none.

    A case that is here as it is there is passed over. Counts (export --counts) come in by weight.

    Example: nextprobe import case-12.json
    """
    from engine.cases import exchange, lessons
    from render.cli import files, keeping

    plain, _ = files.read_json(
        file, "the case",
        ("CS121", "this is no case document (it is not JSON)",
         "Give a file that nextprobe export wrote"),
    )  # fmt: skip
    if lessons.is_counts(plain):
        lines = lessons.merge(keeping.open_shop(shop, who), plain, weight, str(file))
        print(f"Counts taken in, each case for {weight:g}: {lines} new lines.")
        return
    documents = plain if isinstance(plain, list) else [plain]
    parcels = [exchange.unpack(one, str(file)) for one in documents]
    books = keeping.open_shop(shop, who)
    before = len(books.rows())
    numbers = books.take_over([(parcel.case, parcel.contents) for parcel in parcels])
    after = len(books.rows())
    for parcel, number in zip(parcels, numbers, strict=True):
        print(f"{parcel.case.uid}: case {number}")
    print(f"{after - before} new, {len(parcels) - after + before} here already.")
