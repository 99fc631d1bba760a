"""`nextprobe list`: the topologies there are."""

from __future__ import annotations

from render.cli import streams
from render.cli.options import Json, Kb


def topologies(kb: Kb = None, as_json: Json = False) -> None:
    """List the topologies: kinds of unit nextprobe knows, with what they are.

    Example: nextprobe list --kb ~/shop-knowledge
    """

    from engine import library

    notes = library.topologies((kb,) if kb else ())
    if as_json:
        streams.print_json([{"id": n.id, "says": n.says} for n in notes])
        return
    width = max((len(note.id) for note in notes), default=0)
    for note in notes:
        print(f"{note.id:<{width}}  {' '.join(note.says.split())}")
