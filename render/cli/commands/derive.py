"""`nextprobe derive`: readings of a topology's test points under every fault, from its circuit."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import WHERE, Kb, Mains, MainsOption, Topology


def derive(
    topology: Topology,
    mains: MainsOption = Mains.EUROPE,
    samples: Annotated[
        int,
        typer.Option(
            min=0,
            max=200,
            metavar="N",
            help="Sampled units besides the nominal one: other designs, other tolerances.",
        ),
    ] = 12,
    compare: Annotated[
        bool,
        typer.Option(
            "--compare", help="List where rules and circuit disagree, with both derivations."
        ),
    ] = False,
    kb: Kb = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--out",
            metavar="FOLDER",
            file_okay=False,
            help="Write the readings there, not beside the knowledge.",
            rich_help_panel=WHERE,
        ),
    ] = None,
) -> None:
    """Simulate a topology's circuit, healthy and with every fault, and keep what each test reads.

    With --kb the circuit, its devices and its parts may stand in your own folder, under circuits.

    Takes minutes to an hour; goes on where an interrupted run stopped. ngspice is asked only
    where our own solver gives up. Walking and charting need neither.

    Example: nextprobe derive buck-lamp --mains 120/60
    """
    from engine import library
    from engine.assembly.shop import Shop
    from engine.circuit import accord, campaign, dictionary
    from kb.language.circuit import folder_of
    from kb.language.ownfolder import CIRCUITS
    from render.cli import knowledge, waiting
    from render.cli.options import Depth

    # a circuit is simulated for every instrument there is, whatever this shop has
    everything = library.everything(kb)
    made_for = knowledge.topology_model(
        topology, mains, Depth.PART, None, kb, having=everything
    )  # fmt: skip
    place = campaign.workbench(made_for, samples, kb)
    with waiting.status(f"Simulating {topology}") as tell:

        def progress(count: int, of: int) -> None:
            if tell is not None:
                tell(f"Simulating {topology}: {count} of {of} circuits")

        given_up = [0, 0, 0]

        def toll(ours: int, both: int) -> None:
            for at, more in enumerate((1, ours, both)):
                given_up[at] += more

        readings = campaign.derive(place, progress, toll=toll)
    own = kb is not None and folder_of(topology, kb) == kb / CIRCUITS
    beside = kb / "readings" if kb is not None and own else dictionary.FOLDER
    path = dictionary.write(readings, out or beside)
    cells = sum(len(row) for row in readings.cells.values())
    print(f"{path.name}: {cells} readings of {len(readings.cells)} tests written.")
    print(toll_words(*given_up))
    if not compare:
        return
    comparison = accord.compare(made_for, readings, kb)
    for one in comparison.disagreements:
        print(accord.sentence(one))
        if not one.argued:
            print(f"  {accord.simulation_words(made_for, readings, one.test, one.fault)}.")
            lines = library.explain(
                topology, one.test, one.fault, mains=made_for.mains, kb=kb, told=Shop(everything)
            )  # fmt: skip
            print("\n".join(f"  {line}" for line in lines if line))
    count = f"{len(comparison.open)} of {comparison.cells}"
    print(f"{count} cells disagree with nothing to argue for them.")


def toll_words(circuits: int, ours: int, both: int) -> str:
    """How many circuits were simulated just now, and of how many readings solvers gave up."""
    if not circuits:
        return "Nothing was left to simulate."
    if not ours:
        return f"{circuits} circuits simulated, none given up on."
    return (
        f"{circuits} circuits simulated; our solver gave up on {ours} readings, "
        f"ngspice on {both} of them."
    )
