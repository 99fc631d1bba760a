"""Models by what the shop has learnt from its closed cases."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from engine.cases import learning as counting
from engine.cases import lessons
from engine.model.records import Model
from kb.language import loader
from render.cli import knowledge
from render.cli.options import Depth, Mains

if TYPE_CHECKING:
    from engine.cases.shop import Shop
    from render.cli.briefing import Brief

BOTH = "both"
_STRENGTH = "closed-cases"
"""The number of the knowledge that says how many closed cases the book counts as."""


def models(
    topology: str, complaint: str | None, mains: Mains, kb: Path | None
) -> tuple[Model, Model, float]:
    """The model without a complaint, the one with it, and how many cases the book counts as."""
    usual = knowledge.topology_model(topology, mains, Depth.PART, None, kb)
    conditional = usual
    if complaint is not None:
        conditional = knowledge.topology_model(topology, mains, Depth.PART, complaint, kb)
    return usual, conditional, _strength(kb)


def learning(brief: Brief, shop: Shop) -> Brief:
    """The brief of a walk that goes by book and shop."""
    def learn(model: Model) -> Model:
        is_named = brief.topology is not None
        return by_both(
            model, replace(brief, topology=model.topology) if is_named else brief, shop
        )

    return replace(brief, learn=learn)


def by_both(model: Model, brief: Brief, shop: Shop) -> Model:
    """The model with shares and minutes as book and shop have them together; the same model where
    the shop has nothing to say of such units."""
    if brief.topology is None:
        return model
    counts = [
        lesson
        for lesson in (*lessons.own(shop), *lessons.foreign(shop))
        if lesson.topology == model.topology
    ]
    if not counts:
        return model
    usual = knowledge.topology_model(
        brief.topology, brief.mains, brief.depth, None, brief.kb, brief.without, brief.values,
        brief.having, brief.traced,
    )  # fmt: skip
    rows = counting.shares(usual, model, counts, _strength(brief.kb))
    paces = counting.paces(model, lessons.times(shop, model.topology))
    return counting.with_paces(counting.with_shares(model, rows), paces)


def _strength(kb: Path | None) -> float:
    """How many closed cases the book counts as."""
    return float(loader.read((kb,) if kb else ()).numbers[_STRENGTH].value)
