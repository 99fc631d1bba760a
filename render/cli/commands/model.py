"""`nextprobe model`: the model document, or the derivation of one of its cells."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from render.cli.options import (
    WHERE,
    Complaint,
    Depth,
    DepthOption,
    Json,
    Kb,
    Mains,
    MainsOption,
    Topology,
    Traced,
    Values,
    With,
    Without,
)

if TYPE_CHECKING:
    from engine.assembly.shop import Shop


def model(
    topology: Topology,
    mains: MainsOption = Mains.EUROPE,
    depth: DepthOption = Depth.PART,
    complaint: Complaint = None,
    kb: Kb = None,
    with_: With = None,
    without: Without = None,
    traced: Traced = None,
    value: Values = None,
    explain: Annotated[
        tuple[str, str] | None,
        typer.Option(
            metavar="TEST FAULT",
            help="Print the rules and facts behind one cell instead of the document.",
            rich_help_panel=WHERE,
        ),
    ] = None,
    out: Annotated[
        Path,
        typer.Option("-o", "--out", metavar="FILE", help="Write there.", rich_help_panel=WHERE),
    ] = Path("-"),
    as_json: Json = False,
) -> None:
    """Print what is known of a topology: faults, tests, odds, minutes, remedies.

    A terminal gets a synopsis; the whole document is JSON, into a pipe, to -o, or by --json.

    Example: nextprobe model buck-lamp --mains 120/60 -o buck.json

    Example: nextprobe model buck-lamp --explain string-lights led-open
    """
    import sys

    from engine.model.records import document
    from render.cli import files, knowledge, synopsis

    if explain is not None:
        shop = knowledge.shop(kb, without or (), with_ or (), traced or ())
        _explain(topology, explain, mains, depth, complaint, kb, shop, out)
        return
    unit = knowledge.topology_model(
        topology, mains, depth, complaint, kb, without or (), value or (), with_ or (),
        traced or (),
    )  # fmt: skip
    if str(out) == "-" and sys.stdout.isatty() and not as_json:
        print("\n".join(synopsis.lines(unit)))
        print("\nAll of it, as JSON: the same command with --json, or with -o FILE.")
        return
    files.write_json(out, document(unit))


def _explain(
    topology: str,
    cell: tuple[str, str],
    mains: Mains,
    depth: Depth,
    complaint: str | None,
    kb: Path | None,
    shop: Shop,
    out: Path,
) -> None:
    from engine import library
    from engine.model.records import Mains as MainsRecord
    from render.cli import files

    volts, hertz = (float(part) for part in mains.split("/"))
    test, fault = cell
    lines = library.explain(
        topology, test, fault, mains=MainsRecord(volts, hertz), depth=depth.value,
        complaint=complaint, kb=kb, told=shop,
    )  # fmt: skip
    files.write_text(out, "".join(f"{line}\n" for line in lines))
