"""Does a chart made of this knowledge break a rule of safety, and can the unit be right at all?

Codes: KB814 a chart that the independent audit refuses; KB815 a doubt about how the unit is built.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from engine.assembly.builder import build
from engine.audit import audit
from engine.chart import drawing
from engine.deduce.facts import Scalar
from engine.deduce.grounding import ground
from engine.deduce.templates import fill
from engine.model.records import document
from engine.planner import plan
from engine.studies.review.scope import Scope
from engine.studies.review.trying import Unit
from kb.language.schema import Rule
from kb.trouble import Trouble


def breaches(scope: Scope, unit: Unit) -> Iterator[Trouble]:
    """What the audit finds in the unit's charts, to the stage and to the part.

    Breaches are looked for, not the best plan: the first that the planner comes to will do, and is
    the same on every machine.
    """
    place = scope.knowledge.place("topologies", unit.topology)
    to_the_stage = build(unit.deduction, unit.topology, unit.bench, "stage")
    for depth, model in (("stage", to_the_stage), ("part", unit.model)):
        chart = drawing.document(drawing.draw_up(model, plan(model, seconds=0.0)))
        for breach in audit(document(model), chart):
            yield Trouble(
                "KB814", place,
                f"The chart of {unit.topology} to the {depth} breaks a rule: {breach.code} at "
                f"{breach.node}, {breach.what}",
                "Give the step its hazard, caution or supply by a rule; "
                "engine/audit tells what each code asks for",
            )  # fmt: skip


def doubts(scope: Scope, unit: Unit) -> Iterator[Trouble]:
    """What can't be right about the way the unit is built."""
    knowledge = scope.knowledge
    places = knowledge.places
    stage_of = {
        name: stage
        for stage, stage_fact in knowledge.topologies[unit.topology].stages.items()
        for name in stage_fact.parts
    }
    for name, doubt in knowledge.doubts.items():
        if not (scope.has("topologies", unit.topology) or scope.has("doubts", name)):
            continue
        asks = Rule.model_construct(
            id=name, step="conclude", when=doubt.when, unless=doubt.unless, then=()
        )
        for instance in ground((asks,), unit.deduction.once.facts, frozenset()):
            if doubt.over is not None and not _is_over(doubt.over, instance.values):
                continue
            part = str(fill(doubt.at, instance.values))
            path = f"{unit.topology}/stages/{stage_of.get(part)}/parts/{part}"
            yield Trouble(
                "KB815",
                places.get(("topologies", path), knowledge.place("topologies", unit.topology)),
                f"{unit.topology} can't be right: {fill(doubt.says, instance.values)}",
                "Compare stages, places and values with the unit itself",
                why=f"So says the doubt '{name}' ({doubt.source})",
                grave=False,
            )


def _is_over(pair: tuple[str, str], values: Mapping[str, Scalar]) -> bool:
    """Whether the first of two numbers is over the second."""
    more, less = (fill(text, values) for text in pair)
    return float(more) > float(less)
