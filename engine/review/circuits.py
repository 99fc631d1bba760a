"""Where a unit's rules and its circuit don't agree, and where derived readings are out of date.

Codes: CI402 and CI403 from `engine.circuit`; KB817 rules and circuit disagree.
"""

from __future__ import annotations

from collections.abc import Iterator

from engine import accord
from engine.circuit import campaign, dictionary
from engine.review.scope import Scope
from engine.review.trying import Unit
from kb.trouble import Trouble, TroubleError

_TOLD = 3


def agreement(scope: Scope, unit: Unit) -> Iterator[Trouble]:
    """Old or missing readings, and cells in which nothing argues for the difference."""
    if not scope.has("topologies", unit.topology):
        return
    try:
        late = campaign.stale(unit.model)
        readings = dictionary.read(unit.topology, unit.model.mains)
    except TroubleError as error:
        yield from error.troubles
        return
    if late is not None:
        yield late
    if readings is None:
        return
    found = accord.compare(unit.model, readings)
    if found.open:
        sentences = "; ".join(accord.sentence(one).rstrip(". ") for one in found.open[:_TOLD])
        more = f"; and {len(found.open) - _TOLD} more" if len(found.open) > _TOLD else ""
        yield Trouble(
            "KB817", scope.knowledge.place("topologies", unit.topology),
            f"In {len(found.open)} of {found.cells} cells the rules and the circuit of "
            f"{unit.topology} disagree at {unit.mains}, and nothing argues for it: "
            f"{sentences}{more}",
            f"nextprobe derive {unit.topology} --compare lists them; mend the rule or the circuit, "
            "or say in the circuit's file why it can't speak for the cell",
            grave=False,
        )  # fmt: skip
