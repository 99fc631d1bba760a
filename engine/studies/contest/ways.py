"""Every order that the printed chart and the walk are held against, ready to work on units."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from engine.model.records import Model
from engine.readings.belief import Tables
from engine.studies.contest.oldhand import OldHand
from engine.studies.contest.orders import FIXED, Next, Order, Rank, Remedies
from engine.studies.trial.simulation import Way

Maker = Callable[[Model, Tables], Way]
"""From a model with its tables to someone who works by an order."""


def _freeze(rank: Rank, choose: Next) -> Maker:
    def making(model: Model, tables: Tables) -> Way:
        return Order(model, tables, Remedies.of(model, tables), rank(model, tables), choose)

    return making


ORDERS: Mapping[str, tuple[str, Maker]] = {
    "old hand": ("outside, contacts, light, split, one powered turn, parts", OldHand.of),
    **{name: (says, _freeze(rank, choose)) for name, (says, rank, choose) in FIXED.items()},
}
"""The orders by name: in words, and who works by them."""
