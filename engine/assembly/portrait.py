"""What a topology is, for somebody who holds the unit: what is seen from outside, how its stages
feed one another, its parts and how each is known, its points and what they should read."""

from __future__ import annotations

from dataclasses import dataclass

from engine.model.notes import StageNote
from engine.model.records import Model
from kb.language.knowledge import Knowledge
from kb.language.schema import Topology

_SENSES, _LEAD = "senses", "corded"


@dataclass(frozen=True, slots=True)
class PartView:
    """A part: its designator, its stage, what it is with its marking, and how it is known."""

    id: str
    stage: str
    says: str
    where: str


@dataclass(frozen=True, slots=True)
class PointView:
    """A test point: where it is, and what each test of it should read, as (question, good)."""

    id: str
    says: str
    where: str
    readings: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Portrait:
    """A topology for the eye; `stages` in the order in which power meets them."""

    id: str
    says: str
    looks: str
    source: str
    stages: tuple[StageNote, ...]
    parts: tuple[PartView, ...]
    points: tuple[PointView, ...]


def looks_of(knowledge: Knowledge, topology: Topology) -> str:
    """What one sees and knows of a unit without opening it, in words."""
    duty = knowledge.duties.get(topology.does)
    words = [duty.says if duty is not None else topology.does]
    words.append("on a lead of its own" if _LEAD in topology.traits else "with a cap or contacts")
    places = {part.place for stage in topology.stages.values() for part in stage.parts.values()}
    words.append("a window for light" if _SENSES in places else "no window for a sensor")
    return ", ".join(words)


def portrait(knowledge: Knowledge, name: str, model: Model) -> Portrait:
    """The portrait of a topology by its model; values are those at the model's mains.

    KeyError for a topology that the knowledge has not.
    """
    topology = knowledge.topologies[name]
    parts = tuple(
        PartView(part.id, part.stage, part.says, "; ".join(
            text for text in (part.pin, part.looks, part.marking) if text
        ))
        for part in model.parts
    )  # fmt: skip
    points = tuple(
        PointView(
            point.id, point.says, point.where,
            tuple((test.says, test.good) for test in model.tests if test.point == point.id),
        )
        for point in model.points
    )  # fmt: skip
    return Portrait(
        name, topology.says, looks_of(knowledge, topology), topology.source, model.stages,
        parts, points,
    )  # fmt: skip
