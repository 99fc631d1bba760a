"""Pages to be read back: written by hand, random, and shipped."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import cache, partial
from pathlib import Path
from typing import Any

from engine import library, safetygate
from engine.chart import detours as ways_on
from engine.chart.detours import Detour
from engine.chart.drawing import document as chart_document
from engine.chart.drawing import draw_up
from engine.model.file import recall
from engine.model.records import Mains, Model
from engine.model.records import document as model_document
from engine.planner import plan
from render import page
from tests.safety.shop_models import random_model

Documents = tuple[dict[str, Any], dict[str, Any]]
DATE = "2026-11-25"
_SAFETY = Path(__file__).parents[1] / "safety"


def _planned(model: Model) -> Documents:
    chart = chart_document(draw_up(model, plan(model, seconds=0.0, effort=4e8)))
    return model_document(model), chart


def _lantern() -> Documents:
    model, chart = (
        json.loads((_SAFETY / f"gate-lantern.{kind}.json").read_text(encoding="utf-8"))
        for kind in ("model", "chart")
    )
    return model, chart


def _shipped(topology: str, depth: str) -> Callable[[], Documents]:
    return lambda: _planned(library.model(topology, mains=Mains(230.0, 50.0), depth=depth))


def _random(seed: int) -> Callable[[], Documents]:
    return lambda: _planned(random_model(seed))


_FIRST = library.topologies()[0].id
# three that differ most: with a driver, with a sensor, with neither
_DRAWN = ("buck-lamp", "capacitor-dropper-lamp", "light-controlled-lamp")
SOURCES: Mapping[str, Callable[[], Documents]] = {
    "lantern": _lantern,
    **{f"random-{seed}": _random(seed) for seed in range(6)},
    **{f"{name}-stage": _shipped(name, "stage") for name in _DRAWN},
    f"{_FIRST}-part": _shipped(_FIRST, "part"),
}


@cache
def documents(name: str) -> Documents:
    """The model and the chart document of a page."""
    model, chart = json.loads(json.dumps(SOURCES[name]()))
    return model, chart


@cache
def html(name: str) -> str:
    """The page."""
    return page.draw(*documents(name), date=DATE)


@cache
def detours(name: str) -> tuple[Detour, ...]:
    """The ways on from its checks, where they can't be done."""
    model, chart = documents(name)
    planner = safetygate.guard(partial(plan, seconds=0.0, effort=2e7))
    unit = recall(json.dumps(model), name)
    return ways_on.detours(unit, chart, planner, 0.02, lambda number, of: None)
