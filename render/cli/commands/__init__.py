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
| CL001 | command line that can't be read | CL116 | another program at the same walk |

Exit codes: 0 done, 1 two bodies of knowledge differ (`compare`), 2 what was given can't be used,
3 a fault of the program, 130 interrupted.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Annotated, Any

import typer

from render.cli import failure, helpsheet, leaving, streams, usage
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
    rich_markup_mode=None,
    cls=helpsheet.Group,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Begin with: nextprobe list, then nextprobe walk TOPOLOGY. "
    "For a wall chart: nextprobe chart TOPOLOGY -o chart.pdf",
)


def _command(name: str, panel: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    return app.command(name, rich_help_panel=panel, cls=helpsheet.Command)


_command("walk", _REPAIR)(walk.walk)
_command("resume", _REPAIR)(resume.resume)
_command("serve", _REPAIR)(serve.serve)
_command("round", _REPAIR)(round.round_)
_command("chart", _REPAIR)(chart.chart)
_command("reading", _REPAIR)(reading.reading)
_command("calc", _REPAIR)(calc.calc)
_command("cases", _CASES)(cases.cases)
_command("note", _CASES)(note.note)
_command("close", _CASES)(close.close)
_command("sheet", _CASES)(sheet.sheet)
_command("priors", _CASES)(priors.priors)
_command("export", _CASES)(export.export)
_command("import", _CASES)(import_.import_)
_command("list", _LOOK)(list.topologies)
_command("show", _LOOK)(show.show)
_command("model", _LOOK)(model.model)
_command("new", _TEND)(new.new)
_command("check", _TEND)(check.check)
_command("coverage", _TEND)(coverage.coverage)
_command("trial", _TEND)(trial.trial)
_command("bench", _TEND)(bench.bench)
_command("compare", _TEND)(compare.compare)
_command("derive", _TEND)(derive.derive)


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
    sys.exit(failure.guard(lambda: usage.run(app)))


def program() -> None:
    """As `main`, for a program of its own: it ends at once where a plan is still being made."""
    try:
        main()
    except SystemExit as end:
        leaving.leave(int(end.code or 0))
