"""The unit as a block diagram: stages in the order power meets them, their parts and test points,
and how each is known on a board."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from engine.deduce import anatomy, whereabouts
from engine.deduce.deduction import Deduction
from engine.model.notes import PartNote, PointNote, StageNote
from kb.quantities import read_quantity, show


def stage_notes(deduction: Deduction) -> tuple[StageNote, ...]:
    """Each stage with what it feeds and governs, its test points and its parts."""
    feeds = _by_stage((feed.stage, feed.next) for feed in deduction.all(anatomy.Feed))
    points = _by_stage((point.stage, point.name) for point in deduction.all(anatomy.TestPoint))
    controls = _by_stage((own.stage, own.other) for own in deduction.all(anatomy.Control))
    parts = _by_stage((part.stage, part.name) for part in deduction.all(anatomy.Part))
    return tuple(
        StageNote(
            id=stage.name,
            says=stage.says,
            feeds=feeds[stage.name],
            points=points[stage.name],
            controls=controls[stage.name],
            family=stage.family,
            parts=parts[stage.name],
        )
        for stage in sorted(deduction.all(anatomy.Stage), key=lambda stage: stage.rank)
    )


def point_notes(deduction: Deduction, unit: whereabouts.Unit) -> tuple[PointNote, ...]:
    """Every test point with its stage, the side of the stage it lies on and the way to it."""
    ways = dict(whereabouts.ways(unit))
    return tuple(
        PointNote(point.name, point.stage, point.side, point.says, ways.get(point.name, ""))
        for point in deduction.all(anatomy.TestPoint)
    )


def part_notes(unit: whereabouts.Unit) -> tuple[PartNote, ...]:
    """Every part with what it is, its value and how it is known, in the topology's order; a value
    read off the unit goes before the topology's."""
    notes = []
    for name, stage, appearance in whereabouts.appearances(unit):
        part = unit.topology.stages[stage].parts[name]
        says = part.says or unit.knowledge.parts[part.kind].says
        listed = part.when_mains.get(f"{unit.volts:g}", part.value)
        if text := unit.values.get(name) or listed:
            quantity = read_quantity(text)
            says += f", {show(quantity.value, quantity.unit)}"
        if part.count > 1:
            says += f", {part.count} of them"
        looks = "; ".join(text for text in (appearance.way, appearance.looks) if text)
        notes.append(PartNote(name, stage, says, looks, appearance.marking, appearance.pin))
    return tuple(notes)


def _by_stage(pairs: Iterable[tuple[str, str]]) -> defaultdict[str, tuple[str, ...]]:
    """What is said of each stage, each once, in their order."""
    by_stage: defaultdict[str, tuple[str, ...]] = defaultdict(tuple)
    for stage, word in pairs:
        if word not in by_stage[stage]:
            by_stage[stage] += (word,)
    return by_stage
