"""Faults that the tests of a unit can't see, and those that no complaint ever brings to mind.

Codes: KB806 no test sees it; KB807 it has no share of the cases.
"""

from __future__ import annotations

from collections.abc import Iterator

from engine.model.records import Fault
from engine.studies.review.scope import Scope
from engine.studies.review.trying import Unit
from engine.studies.testability.figures import coverage
from kb.trouble import Place, Trouble


def unseen(scope: Scope, unit: Unit) -> Iterator[Trouble]:
    """Faults whose signature is that of a sound unit."""
    for name in coverage(unit.model).unseen:
        fault = unit.model.fault(name)
        if _own(scope, unit, fault):
            yield Trouble(
                "KB806", _place(scope, unit, fault),
                f"No test of {unit.topology} sees the fault {name} ({fault.says})",
                "Add a test point or a rule that offers a test there; nextprobe coverage "
                f"{unit.topology} works out which would help",
                grave=False,
            )  # fmt: skip


def impossible(scope: Scope, unit: Unit) -> Iterator[Trouble]:
    """Faults with no odds at all."""
    for fault in unit.model.faults:
        if fault.prior == 0.0 and _own(scope, unit, fault):
            yield Trouble(
                "KB807", _place(scope, unit, fault),
                f"The fault {fault.id} of {unit.topology} is never suspected: its family has no "
                "share of the cases",
                "Let a rule conclude a `slice` for the family of its stage kind",
                grave=False,
            )  # fmt: skip


def _own(scope: Scope, unit: Unit, fault: Fault) -> bool:
    """Whether the fault came in with what is under review."""
    if scope.has("topologies", unit.topology):
        return True
    kinds = {
        name: part.kind
        for stage in scope.knowledge.topologies[unit.topology].stages.values()
        for name, part in stage.parts.items()
    }
    return any(scope.has("parts", kinds[p.part]) for p in fault.parts if p.part in kinds)


def _place(scope: Scope, unit: Unit, fault: Fault) -> Place:
    """Where the part stands in the topology's file."""
    places = scope.knowledge.places
    for part in fault.parts:
        path = f"{unit.topology}/stages/{fault.stage}/parts/{part.part}"
        if ("topologies", path) in places:
            return places["topologies", path]
    return scope.knowledge.place("topologies", unit.topology)
