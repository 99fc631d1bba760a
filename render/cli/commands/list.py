"""`nextprobe list`: the topologies there are."""

from __future__ import annotations

from render.cli import streams
from render.cli.options import Json, Kb


def topologies(kb: Kb = None, as_json: Json = False) -> None:
    """List the topologies: kinds of unit nextprobe knows, by what one sees of them from outside.

    Example: nextprobe list --kb ~/shop-knowledge
    """

    from engine import library

    folders = (kb,) if kb else ()
    notes = (*library.topologies(folders), *library.unopened(folders))
    if as_json:
        plain = [{"id": n.id, "says": n.says, "looks": n.looks} for n in notes]
        streams.print_json(plain)
        return
    width = max((len(note.id) for note in notes), default=0)
    groups: dict[str, list[library.TopologyNote]] = {}
    for note in notes:
        groups.setdefault(note.looks, []).append(note)
    for number, looks in enumerate(sorted(groups)):
        if number:
            print()
        print(f"{looks[:1].upper()}{looks[1:]}:")
        for note in groups[looks]:
            print(f"  {note.id:<{width}}  {' '.join(note.says.split())}")
