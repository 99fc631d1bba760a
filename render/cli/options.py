"""The options that several commands share, worded once."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from render.cli import completion

WHAT, WHERE, SHOP = "What the plan is for", "Files and sheets", "The shop's own"


class Mains(StrEnum):
    """Nominal mains a plan is made for, volts and hertz."""

    EUROPE = "230/50"
    AMERICA = "120/60"


class Depth(StrEnum):
    """How far a diagnosis goes: to the stage, or to the part where that pays."""

    STAGE = "stage"
    PART = "part"


class Priors(StrEnum):
    """Whose shares of faults and whose minutes a walk goes by."""

    BOTH = "both"
    BOOK = "book"


def _own_folder(folder: Path | None) -> Path | None:
    """Where no folder is given, the one in the user's data folder counts, if it is there."""
    from kb.language.ownfolder import choose

    return choose(folder)


def _option(text: str, **rest: Any) -> Any:
    return typer.Option(help=text, **rest)


Topology = Annotated[
    str,
    typer.Argument(
        help="A topology, as `nextprobe list` names them.",
        autocompletion=completion.topologies,
    ),
]
TopologyOrModel = Annotated[
    str | None,
    typer.Argument(
        help="A topology, as `nextprobe list` names them; not needed with --model.",
        autocompletion=completion.topologies,
    ),
]
MainsOption = Annotated[
    Mains,
    _option("Mains, volts/hertz.", envvar="NEXTPROBE_MAINS", rich_help_panel=WHAT),
]
DepthOption = Annotated[
    Depth, _option("Stop at the stage, or go on to the part.", rich_help_panel=WHAT)
]
Like = Annotated[
    str | None,
    typer.Option(
        help="A topology to start from, as `nextprobe list` names them.",
        metavar="TOPOLOGY",
        autocompletion=completion.topologies,
        rich_help_panel="What it is built of",
    ),
]
PlanTime = Annotated[
    float,
    typer.Option(
        min=0.1,
        metavar="SECONDS",
        rich_help_panel=WHERE,
        help="Plan no longer than this; the best plan by then comes with its proved bound.",
    ),
]
Complaint = Annotated[
    str | None,
    _option(
        "What the owner reports, such as never-lights; several as dim+hum-buzz.",
        autocompletion=completion.complaints,
        rich_help_panel=WHAT,
    ),
]
With = Annotated[
    list[str] | None,
    typer.Option(
        "--with",
        help="Something this bench has beyond the usual (a supply arrangement, an instrument), as "
        "`nextprobe bench` names them; may be given several times.",
        metavar="THING",
        autocompletion=completion.things,
        rich_help_panel=SHOP,
    ),
]
Without = Annotated[
    list[str] | None,
    _option(
        "Something this bench lacks (a supply arrangement, an instrument), or a test or remedy "
        "it does not do; may be given several times.",
        metavar="THING",
        autocompletion=completion.things_and_tests,
        rich_help_panel=SHOP,
    ),
]
Traced = Annotated[
    list[str] | None,
    _option(
        "A stage whose parts need no tracing: printed on the board, or known from a like unit; "
        "may be given several times.",
        metavar="STAGE",
        autocompletion=completion.stages,
        rich_help_panel=SHOP,
    ),
]
Values = Annotated[
    list[str] | None,
    typer.Option(
        "--value",
        help="A value read off the unit, such as R2=330k: bands and readings are those of units "
        "that have it; in a walk also how it is built: L1=none, L1=fitted, C2=electrolytic; may be "
        "given several times.",
        metavar="PART=VALUE",
        rich_help_panel=SHOP,
    ),
]
GoodUnit = Annotated[
    Path | None,
    _option(
        "Readings of an identical good unit, YAML or JSON, test to reading: what this unit "
        "should read.",
        metavar="FILE",
        rich_help_panel=SHOP,
    ),
]
Kb = Annotated[
    Path | None,
    _option(
        "A folder of the shop's own knowledge, read on top of what is shipped; without one, the "
        "folder knowledge in your data folder, if it is there.",
        metavar="FOLDER",
        exists=True,
        file_okay=False,
        callback=_own_folder,
        envvar="NEXTPROBE_KB",
        rich_help_panel=SHOP,
    ),
]
ModelFile = Annotated[
    Path | None,
    _option(
        "A nextprobe-model/1 document made elsewhere, in place of a topology; - for stdin.",
        metavar="FILE",
        rich_help_panel=SHOP,
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON.")]
ShopOption = Annotated[
    str | None,
    _option(
        "The shop that keeps cases: a file, or postgresql://USER@HOST/DATABASE; without it, "
        "shop.db in your data folder.",
        metavar="SHOP",
        envvar="NEXTPROBE_SHOP",
        rich_help_panel=WHERE,
    ),
]
Who = Annotated[
    str | None,
    _option(
        "Who is at this bench, for the case; without it, the login's name.",
        metavar="NAME",
        envvar="NEXTPROBE_WHO",
        rich_help_panel=WHERE,
    ),
]
CaseNumber = Annotated[
    int | None,
    typer.Argument(help="A case's number; without one, the last that is not closed.", min=1),
]
