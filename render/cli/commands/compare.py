"""`nextprobe compare`: what a change of knowledge does."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from render.cli import streams
from render.cli.columns import hanging
from render.cli.options import WHERE, Json, Mains, MainsOption

if TYPE_CHECKING:
    from engine.studies.comparison import Change, Effect

CHANGED = 1


def compare(
    old: Annotated[
        str,
        typer.Argument(
            metavar="OLD",
            help="Knowledge before: shipped, a folder, or a git revision such as HEAD~1.",
        ),
    ],
    new: Annotated[
        str, typer.Argument(metavar="NEW", help="Knowledge after, named in the same way.")
    ],
    topology: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="Only this unit; may be given several times."),
    ] = None,
    mains: MainsOption = Mains.EUROPE,
    time: Annotated[
        float, typer.Option(min=0.1, metavar="SECONDS", help="Plan each chart no longer than this.")
    ] = 5.0,
    out: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--out",
            metavar="FILE",
            rich_help_panel=WHERE,
            help="Write a report there: .html with both charts beside each other, or .md.",
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """What a change of knowledge does to entries, units, plans, verdicts and cautions.

    Ends with exit code 0 if nothing changes, 1 if something does, 2 if one of the two can't be
    used. A folder with a sub-folder words is a whole body of knowledge; any other stands on top of
    what is shipped.

    Example: nextprobe compare shipped ~/shop-knowledge -o report.html
    """  # fmt: skip
    import tempfile

    from engine.model.records import Mains as MainsRecord
    from engine.studies.comparison import changes, effects, side
    from render.cli.waiting import status
    from render.report import dress
    from render.report.comparison import sections

    if out is not None:
        _reportable(out)
    volts, hertz = (float(part) for part in mains.split("/"))
    with tempfile.TemporaryDirectory() as work, status("reading both") as tell:
        before, after = (side(name, Path(work)) for name in (old, new))
        _check_names(topology or (), before.knowledge.topologies, after.knowledge.topologies)
        differences = changes(before.knowledge, after.knowledge)
        consequences = effects(
            before, after, mains=MainsRecord(volts, hertz), seconds=time, only=topology or (),
            tell=tell if tell is not None else lambda words: None,
        )  # fmt: skip
    title = f"From {old} to {new}, at {volts:g} V {hertz:g} Hz"
    report = tuple(sections(differences, consequences))
    if as_json:
        streams.print_json(_plain(old, new, differences, consequences))
    elif out is None:
        for line in dress.text(title, report):
            indent = len(line) - len(line.lstrip())
            in_columns = "  " in line.strip()
            print(line if in_columns else "\n".join(hanging(line.strip(), indent)))
        if any(_lacks_proof(effect) for effect in consequences):
            print("\n* the best plan found in time, not proved")
    if out is not None:
        _write(out, title, report)
        if not as_json:
            print(f"{out} is written.")
    if differences or any(not effect.nothing for effect in consequences):
        raise typer.Exit(CHANGED)


def _write(out: Path, title: str, report: Sequence[Any]) -> None:
    from render.cli import files
    from render.report import dress

    make = dress.html if out.suffix.lower() == ".html" else dress.markdown
    files.write_text(out, make(title, report))


def _lacks_proof(effect: Effect) -> bool:
    sides = (effect.old, effect.new)
    return any(side is not None and not side.plan.proof.proved_optimal for side in sides)


def _check_names(asked_names: Sequence[str], *vocabularies: Any) -> None:
    """Refuse a unit that neither side has."""
    from kb.trouble import Place, Trouble, TroubleError

    names = sorted({name for side in vocabularies for name in side})
    for name in asked_names:
        if name not in names:
            raise TroubleError(
                Trouble(
                    "KB701", Place("command line"), f"There is no topology '{name}'",
                    f"Write one of: {', '.join(names)}",
                )
            )  # fmt: skip


def _reportable(out: Path) -> None:
    from kb.trouble import Place, Trouble, TroubleError

    if out.suffix.lower() not in (".html", ".md"):
        raise TroubleError(
            Trouble(
                code="CL142",
                place=Place(str(out)),
                what=f'no report can be written as "{out.suffix or out.name}"',
                mend="End the name in .html or .md",
            )
        )


def _plain(
    old: str, new: str, differences: Sequence[Change], consequences: Sequence[Effect]
) -> dict[str, Any]:
    from dataclasses import asdict

    return {
        "format": "nextprobe-comparison/1",
        "old": old,
        "new": new,
        "changes": [asdict(change) for change in differences],
        "units": [
            {
                "topology": effect.topology,
                "depth": effect.depth,
                "mains": asdict(effect.mains),
                "old": _proof(effect.old),
                "new": _proof(effect.new),
                "moved": [asdict(shift) for shift in effect.moved],
                "lost_cautions": [list(caution) for caution in effect.lost_cautions],
                "troubles": [str(trouble) for trouble in effect.troubles],
            }
            for effect in consequences
        ],
    }


def _proof(side: Any) -> dict[str, Any] | None:
    if side is None:
        return None
    proof = side.plan.proof
    return {
        "expected_minutes": proof.expected_minutes,
        "expected_cost": proof.expected_cost,
        "lower_bound": proof.lower_bound,
        "proved_optimal": proof.proved_optimal,
    }
