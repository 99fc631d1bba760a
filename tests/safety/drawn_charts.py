"""Chart documents as they are printed: of the best plan found in a moment, or of any plan."""

from __future__ import annotations

import json

from engine.chart.drawing import document as chart_document
from engine.chart.drawing import draw_up
from engine.model.records import Model
from engine.planner import plan
from engine.studies.trial import confirm_keys, confirms
from tests.safety.random_planner import RandomPlanner
from tests.safety.witness_law import Document


def drawn(model: Model, effort: float) -> Document:
    """The chart of the best plan found with that effort."""
    return _read_back(chart_document(draw_up(model, plan(model, seconds=0.0, effort=effort))))


def confirmed(model: Model, effort: float) -> Document:
    """As `drawn`, with the confirm steps; finding those takes long on a model of many parts."""
    made = plan(model, seconds=0.0, effort=effort)
    chart = chart_document(draw_up(model, made))
    return _read_back(chart | confirm_keys(model, made, confirms(model, made), chart))


def by_chance(model: Model, seed: int) -> Document:
    """The chart of a plan made by chance: best plans are tame."""
    nothing: frozenset[str] = frozenset()
    made = RandomPlanner(seed, 6)(
        model, belief=None, state=None, withdrawn=nothing, tests_done=nothing
    )
    return _read_back(chart_document(draw_up(model, made)))


def _read_back(chart: Document) -> Document:
    """The document as a stranger gets it."""
    read: Document = json.loads(json.dumps(chart))
    return read
