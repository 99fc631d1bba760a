"""`nextprobe walk`: a diagnosis question by question, or replayed from answers."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.asked import Request, asking
from render.cli.options import WHERE, GoodUnit, Json


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
            help="Save there after every answer, not in the user's data folder.",
        ),
    ] = None,
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

    Answer by letter, word or meter reading; why, how, can't, undo, known and stop work at any time.

    Example: nextprobe walk light-controlled-lamp --complaint never-lights

    Example: nextprobe walk --from saved-walk.json

    Example: nextprobe walk buck-lamp --answers answers.yaml --json
    """  # fmt: skip
    from engine.walk.fitting import is_build
    from render.cli import attendance, briefing

    brief = briefing.Brief(
        topology=request.topology, mains=request.mains, depth=request.depth,
        complaint=request.complaint,
        kb=request.kb, without=request.without, model=request.model, seconds=time,
        values=tuple(word for word in request.values if not is_build(word)),
        good=good, having=request.having, traced=request.traced,
        build=tuple(word for word in request.values if is_build(word)),
    )  # fmt: skip
    if from_ is not None:
        brief = briefing.as_saved(brief, from_)
    if answers is not None:
        attendance.run_alone(brief, answers, as_json)
    else:
        attendance.attend(brief, save, as_json)
