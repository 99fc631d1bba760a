"""`nextprobe round`: several units at one sitting, what is due at each, closed checks first."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import Kb, Mains, MainsOption, ShopOption, Who


def round_(
    numbers: Annotated[
        list[int] | None, typer.Argument(help="Numbers of cases; without any, all open ones.")
    ] = None,
    take: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="First take in the units of this file, - for what is typed: a line each, what "
            "you call it; what its owner says; its complaint, where that is clear.",
        ),
    ] = None,
    kind: Annotated[
        str,
        typer.Option(
            metavar="TOPOLOGY", help="Which kind the units of --take are; without it, don't know."
        ),
    ] = "",
    mains: MainsOption = Mains.EUROPE,
    kb: Kb = None,
    shop: ShopOption = None,
    who: Who = None,
    time: Annotated[
        float,
        typer.Option(min=0.05, metavar="SECONDS", help="Longest time to plan for each unit."),
    ] = 0.5,
) -> None:
    """List what is due at each open case: units that wait for the same check together.

    Questions come first, then what is done to closed units, last what needs one open.

    Example: nextprobe round --take saturday.txt

    Example: nextprobe round 12 13 14
    """
    from render.cli import files, keeping, turnout
    from render.cli.columns import hanging
    from render.station import roundpages, rounds
    from render.station.desk import Desk
    from render.station.seats import Seats

    books = keeping.open_shop(shop, who)
    seats = Seats(books, time)
    picks = list(numbers or ())
    if take is not None:
        unit = kind or turnout.unopened_name(kb) or ""
        desk = Desk(kb, mains, time)
        text = files.read_text(take, "the list of units")
        picks += roundpages.take_in(desk, seats, books, text, unit, str(take))
        print(f"Taken in: cases {', '.join(str(number) for number in picks)}.")
    rows = rounds.groups(seats, picks or rounds.open_cases(books), books.who)
    for text, under in rounds.lines(rows):
        for line in hanging(text, under):
            print(line)
    print("nextprobe resume NUMBER goes on with one." if rows else "No case is open.")
