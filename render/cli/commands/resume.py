"""`nextprobe resume`: go on with a case, the last one or the one that is named."""

from __future__ import annotations

from typing import Annotated

import typer

from render.cli.options import CaseNumber, Json, ShopOption, Who


def resume(
    number: CaseNumber = None,
    shop: ShopOption = None,
    who: Who = None,
    time: Annotated[
        float,
        typer.Option(
            min=0.05, metavar="SECONDS", help="Longest time to plan before the first question."
        ),
    ] = 1.0,
    as_json: Json = False,
) -> None:
    """Go on with a case, at any bench of the shop: the last that is not closed, or one by number.

    Its unit counts as one that was left: it is unplugged and measured first.

    Example: nextprobe resume

    Example: nextprobe resume 12 --shop postgresql://bench@shop/cases
    """
    from render.cli import attendance, casework, keeping, learnt

    books = keeping.open_shop(shop, who)
    case = casework.fetch(books, number)
    brief = casework.brief_of(case, books, time)
    if case.standing.options.get("priors") == learnt.BOTH:
        brief = learnt.learning(brief, books)
    keeper = casework.going_on(books, case, keeping.option_of(shop))
    attendance.attend(brief, keeper, as_json)
