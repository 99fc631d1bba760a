"""Supposes a fault, with a rig and a supply, and lets the rules carry it through the unit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from engine.deduce import anatomy
from engine.deduce.chaining import Chainer
from engine.deduce.facts import Claim, Fact, Findings, fact, views_of
from engine.deduce.grounding import Instance, concluded_kinds, ground, relevant_kinds
from kb.language.knowledge import Knowledge
from kb.language.schema import Rule
from kb.trouble import Place, Trouble, TroubleError

MEND = "mend"
BRIDGE, _SHORT = "bridge", "short"
"""What a rig does that renews the part it is fitted to: whatever was wrong with that is over."""

MOVING = frozenset({"condition", "supply", "rigged", "scene", "supposed"})
"""What a supposition moves; all other facts of a unit stand in every one."""


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
    """A supposed fault: how each faulty part acts; nothing means all parts are sound.

    `unlisted` is the light that something unlisted leaves the unit, empty for what is listed.
    """

    id: str
    acts: tuple[tuple[str, str], ...] = ()
    unlisted: str = ""


@dataclass(frozen=True, slots=True)
class Settlement:
    """The value each quantity has under a supposal, and the findings that led to it."""

    values: Mapping[tuple[str, str], str]
    claims: Mapping[tuple[str, str], Fact] = field(compare=False)
    findings: Findings = field(compare=False)


def scenes(knowledge: Knowledge, preferences: Iterable[str]) -> tuple[str, ...]:
    """Every scene word's value: the first chosen one where there is one, else its own first."""
    choices = tuple(preferences)
    return tuple(
        next((value for value in choices if value in word.values), word.values[0])
        for word in knowledge.scenes.values()
    )


class Unit:
    """One unit whose structure stands while faults are supposed in it and trials made of it.

    Its rules are joined with that structure once; a supposition moves the rest. Of the rules, those
    alone are run that what is sought can depend on.
    """

    def __init__(
        self,
        knowledge: Knowledge,
        rules: Iterable[Rule],
        places: Mapping[str, Place],
        structure: Iterable[Fact],
    ) -> None:
        self._knowledge = knowledge
        self._ranks = ranks(knowledge)
        self._rules, self._places, self._structure = tuple(rules), places, tuple(structure)
        self._healthy = {
            part.name: fact("condition", part=part.name, acts="healthy")
            for part in views_of(anatomy.Part, self._structure)
        }
        self._packages = {
            part.name: part.package for part in views_of(anatomy.Part, self._structure)
        }
        self._across = {own.part: own.other for own in views_of(anatomy.Alongside, self._structure)}
        self._claims = _claims(knowledge, self._ranks, Findings(self._structure, {}, frozenset()))
        self._chainers: dict[frozenset[str], Chainer] = {}
        self._needed: dict[frozenset[str] | None, frozenset[str]] = {}

    def suppose(
        self, supposal: Supposal, trial: Trial, goals: frozenset[str] | None = None
    ) -> Settlement:
        """Run the rules for one supposal under one trial and settle every quantity claimed.

        With `goals` only kinds of fact that those depend on are sure to be concluded.
        """
        acts = {
            part: how for part, how in supposal.acts
            if not any(self._overcomes(does, on, part, how) for does, on in trial.rig)
        }
        facts = [
            fact("condition", part=name, acts=acts[name]) if name in acts else healthy
            for name, healthy in self._healthy.items()
        ]
        facts.append(fact("supply", energy=trial.energy, feeds=trial.feeds))
        facts.extend(fact("rigged", does=does, on=on) for does, on in trial.rig)
        # a shorted part across another is a bridge that nobody has fitted
        facts.extend(
            fact("rigged", does=BRIDGE, on=self._across[part])
            for part, how in acts.items() if part in self._across and how == _SHORT
        )  # fmt: skip
        facts.extend(
            fact("scene", **{"is": value}) for value in scenes(self._knowledge, trial.scene)
        )
        if supposal.unlisted:
            facts.append(fact("supposed", **{"is": "unlisted"}, light=supposal.unlisted))
        findings = self._chainer(goals).run(facts)
        return settle(self._knowledge, self._ranks, findings, self._claims)

    def _overcomes(self, does: str, on: str, part: str, how: str) -> bool:
        """Whether what a rig does to one part ends how a part acts: whoever renews a chip renews
        the switch in it."""
        word = self._knowledge.doings.get(does)
        if does == MEND:
            return on in (part, self._packages.get(part))
        return on == part and word is not None and how in word.overcomes

    def _chainer(self, goals: frozenset[str] | None) -> Chainer:
        kinds = self._needed.get(goals)
        if kinds is None:  # the same few sets are sought in thousands of suppositions
            kinds = (
                concluded_kinds(self._rules)
                if goals is None
                else relevant_kinds(self._rules, goals)
            )
            self._needed[goals] = kinds
        if kinds not in self._chainers:
            rules = [rule for rule in self._rules if concluded_kinds((rule,)) & kinds]
            instances = ground(rules, self._structure, MOVING | concluded_kinds(self._rules))
            self._chainers[kinds] = self._chainer_of(instances)
        return self._chainers[kinds]

    def _chainer_of(self, instances: Iterable[Instance]) -> Chainer:
        return Chainer(instances, self._places, self._structure)


Ranks = Mapping[str, Mapping[str, int]]


def ranks(knowledge: Knowledge) -> Ranks:
    """The place of each value among those of its quantity, the gravest first."""
    return {
        name: {value: rank for rank, value in enumerate(quantity.values)}
        for name, quantity in knowledge.quantities.items()
    }


Claims = Mapping[tuple[str, str], tuple[int, Claim]]
"""Of each quantity at each place the gravest claim, with its rank."""


def settle(
    knowledge: Knowledge, ranks: Ranks, findings: Findings, standing: Claims | None = None
) -> Settlement:
    """The gravest claim about each thing holds. TroubleError for a value no quantity has.

    `standing` are the gravest claims among the facts that stand in every run, where they are
    worked out already.
    """
    best = _claims(knowledge, ranks, findings, standing)
    return Settlement(
        {key: str(claim.value) for key, (_, claim) in best.items()},
        {key: claim.fact for key, (_, claim) in best.items()},
        findings,
    )


def _claims(
    knowledge: Knowledge, ranks: Ranks, findings: Findings, standing: Claims | None = None
) -> Claims:
    """The gravest claims, the first of equals; with `standing`, of what is beyond these."""
    best: dict[tuple[str, str], tuple[int, Claim]] = dict(standing or {})
    facts = findings.facts if standing is None else findings.facts[findings.standing:]
    for item in facts:
        if item.kind not in ranks:
            continue
        claim = Claim.of(item)
        rank = None if claim.value is None else ranks[item.kind].get(claim.value)
        if rank is None or claim.at is None:
            raise _no_claim(knowledge, findings, item)
        key = (item.kind, claim.at)
        if key not in best or rank < best[key][0]:
            best[key] = (rank, claim)
    return best


def _no_claim(knowledge: Knowledge, findings: Findings, claim: Fact) -> TroubleError:
    cause = findings.causes.get(claim)
    rule = cause.rule if cause is not None else ""
    return TroubleError(
        Trouble(
            "KB305",
            knowledge.place("rules", rule),
            f"Rule '{rule}' concludes '{claim}', which claims no value of '{claim.kind}'",
            f"Name what it is `at`, and as `is` one of: "
            f"{', '.join(knowledge.quantities[claim.kind].values)}",
        )
    )


def value(knowledge: Knowledge, settlement: Settlement, quantity: str, at: str) -> str:
    """The settled value of a quantity, or what holds where no rule claims any."""
    return settlement.values.get((quantity, at), knowledge.quantities[quantity].otherwise)
