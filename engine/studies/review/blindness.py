"""Faults that the tests of a unit can't see, and those that no complaint ever brings to mind.

Codes: KB806 no test sees it; KB807 it has no share of the cases; KB819 it is left out, as nobody
would see it.
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


def left_out(scope: Scope, unit: Unit) -> Iterator[Trouble]:
    """Modes of one's own kinds of part that change nothing an owner sees: no plan has them."""
    if scope.own is None:
        return  # what is shipped leaves out on purpose what an owner never notices
    stages = scope.knowledge.topologies[unit.topology].stages.values()
    kinds = {name: part.kind for stage in stages for name, part in stage.parts.items()}
    for hypothesis in unit.deduction.latent:
        (part, mode), *_ = hypothesis.parts
        kind = kinds[part]
        if not scope.has("parts", kind):
            continue
        acts = dict(hypothesis.acts)[part]
        yield Trouble(
            "KB819", scope.knowledge.at("parts", kind, *_path(scope, kind, mode)),
            f"The fault {hypothesis.id} of {unit.topology} ({hypothesis.says}) is left out of "
            f"every plan: no rule lets a part that acts '{acts}' there change what the owner sees",
            "Let a rule of step suppose say what it does to the volts or the draw, with a value "
            "that shows (REFERENCE.md, Every quantity); nothing, if nobody would ever notice it",
            grave=False,
        )  # fmt: skip


def _path(scope: Scope, kind: str, mode: str) -> tuple[str, ...]:
    """Where a mode or a variant of one stands in its kind."""
    modes = scope.knowledge.parts[kind].modes
    for name, spec in modes.items():
        for variant in spec.variants:
            if mode == f"{name}-{variant}":
                return "modes", name, "variants", variant
    return "modes", mode


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
