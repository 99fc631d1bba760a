"""A shop's own minutes on a finished model: how quick its hands are moves the plan, nothing else.

What a factor scales: checks, openings, rigs, changes of supply, repairs. A
figure stands in place of the usual minutes and is not scaled. What it never touches: proofs, cold
checks, what a wrong verdict costs, what an end without a repair counts as, and every word and bound
of safety.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from engine.deduce import offers
from engine.model.records import Model, Opening, Remedy, Rig, Supply, Test
from kb.language.benchfile import BenchFile, Minutes

if TYPE_CHECKING:
    from engine.deduce.deduction import Deduction

_MENDING = frozenset({"repair", "downgrade"})
_DIGITS = 6  # so that 1.2 times 1.5 is written as 1.8


def of_shop(model: Model, deduction: Deduction, file: BenchFile | None) -> Model:
    """The model that was built of a deduction, with the minutes of a bench file if there is one."""
    if file is None:
        return model
    actions = {test.name: test.action for test in deduction.all(offers.Test)}
    return set_pace(model, file.says.minutes, actions)


def set_pace(model: Model, minutes: Minutes, actions: Mapping[str, str]) -> Model:
    """The model with a shop's minutes; `actions` tells what is done in each test, by its id."""
    if minutes == Minutes():
        return model
    factor = minutes.factor
    return replace(
        model,
        tests=tuple(_test(test, minutes, actions.get(test.id, "")) for test in model.tests),
        openings=tuple(_opening(opening, minutes, model.topology) for opening in model.openings),
        rigs=tuple(_rig(rig, factor) for rig in model.rigs),
        supply=_supply(model.supply, factor),
        remedies=tuple(_remedy(remedy, minutes, model.topology) for remedy in model.remedies),
    )


def _scale(usual: float, factor: float) -> float:
    return round(usual * factor, _DIGITS)


def _figure(figures: Mapping[str, float], topology: str, name: str) -> float | None:
    """What stands for this unit goes before what stands for all."""
    return figures.get(f"{topology}/{name}", figures.get(name))


def _test(test: Test, minutes: Minutes, action: str) -> Test:
    figure = minutes.actions.get(action)
    own = _scale(test.minutes, minutes.factor) if figure is None else figure
    return replace(test, minutes=own)


def _opening(opening: Opening, minutes: Minutes, topology: str) -> Opening:
    if not opening.inside:
        return opening
    figure = _figure(minutes.openings, topology, opening.id)
    own = _scale(opening.minutes, minutes.factor) if figure is None else figure
    return replace(opening, minutes=own)


def _rig(rig: Rig, factor: float) -> Rig:
    return replace(rig, minutes=_scale(rig.minutes, factor))


def _supply(supply: Supply, factor: float) -> Supply:
    changes = {
        before: {after: _scale(minutes, factor) for after, minutes in row.items()}
        for before, row in supply.minutes.items()
    }
    return replace(supply, minutes=changes)


def _remedy(remedy: Remedy, minutes: Minutes, topology: str) -> Remedy:
    figure = _figure(minutes.remedies, topology, remedy.id)
    if figure is not None:
        return replace(remedy, minutes=figure)
    if remedy.kind not in _MENDING:
        return remedy
    return replace(remedy, minutes=_scale(remedy.minutes, minutes.factor))
