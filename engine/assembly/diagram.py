"""The unit as a block diagram: stages in the order power meets them, and their test points."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from engine.deduce import anatomy
from engine.deduce.deduction import Deduction
from engine.model.notes import PointNote, StageNote


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


def point_notes(deduction: Deduction) -> tuple[PointNote, ...]:
    """Every test point with its stage and the side of the stage it lies on."""
    return tuple(
        PointNote(point.name, point.stage, point.side, point.says)
        for point in deduction.all(anatomy.TestPoint)
    )


def _by_stage(pairs: Iterable[tuple[str, str]]) -> defaultdict[str, tuple[str, ...]]:
    """What is said of each stage, each once, in their order."""
    by_stage: defaultdict[str, tuple[str, ...]] = defaultdict(tuple)
    for stage, word in pairs:
        if word not in by_stage[stage]:
            by_stage[stage] += (word,)
    return by_stage
