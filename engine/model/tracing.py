"""Stages of which somebody has a drawing: tracing them costs nothing.

A tracing is an opening of the model that opens nothing: a stage is drawn once, and what only the
drawing shows can then be found. What is printed on the board, or known from a unit like it, spares
it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from engine.model.records import Model

TRACING = "tracing"


def stages(model: Model) -> tuple[str, ...]:
    """The stages that some test needs traced, in the model's order."""
    return tuple(opening.stage for opening in model.openings if opening.kind == TRACING)


def with_drawings(model: Model, stage_names: Iterable[str]) -> Model:
    """The model of a unit of which there is a drawing of these stages; else it stays as it was."""
    drawings = frozenset(stage_names)
    openings = tuple(
        replace(opening, minutes=0.0, says=f"{opening.says} (traced already)", how="")
        if opening.kind == TRACING and opening.stage in drawings and opening.minutes > 0
        else opening
        for opening in model.openings
    )
    return model if openings == model.openings else replace(model, openings=openings)
