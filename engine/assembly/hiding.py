"""What several models have in common where nobody knows yet which of them a unit is: openings, the
stores behind them, records told by any of them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from typing import Protocol, TypeVar

from engine.model.notes import Method
from engine.model.records import Model, Opening, Proof, Store

__all__ = [
    "Proof", "chain", "cold_openings", "is_inside", "methods", "openings_of", "stores",
    "union", "way_to",
]  # fmt: skip

POINT = "the legs of every can and film block now in sight, one after the other; the highest counts"
_ACCESS = "access"
_OUTSIDE = "contacts"


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


_Record = TypeVar("_Record", bound=_HasId)


def union(lists: Iterable[Iterable[_Record]]) -> tuple[_Record, ...]:
    """Every record of any list, the first of each id, in their order."""
    records: dict[str, _Record] = {}
    for several in lists:
        for record in several:
            records.setdefault(record.id, record)
    return tuple(records.values())


def is_inside(model: Model, openings: Collection[str]) -> bool:
    """Whether any of these openings is into the unit itself."""
    return any(model.opening(name).inside for name in openings)


def cold_openings(model: Model) -> tuple[str, ...]:
    """What every test of the closed unit comes after: its cold checks, where there are any."""
    return tuple(opening.id for opening in model.openings if not opening.inside)


def openings_of(model: Model, names: Collection[str]) -> tuple[Opening, ...]:
    """The openings of these names, in the model's order."""
    return tuple(opening for opening in model.openings if opening.id in names)


def chain(models: Sequence[Model], behind: Iterable[str]) -> tuple[Opening, ...]:
    """The openings that lead to these, in order, the longest minutes of any model each.

    One that no model has is left out.
    """
    names = {name for name in behind if name}
    every = [
        opening for model in models for opening in model.openings
        if opening.inside and opening.kind == _ACCESS
    ]  # fmt: skip
    while more := {a for o in every if o.id in names for a in o.after} - names:
        names |= more
    steps: dict[str, Opening] = {}
    for opening in every:
        if opening.id not in names:
            continue
        first = steps.get(opening.id, opening)
        steps[opening.id] = replace(
            first,
            minutes=max(first.minutes, opening.minutes),
            after=tuple(dict.fromkeys((*first.after, *opening.after))),
            cautions=tuple(dict.fromkeys((*first.cautions, *opening.cautions))),
        )
    return tuple(sorted(steps.values(), key=lambda step: len(way_to(steps.values(), step.id))))


def way_to(steps: Iterable[Opening], name: str) -> tuple[str, ...]:
    """The opening and all that must be made before it, in the order they are made."""
    by_name = {step.id: step for step in steps}
    if name not in by_name:
        return ()
    way: dict[str, None] = {}
    for before in by_name[name].after:
        way.update(dict.fromkeys(way_to(by_name.values(), before)))
    return (*way, name)


def shown_by(store: Store, steps: Sequence[Opening]) -> str | None:
    """The first of these openings that brings a store within reach; empty where it is so from
    outside, None where none of them does."""
    if store.exposed_by is None:
        return steps[0].id if steps else None
    if not store.exposed_by:
        return ""
    return next((step.id for step in steps if step.id in store.exposed_by), None)


def store_behind(opening: str) -> str:
    """The name of what is measured for all stores that an opening shows first."""
    return f"capacitors-{opening or _OUTSIDE}"


def stores(models: Sequence[Model], steps: Sequence[Opening]) -> tuple[Store, ...]:
    """One store for each opening that shows any of any model: every capacitor that is in sight is
    measured, since nobody knows which they are. By the highest volts, to the lowest limit."""
    behind: dict[str, Store] = {}
    for model in models:
        for own in model.stores:
            opening = shown_by(own, steps)
            if opening is None:
                continue
            point = POINT if opening else own.point
            first = behind.get(opening, replace(own, part=store_behind(opening), point=point))
            behind[opening] = replace(
                first,
                max_volts=max(first.max_volts, own.max_volts),
                below=min(first.below, own.below),
                exposed_by=(opening,) if opening else (),
            )
    return tuple(behind.values())


def methods(models: Sequence[Model], used: Collection[str]) -> tuple[Method, ...]:
    """How what is used is done, as any model tells it."""
    own = []
    for method in union(model.methods for model in models):
        of = [m.of for model in models for m in model.methods if m.id == method.id]
        names = tuple(dict.fromkeys(n for several in of for n in several if n in used))
        if names:
            own.append(replace(method, of=names))
    return tuple(own)
