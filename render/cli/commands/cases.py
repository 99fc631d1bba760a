"""`nextprobe cases`: the shop's cases, listed, searched, shown."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import Json, ShopOption


class State(StrEnum):
    """How far a case has come."""

    OPEN = "open"
    VERDICT = "verdict"
    END = "closed"


def cases(
    words: Annotated[
        list[str] | None,
        typer.Argument(help="Show cases that hold all of these words, in whatever was told."),
    ] = None,
    show: Annotated[
        int | None, typer.Option("--show", min=1, metavar="NUMBER", help="All of one case.")
    ] = None,
    photographs: Annotated[
        Path | None,
        typer.Option(
            "--photographs",
            metavar="FOLDER",
            help="With --show: put the case's photographs into this folder, as files.",
        ),
    ] = None,
    state: Annotated[
        list[State] | None,
        typer.Option("--state", help="Only those so far; may be given several times."),
    ] = None,
    shop: ShopOption = None,
    as_json: Json = False,
) -> None:
    """List the shop's cases, the last changed first; search them by words; show one.

    Example: nextprobe cases porch flicker

    Example: nextprobe cases --show 12

    Example: nextprobe cases --show 12 --photographs pictures
    """
    from dataclasses import asdict

    from engine.cases import exchange
    from render.cli import casebook, keeping, streams

    books = keeping.open_to_read(shop)
    if show is not None:
        case = books.case(show)
        places = casebook.put_out(case, books.contents(show), photographs) if photographs else []
        if as_json:
            streams.print_json(exchange.document(case, None))
            return
        for line in casebook.page(case):
            print(line)
        for place in places:
            print(place)
        return
    rows = books.rows(words or (), [one.value for one in state or ()])
    if as_json:
        streams.print_json([asdict(row) for row in rows])
        return
    for line in casebook.index(rows, books.name, is_search=bool(words or state)):
        print(line)
