"""Supposes a fault, with a rig and a supply, and lets the rules carry it through the unit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from engine.deduce.chaining import Chainer
from engine.deduce.facts import Fact, Findings, fact
from kb.knowledge import Knowledge


@dataclass(frozen=True, slots=True)
class Trial:
    """What the unit is put through: supply, rig and surroundings.

    `feeds` names what a bench source feeds (rail or string), empty for the unit's own contacts.
    """

    energy: str
    feeds: str = ""
    rig: tuple[tuple[str, str], ...] = ()
    scene: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Supposal:
    """A supposed fault: how each faulty part acts; nothing means all parts are sound."""

    id: str
    acts: tuple[tuple[str, str], ...] = ()
    unlisted: bool = False


@dataclass(frozen=True, slots=True)
class Settled:
    """The value each quantity has under a supposal, and the findings that led to it."""

    values: Mapping[tuple[str, str], str]
    claims: Mapping[tuple[str, str], Fact] = field(compare=False)
    findings: Findings = field(compare=False)


def scenes(knowledge: Knowledge, chosen: Iterable[str]) -> tuple[str, ...]:
    """Every scene word's value: the chosen one where there is one, else its first."""
    wanted = set(chosen)
    return tuple(
        next((value for value in word.values if value in wanted), word.values[0])
        for word in knowledge.scenes.values()
    )


def suppose(
    knowledge: Knowledge,
    chainer: Chainer,
    unit: Iterable[Fact],
    supposal: Supposal,
    trial: Trial,
) -> Settled:
    """Run the rules for one supposal under one trial and settle every quantity claimed."""
    unit = tuple(unit)
    acts = dict(supposal.acts)
    facts = list(unit)
    for part in unit:
        if part.kind == "part":
            name = part.text("name")
            facts.append(fact("condition", part=name, acts=acts.get(name, "healthy")))
    facts.append(fact("supply", energy=trial.energy, feeds=trial.feeds))
    facts.extend(fact("rigged", does=does, on=on) for does, on in trial.rig)
    facts.extend(fact("scene", **{"is": value}) for value in scenes(knowledge, trial.scene))
    if supposal.unlisted:
        facts.append(fact("supposed", **{"is": "unlisted"}))
    return settle(knowledge, chainer.run(facts))


def settle(knowledge: Knowledge, findings: Findings) -> Settled:
    """The gravest claim about each thing holds."""
    best: dict[tuple[str, str], tuple[int, Fact]] = {}
    for found in findings.facts:
        quantity = knowledge.quantities.get(found.kind)
        if quantity is None:
            continue
        rank = list(quantity.values).index(found.text("is"))
        key = (found.kind, found.text("at"))
        if key not in best or rank < best[key][0]:
            best[key] = (rank, found)
    return Settled(
        {key: claim.text("is") for key, (_, claim) in best.items()},
        {key: claim for key, (_, claim) in best.items()},
        findings,
    )


def value(knowledge: Knowledge, settled: Settled, quantity: str, at: str) -> str:
    """The settled value of a quantity, or what holds where no rule claims any."""
    return settled.values.get((quantity, at), knowledge.quantities[quantity].otherwise)
