"""The command `nextprobe`. Each command has a module; it imports what it needs when it runs, so
that `nextprobe --help` loads neither the planner nor the printer.

| code | trouble | code | trouble |
|---|---|---|---|
| CL101 | topology and model file, or neither | CL113 | folder of saved walks can't be made |
| CL102 | suffix that is no chart format | CL201 | file can't be written |
| CL111 | saved walk is not JSON | CL202 | file can't be read |
| CL112 | saved walk of another topology | CL103 | `--all` beside a topology, model or complaint |
| CL104 | `--all` without a folder | CL105 | folder for all charts can't be made |
| CL106 | several formats for one chart | CL121 | no such test or test point |
| CL131 | suffix that no trial is drawn as | CL141 | no such knowledge to compare |
| CL142 | suffix that no report is written as | CL114 | saved walk on what is ruled out now |
| CL151 | nothing to note | CL152 | bench sheet that is no PDF |
| CL115 | saved walk of no mains or depth there is | CL109 | a bench told beside a model document |
| CL161 | the page's key can't be kept | CL162 | passcode too short |
| CL163 | port can't be served on | CL153 | unit of a round that can't be taken in |

Exit codes: 0 done, 1 two bodies of knowledge differ (`compare`), 2 what was given can't be used,
3 a fault of the program, 130 interrupted.
"""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from render.cli import failure, streams
from render.cli.commands import (
    bench,
    calc,
    cases,
    chart,
    check,
    close,
    compare,
    coverage,
    derive,
    export,
    import_,
    list,
    model,
    new,
    note,
    priors,
    reading,
    resume,
    round,
    serve,
    sheet,
    show,
    trial,
    walk,
)

_REPAIR, _CASES = "At the bench", "The shop's cases"
_LOOK, _TEND = "Look things up", "Tend the knowledge"

app = typer.Typer(
    name="nextprobe",
    no_args_is_help=True,
    rich_markup_mode="rich",
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Begin with: nextprobe list, then nextprobe walk TOPOLOGY. "
    "For a wall chart: nextprobe chart TOPOLOGY -o chart.pdf",
)
app.command("walk", rich_help_panel=_REPAIR)(walk.walk)
app.command("resume", rich_help_panel=_REPAIR)(resume.resume)
app.command("serve", rich_help_panel=_REPAIR)(serve.serve)
app.command("round", rich_help_panel=_REPAIR)(round.round_)
app.command("chart", rich_help_panel=_REPAIR)(chart.chart)
app.command("reading", rich_help_panel=_REPAIR)(reading.reading)
app.command("calc", rich_help_panel=_REPAIR)(calc.calc)
app.command("cases", rich_help_panel=_CASES)(cases.cases)
app.command("note", rich_help_panel=_CASES)(note.note)
app.command("close", rich_help_panel=_CASES)(close.close)
app.command("sheet", rich_help_panel=_CASES)(sheet.sheet)
app.command("priors", rich_help_panel=_CASES)(priors.priors)
app.command("export", rich_help_panel=_CASES)(export.export)
app.command("import", rich_help_panel=_CASES)(import_.import_)
app.command("list", rich_help_panel=_LOOK)(list.topologies)
app.command("show", rich_help_panel=_LOOK)(show.show)
app.command("model", rich_help_panel=_LOOK)(model.model)
app.command("new", rich_help_panel=_TEND)(new.new)
app.command("check", rich_help_panel=_TEND)(check.check)
app.command("coverage", rich_help_panel=_TEND)(coverage.coverage)
app.command("trial", rich_help_panel=_TEND)(trial.trial)
app.command("bench", rich_help_panel=_TEND)(bench.bench)
app.command("compare", rich_help_panel=_TEND)(compare.compare)
app.command("derive", rich_help_panel=_TEND)(derive.derive)


def _version(show: bool) -> None:
    if show:
        from importlib.metadata import version

        print(f"nextprobe {version('nextprobe')}")
        raise typer.Exit


@app.callback()
def _top(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    """Names the next thing to probe: the cheapest order of checks from complaint to verdict."""


def main() -> None:
    """Run the command line; the exit code is 0, or one of `render.cli.failure`'s."""
    streams.prepare()
    sys.exit(failure.guard(app))
