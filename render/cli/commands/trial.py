"""`nextprobe trial`: thousands of simulated diagnoses, chart and walk against the orders."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from render.cli import streams
from render.cli.columns import hanging
from render.cli.options import (
    WHERE,
    Complaint,
    Depth,
    DepthOption,
    Json,
    Kb,
    Mains,
    MainsOption,
    ModelFile,
    PlanTime,
    TopologyOrModel,
    Traced,
    With,
    Without,
)
from render.wording.odds import share

if TYPE_CHECKING:
    from engine.model.plan import Plan
    from engine.model.records import Model
    from engine.studies.contest import Contest

_MOST_LINES = 8


def trial(
    topology: TopologyOrModel = None,
    runs: Annotated[
        int, typer.Option(min=10, max=100_000, metavar="N", help="How many units to simulate.")
    ] = 2000,
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same units.")] = 1,
    misreads: Annotated[
        float,
        typer.Option(
            min=0.0,
            max=20.0,
            metavar="FACTOR",
            help="How often answers are misread, as a multiple of what the model says.",
        ),
    ] = 1.0,
    skips: Annotated[
        float,
        typer.Option(
            min=0.0, max=0.9, metavar="ODDS", help="Odds that a test turns out not to be possible."
        ),
    ] = 0.0,
    ranges: Annotated[
        int,
        typer.Option(
            min=0,
            max=1000,
            metavar="N",
            help="On how many other benches, minutes and shares within their ranges, the chart is "
            "held against the best plan (a second each).",
        ),
    ] = 20,
    mains: MainsOption = Mains.EUROPE,
    depth: DepthOption = Depth.PART,
    complaint: Complaint = None,
    time: PlanTime = 20.0,
    out: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--out",
            metavar="FILE",
            rich_help_panel=WHERE,
            help="Draw the outcome there, as .svg, .png or .pdf.",
        ),
    ] = None,
    kb: Kb = None,
    with_: With = None,
    without: Without = None,
    traced: Traced = None,
    model: ModelFile = None,
    as_json: Json = False,
) -> None:
    """Let the printed chart, the walk and four orders of checks diagnose simulated units.

    One order is the old hand's: outside, contacts, light, split, one powered turn, parts. The
    others are p/c, half-split and nearest first. True faults come by their odds, answers are
    misread, tests may not be possible. Told are the odds of the right remedy with their 95 %
    interval, bench minutes, cost, where each goes wrong, and what the chart loses on other benches.

    Example: nextprobe trial buck-lamp --runs 5000 -o trial.svg
    """  # fmt: skip

    from render.cli import knowledge, planning, ranging

    if out is not None:
        _drawable(out)
    unit = knowledge.either(
        topology, model, mains, depth, complaint, kb, without or (), (), with_ or (), traced or ()
    )
    plan = planning.plan_of(unit, time)
    contest = _contest(unit, plan, runs=runs, seed=seed, misreads=misreads, skips=skips)
    wide = {"ranges": ranging.losses(unit, plan, ranges, seed)} if ranges else {}
    # drawn first: whoever reads only the first lines has the sheet all the same
    files = _draw(unit, contest, out) if out is not None else ()
    if as_json:
        streams.print_json(_plain(unit, contest) | wide)
        return
    print("\n".join(_lines(unit, contest)))
    if wide:
        print("\n".join(("", *ranging.lines(wide))))
    for path in files:
        print(f"{path} is written.")


def _contest(
    unit: Model, plan: Plan, *, runs: int, seed: int, misreads: float, skips: float
) -> Contest:
    """The contest, with a bar at a terminal."""
    import sys

    from engine.studies.contest import contest

    if not sys.stderr.isatty():
        return contest(unit, plan, units=runs, seed=seed, misreads=misreads, skips=skips)
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    columns = (BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    console = Console(file=streams.bare(sys.stderr))
    with Progress("diagnosing", *columns, console=console, transient=True) as bar:
        job = bar.add_task("diagnosing", total=None)

        def tell(count: int, of: int) -> None:
            bar.update(job, completed=count, total=of)

        return contest(unit, plan, units=runs, seed=seed, misreads=misreads, skips=skips, tell=tell)


def _lines(unit: Model, contest: Contest) -> Iterator[str]:
    yield f"{_what(unit)}: {contest.units} units, seed {contest.seed}"
    yield (
        f"misreads {contest.misreads:g} times the model's, "
        f"{share(contest.skips)} of the tests not possible"
    )
    yield ""
    heads = f"{'right':>8}{'95 % interval':>19}{'minutes':>10}{'half in':>9}{'19/20 in':>10}"
    yield f"{'':<11}{heads}{'cost':>14}"
    for bout in contest.bouts:
        interval = f"{100 * bout.right_low:.1f} to {100 * bout.right_high:.1f} %"
        cost = f"{bout.cost:.1f} ± {1.96 * bout.cost_error:.1f}"
        yield (
            f"{bout.name:<11}{share(bout.right):>8}{interval:>19}{bout.mean_minutes:>10.1f}"
            f"{bout.quantiles[2]:>9.0f}{bout.quantiles[-1]:>10.0f}{cost:>14}"
        )
    yield ""
    for bout in contest.bouts:
        yield f"{bout.name}: {bout.says}"
    yield "Minutes are at the bench; cost adds the remedy, and what a wrong verdict costs."
    for bout in contest.bouts[:2]:
        yield ""
        yield from _wrong(bout)


def _wrong(bout: Any) -> Iterator[str]:
    if not bout.confusions:
        yield f"{bout.name} goes wrong nowhere in this trial."
        return
    yield f"Where {bout.name} goes wrong, by what it costs"
    for one in bout.confusions[:_MOST_LINES]:
        end = f"ends in {one.remedy}" if one.remedy else "ends without a verdict"
        words = f"{one.cost:5.2f} min a unit: {one.fault} {end}, {share(one.share)} of the units"
        yield from hanging(words, 2)
    rest = bout.confusions[_MOST_LINES:]
    if rest:
        yield f"  {sum(one.cost for one in rest):5.2f} min a unit: {len(rest)} rarer ones"


def _what(unit: Model) -> str:
    return f"{unit.topology}, {unit.mains.volts:g} V {unit.mains.hertz:g} Hz, to the {unit.depth}"


def _drawable(out: Path) -> None:
    """Refuse a file that can't be drawn before thousands of units are tried."""
    from kb.trouble import Place, Trouble, TroubleError

    if out.suffix.lower() not in (".svg", ".png", ".pdf"):
        raise TroubleError(
            Trouble(
                code="CL131",
                place=Place(str(out)),
                what=f'no trial can be drawn as "{out.suffix or out.name}"',
                mend="End the name in .svg, .png or .pdf",
            )
        )


def _draw(unit: Model, contest: Contest, out: Path) -> tuple[Path, ...]:
    from render.drawing import issue
    from render.paper import press
    from render.report.trial import lay_out

    return press.print_out(lay_out(contest, _what(unit), issue.issue_date()), out)


def _plain(unit: Model, contest: Contest) -> dict[str, Any]:
    from dataclasses import asdict

    plain = asdict(contest)
    for bout in plain["bouts"]:
        del bout["minutes"]
    return {
        "format": "nextprobe-trial/1",
        "topology": unit.topology,
        "mains": {"volts": unit.mains.volts, "hertz": unit.mains.hertz},
        "depth": unit.depth,
        "complaint": unit.complaint,
        "knowledge": unit.knowledge,
    } | plain
