"""`nextprobe chart`: the plan as a flowchart on paper, or as its document."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from render.cli.asked import Request, asking
from render.cli.options import WHERE, Depth, PlanTime

if TYPE_CHECKING:
    from kb.trouble import TroubleError
    from render.cli.drawing import Paper as Sheets
    from render.cli.ranging import Drafting


class Format(StrEnum):
    """What a chart can be written as."""

    PDF = "pdf"
    SVG = "svg"
    PNG = "png"
    HTML = "html"
    JSON = "json"
    DOT = "dot"


class Paper(StrEnum):
    """Sheets a chart can be laid out on."""

    A4 = "A4"
    A3 = "A3"
    A2 = "A2"
    A1 = "A1"
    A0 = "A0"
    LETTER = "Letter"
    TABLOID = "Tabloid"


class Hang(StrEnum):
    """Which way up the sheet hangs."""

    AUTO = "auto"
    LANDSCAPE = "landscape"
    PORTRAIT = "portrait"


class Part(StrEnum):
    """What can be left out of a printed chart: the words of `render.paper.Extra`.

    Written out here, and held equal by a test, for importing the paper would slow every `--help`.
    """

    USE = "use"
    ENTRY = "entry"
    MAKE_SAFE = "make-safe"
    CAUTIONS = "cautions"
    BLOCKS = "blocks"
    WHERE = "where"
    POINTS = "points"
    READINGS = "readings"
    INSTRUMENTS = "instruments"
    HOW = "how"
    LEGEND = "legend"
    INSTEAD = "instead"
    FAULTS = "faults"
    PROOFS = "proofs"
    SOURCES = "sources"
    RECORD = "record"


class Edition(StrEnum):
    """What a chart is printed for: the words of `render.paper.Edition`, held equal by a test."""

    WALL = "wall"
    BOOKLET = "booklet"


@asking
def chart(
    request: Request,
    context: typer.Context,
    out: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--out",
            metavar="FILE",
            rich_help_panel=WHERE,
            help="Write there; the suffix says the format. Without it JSON goes to standard "
            "output, and a drawing to a file named after the topology. With --all, a folder.",
        ),
    ] = None,
    format_: Annotated[
        list[Format] | None,
        typer.Option(
            "--format",
            rich_help_panel=WHERE,
            help="Format, if not by the suffix; with --all several times (pdf and html, if none). "
            "dot is the plain flowchart for Graphviz to lay out: dot -Tsvg chart.dot -o chart.svg.",
        ),
    ] = None,
    every: Annotated[
        bool,
        typer.Option(
            "--all",
            rich_help_panel=WHERE,
            help="Every topology to both depths (or the one named) at once, with an index page, "
            "into the folder -o.",
        ),
    ] = False,
    paper: Annotated[
        Paper, typer.Option(case_sensitive=False, rich_help_panel=WHERE, help="Size of the sheets.")
    ] = Paper.A3,
    hang: Annotated[Hang, typer.Option(rich_help_panel=WHERE, help="Which way up.")] = Hang.AUTO,
    read_from: Annotated[
        str,
        typer.Option(
            metavar="DISTANCE",
            rich_help_panel=WHERE,
            help="How far away it must still be readable, such as 0.7m.",
        ),
    ] = "0.7m",
    poster: Annotated[
        Paper | None,
        typer.Option(
            case_sensitive=False,
            rich_help_panel=WHERE,
            help="One large sheet of this size, printed over small ones (--tiles).",
        ),
    ] = None,
    tiles: Annotated[
        Paper | None,
        typer.Option(
            case_sensitive=False,
            rich_help_panel=WHERE,
            help="Paper that a large sheet is printed over, with overlap, crop marks and key map "
            "(A4, with --poster).",
        ),
    ] = None,
    leave_out: Annotated[
        list[Part] | None,
        typer.Option(
            rich_help_panel=WHERE,
            help="Part of the chart to leave out; may be given several times. Cautions at the "
            "steps can't be left out.",
        ),
    ] = None,
    edition: Annotated[
        Edition,
        typer.Option(
            rich_help_panel=WHERE,
            help="wall: the flowchart and what keeps safe at it, to hang up, without the ways that "
            "two units in a hundred take; booklet: with those and all that is looked up, faults, "
            "methods, readings, sources.",
        ),
    ] = Edition.BOOKLET,
    record: Annotated[
        bool,
        typer.Option(
            "--record",
            rich_help_panel=WHERE,
            help="Add lines to write readings on, with the volts applied.",
        ),
    ] = False,
    link: Annotated[
        str,
        typer.Option(
            metavar="URL",
            rich_help_panel=WHERE,
            help="Print a code that opens this address, and the address beside it; that of a page "
            "(nextprobe serve) leads to where such a unit is taken in.",
        ),
    ] = "",
    time: PlanTime = 30.0,
    confirm: Annotated[
        bool,
        typer.Option(
            "--confirm",
            rich_help_panel=WHERE,
            help="Add tests to do again before a verdict, where misreads make that pay (takes "
            "some seconds more).",
        ),
    ] = False,
    ranges: Annotated[
        int,
        typer.Option(
            min=0,
            max=1000,
            metavar="N",
            rich_help_panel=WHERE,
            help="Tell what the plan loses on N other benches, minutes and shares drawn within "
            "their ranges (a second each).",
        ),
    ] = 0,
    sturdy: Annotated[
        bool,
        typer.Option(
            "--sturdy",
            rich_help_panel=WHERE,
            help="Of the plans within 1 % of the least take the one that loses least on other "
            "benches (takes about a minute).",
        ),
    ] = False,
) -> None:
    """Plan the cheapest order of checks and draw it as a flowchart.

    Example: nextprobe chart buck-lamp -o buck-lamp.pdf --paper A3

    Example: nextprobe chart buck-lamp -o poster.pdf --poster A1 --tiles A4 --leave-out faults

    Example: nextprobe chart buck-lamp -o buck-lamp.pdf --link http://bench.example:8410

    Example: nextprobe chart buck-lamp -o buck-lamp.html

    Example: nextprobe chart buck-lamp --depth stage --format json

    Example: nextprobe chart buck-lamp --depth stage -o buck-lamp.dot

    Example: nextprobe chart --all -o charts --format pdf --format html
    """  # fmt: skip
    from render.cli import drawing, ranging

    sheets = drawing.Paper(
        size=(poster or paper).value,
        hang=hang.value,
        read_from=read_from,
        leave_out=tuple(part.value for part in leave_out or ()),
        tiles=(tiles or Paper.A4).value if poster or tiles else None,
        edition=edition.value,
        add=(Part.RECORD.value,) if record else (),
        link=link,
    )
    if link:
        from render.drawing import squarecode

        squarecode.matrix(link)  # before time is spent on planning
    if every:
        if confirm or ranges or sturdy:
            raise _trouble(
                "CL107",
                "--all draws the proved plans alone",
                "Leave --confirm, --ranges and --sturdy out, or name one topology without --all",
            )
        _all(request, context, format_ or [Format.PDF, Format.HTML], out, sheets, time)
        return
    kind, target = _target(out, _one(format_), request)
    drafting: Drafting = drawing.with_confirm if confirm else drawing.as_planned
    if ranges or sturdy:
        drafting = ranging.drafting(ranges, sturdy, drafting)
    for line in drawing.draw(request, kind.value, target, sheets, time, drafting):
        print(line)


def _all(
    request: Request,
    context: typer.Context,
    forms: list[Format],
    out: Path | None,
    sheets: Sheets,
    seconds: float,
) -> None:
    """Draw everything; the exit code tells of charts that could not be drawn."""
    from render.cli import hanging

    if request.topology or request.model or request.complaint or request.values:
        raise _trouble(
            "CL103",
            "--all draws every topology for any complaint, as it is listed",
            "Leave the topology, --model, --complaint and --value out, or leave --all out",
        )
    if out is None or str(out) == "-":
        raise _trouble("CL104", "--all needs a folder", "Name one with -o")
    source = context.get_parameter_source("depth")
    depths = list(Depth) if source is None or source.name == "DEFAULT" else [request.depth]
    names = tuple(dict.fromkeys(form.value for form in forms))
    code = hanging.hang(request, [depth.value for depth in depths], names, sheets, seconds, out)
    if code:
        raise typer.Exit(code)


def _one(forms: list[Format] | None) -> Format | None:
    if forms and len(set(forms)) > 1:
        raise _trouble(
            "CL106",
            "one chart is written in one format",
            "Name --format once, or draw everything with --all",
        )
    return forms[0] if forms else None


def _trouble(code: str, what: str, mend: str) -> TroubleError:
    from kb.trouble import Place, Trouble, TroubleError

    return TroubleError(Trouble(code=code, place=Place("command line"), what=what, mend=mend))


def _target(out: Path | None, kind: Format | None, request: Request) -> tuple[Format, Path]:
    """Format and file: by --format, else by the suffix, else a PDF named after the topology."""
    from kb.trouble import Place, Trouble, TroubleError

    name = request.topology or (request.model.stem if request.model else "chart")
    if kind is None and out is None:
        return Format.PDF, Path(f"{name}.pdf")
    if kind is None and out is not None:
        suffix = out.suffix.lstrip(".").lower()
        if suffix not in {f.value for f in Format}:
            raise TroubleError(
                Trouble(
                    code="CL102",
                    place=Place(str(out)),
                    what=f'no chart can be written as "{out.suffix or out.name}"',
                    mend="End the name in .pdf, .svg, .png, .html, .json or .dot, or give --format",
                )
            )
        kind = Format(suffix)
    assert kind is not None
    if out is None:
        return kind, Path("-") if kind is Format.JSON else Path(f"{name}.{kind.value}")
    return kind, out
