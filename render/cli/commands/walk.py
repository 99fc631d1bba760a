"""`nextprobe walk`: a diagnosis question by question, or replayed from answers."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from render.cli.asked import Request, asking
from render.cli.options import SHOP, WHAT, WHERE, GoodUnit, Json, Priors, ShopOption, Who


@asking
def walk(
    request: Request,
    from_: Annotated[
        Path | None,
        typer.Option(
            "--from",
            metavar="FILE",
            rich_help_panel=WHERE,
            help="Go on with a saved walk, with the options it was begun with.",
        ),
    ] = None,
    save: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            rich_help_panel=WHERE,
            help="Save there after every answer, and keep no case.",
        ),
    ] = None,
    unit: Annotated[
        str,
        typer.Option(
            metavar="WORDS",
            rich_help_panel=WHAT,
            help="What was handed over, such as 'grey porch lamp of flat 3', for the case.",
        ),
    ] = "",
    words: Annotated[
        str,
        typer.Option(
            metavar="WORDS",
            rich_help_panel=WHAT,
            help="The complaint in the owner's own words.",
        ),
    ] = "",
    shop: ShopOption = None,
    who: Who = None,
    priors: Annotated[
        Priors,
        typer.Option(
            rich_help_panel=SHOP,
            help="Shares of faults and minutes by the book, or by it and the shop's closed cases.",
        ),
    ] = Priors.BOTH,
    no_case: Annotated[
        bool,
        typer.Option(
            "--no-case",
            rich_help_panel=WHERE,
            help="Keep no case: the walk is a file in your data folder.",
        ),
    ] = False,
    answers: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            rich_help_panel=WHERE,
            help="Run without a person: YAML or JSON, test to outcome or reading, or a list of "
            "them for a test done again; remedy to 'did not help'. "
            "A test that is not in it counts as one that can't be done.",
        ),
    ] = None,
    time: Annotated[
        float,
        typer.Option(
            min=0.05,
            metavar="SECONDS",
            rich_help_panel=WHERE,
            help="Longest time to plan before the first question.",
        ),
    ] = 1.0,
    good: GoodUnit = None,
    as_json: Json = False,
) -> None:
    """Find the fault with a person at the bench, one question at a time.

    Without a topology the unit counts as one that nobody has opened yet: it asks what one sees and
    hears of it, and goes on in the topology that it turns out to be. At a terminal it asks for unit
    and owner's words first.

    Answer by letter, word or meter reading; why, how, can't, undo, known and stop work at any time.

    It is kept as a case after every answer: nextprobe resume goes on with it.

    Example: nextprobe walk light-controlled-lamp --complaint never-lights

    Example: nextprobe walk --from saved-walk.json

    Example: nextprobe walk buck-lamp --answers answers.yaml --json
    """  # fmt: skip
    from engine.walk.fitting import is_build
    from render.cli import attendance, briefing, keeping, learnt

    brief = briefing.Brief(
        topology=request.topology, mains=request.mains, depth=request.depth,
        complaint=request.complaint,
        kb=request.kb, without=request.without, model=request.model, seconds=time,
        values=tuple(word for word in request.values if not is_build(word)),
        good=good, having=request.having, traced=request.traced,
        build=tuple(word for word in request.values if is_build(word)),
        unit=unit, words=words,
    )  # fmt: skip

    def attend(order: briefing.Brief, to_intake: Callable[[], None] | None = None) -> None:
        in_file = no_case or save is not None or from_ is not None
        books = None if in_file else keeping.open_shop(shop, who)
        if books is not None and priors is Priors.BOTH:
            order = learnt.learning(order, books)
        keeper = keeping.keeping_of(order, save, books, keeping.option_of(shop))
        attendance.attend(order, keeper, as_json, to_intake)

    if request.topology is None and request.model is None and from_ is None:
        from render.cli import takein, turnout

        brief = replace(brief, topology=turnout.unopened_name(brief.kb))
        if answers is None and sys.stdin.isatty() and not as_json:
            takein.meet(brief, attend)
            return
    if from_ is not None:
        brief = briefing.as_saved(brief, from_)
    if answers is not None:
        attendance.run_alone(brief, answers, as_json)
    else:
        attend(brief)
