"""The unit as a block diagram: stages in the order power meets them, and their test points."""

from __future__ import annotations

from engine.deduce.deduction import Deduction
from engine.model.notes import PointNote, StageNote


def stage_notes(deduction: Deduction) -> tuple[StageNote, ...]:
    """Each stage with what it feeds and governs, its test points and its parts."""
    stages = sorted(deduction.of("stage"), key=lambda s: s.number("rank"))
    return tuple(
        StageNote(
            id=stage.text("name"),
            says=stage.text("says"),
            feeds=_of(deduction, "feeds", stage.text("name"), "next"),
            points=_of(deduction, "point", stage.text("name"), "name"),
            controls=_of(deduction, "controls", stage.text("name"), "other"),
            family=stage.text("family"),
            parts=_of(deduction, "part", stage.text("name"), "name"),
        )
        for stage in stages
    )


def point_notes(deduction: Deduction) -> tuple[PointNote, ...]:
    """Every test point with its stage and the side of the stage it lies on."""
    return tuple(
        PointNote(p.text("name"), p.text("stage"), p.text("side"), p.text("says"))
        for p in deduction.of("point")
    )


def _of(deduction: Deduction, kind: str, stage: str, field: str) -> tuple[str, ...]:
    """What facts of that kind say of the stage, each once, in their order."""
    values = (f.text(field) for f in deduction.of(kind) if f.text("stage") == stage)
    return tuple(dict.fromkeys(values))
