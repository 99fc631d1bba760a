"""When a store of charge is measured: the law that chart, walk and page obey.

Each store (`engine.model.records.Store`) is unknown, measured below its limit, or out of reach.

- A unit that comes in is unknown: it may come straight from use. Standing at mains or hvdc makes
  every store unknown again; so does a repair with its proofs, and time away from the bench.
- A store is *exposed* once an opening is made that brings its terminals within reach.
- A store is *due* at the dead arrangement when it is exposed and unknown: it is measured there and
  then, before anything else within its reach is touched. Nothing inside a closed unit is asked for.
- A store that is exposed and can't be measured is *out of reach*. The way on is a further opening
  that shows its terminals, or none: the unit is left alone and labelled charged.

So on every bench where hands may touch, what is known is just what is exposed (`known_at`), and a
plan needs no memory of it. `engine.audit` states the same law on its own, from the documents.

Common practice; the limit after IEC 60598-1 cl. 8.2.3. O(stores x openings) throughout.
"""

from __future__ import annotations

from collections.abc import Collection

from engine.model.plan import State
from engine.model.records import Model, Store

CHARGING = ("mains", "hvdc")
"""Energies that can fill a store beyond its limit. What a bench source of extra-low voltage leaves
behind is no more than what may be touched while it is on."""


def charges(model: Model, supply: str) -> bool:
    """Whether stores may be filled while the unit stands at this supply arrangement."""
    return model.arrangement(supply).energy in CHARGING


def stores_that_count(model: Model) -> tuple[Store, ...]:
    """The stores that can exceed their limit at all."""
    return tuple(store for store in model.stores if not store.max_volts <= store.below)


def is_opened(model: Model, openings: Collection[str]) -> bool:
    """Whether any of these openings opens the unit itself."""
    return any(opening.inside for opening in model.openings if opening.id in openings)


def is_exposed(model: Model, store: Store, openings: Collection[str]) -> bool:
    """Whether the store's terminals are within reach with these openings made."""
    if store.exposed_by is None:
        return is_opened(model, openings)
    return not store.exposed_by or any(opening in openings for opening in store.exposed_by)


def exposed_stores(model: Model, openings: Collection[str]) -> tuple[Store, ...]:
    """The stores within reach with these openings made, in the model's order."""
    return tuple(s for s in stores_that_count(model) if is_exposed(model, s, openings))


def known_at(model: Model, state: State) -> frozenset[str]:
    """The stores that are known to be low on a bench that was come to by the law."""
    if charges(model, state.supply):
        return frozenset()
    return frozenset(store.part for store in exposed_stores(model, state.opened))


def stores_due(model: Model, low: Collection[str], after: State) -> tuple[Store, ...]:
    """The stores to be measured on arriving at `after`, `low` being those known to be low."""
    if after.supply != model.dead_supply:
        return ()
    return tuple(store for store in exposed_stores(model, after.opened) if store.part not in low)


def showing(model: Model, store: Store, openings: Collection[str]) -> tuple[str, ...]:
    """The openings not yet made that would bring the store's terminals (better) within reach."""
    if store.exposed_by is None:
        ways = tuple(opening.id for opening in model.openings if opening.inside)
    else:
        ways = store.exposed_by
    return tuple(opening for opening in ways if opening not in openings)


def on_the_way_in(
    model: Model, low: Collection[str], openings: Collection[str]
) -> tuple[tuple[Store, str], ...]:
    """What a repair will come upon: each store still hidden and unknown, with the opening that
    shows it first, openings taken in the order of the model."""
    order = {opening.id: place for place, opening in enumerate(model.openings)}
    pairs = []
    for store in stores_that_count(model):
        if store.part in low or is_exposed(model, store, openings):
            continue
        ways = showing(model, store, openings)
        if ways:
            pairs.append((store, min(ways, key=order.__getitem__)))
    return tuple(pairs)
