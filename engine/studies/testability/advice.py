"""Which one addition to a unit's tests would save most, by planning with each of them.

Every proposal is planned with for a moment; the best few then get the time that is left. Savings
are differences of expected cost (bench minutes, remedy, and what a wrong verdict costs), so a test
that takes more minutes than it spares saves nothing. Where a plan could not be proved in the time,
`sure` is the least that is saved for certain: bound of the old plan less cost of the new one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from engine.model.plan import Ask, Plan, Proof
from engine.model.records import Model
from engine.planner import plan
from engine.studies.testability.figures import Coverage, coverage
from engine.studies.testability.groups import Apart
from engine.studies.testability.proposals import Offer, Proposal

FULLY = 5
"""How many of the best proposals get a longer search; of the algorithm."""
_QUICK = 0.25
"""Seconds at most for a first look at each proposal; of the algorithm."""
_NOTHING = 0.005
"""Minutes saved under which a proposal saves nothing: under what is shown."""
Tell = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Gain:
    """A proposal with what it brings.

    `saves` are expected minutes of cost, `sure` the least of it that is proved; `bench` the bench
    minutes alone, below 0 where it asks for more of them and ends better. `largest` is the number
    of faults in the largest group that is left, `isolated` FFI(1) by rate.
    """

    proposal: Proposal
    saves: float
    sure: float
    bench: float
    largest: int
    isolated: float
    detected: float
    groups_broken: int


@dataclass(frozen=True, slots=True)
class Advice:
    """What was tried, the plan as it is, and the proposals that help: by minutes and by groups."""

    tried: int
    now: Proof
    saving: tuple[Gain, ...]
    parting: tuple[Gain, ...]


def advise(offer: Offer, seconds: float, tell: Tell | None = None) -> Advice:
    """The advice, found in about `seconds`. Equal on every machine where all plans are proved."""
    extra = frozenset(test for p in offer.proposals for test in p.tests)
    plans = {"": plan(offer.model, withdrawn=extra, seconds=seconds / 3)}
    steps = len(offer.proposals) + FULLY
    quick = min(_QUICK, seconds / 3 / max(1, len(offer.proposals)))
    for number, proposal in enumerate(offer.proposals, 1):
        plans[proposal.id] = _plan(offer, proposal, extra, quick)
        if tell is not None:
            tell(number, steps)
    promising = sorted(
        (p for p in offer.proposals if _asks(plans[p.id], p)),
        key=lambda p: plans[p.id].proof.expected_cost,
    )
    for number, proposal in enumerate(promising[:FULLY], 1):
        plans[proposal.id] = _plan(offer, proposal, extra, seconds / 3 / FULLY)
        if tell is not None:
            tell(len(offer.proposals) + number, steps)
    now = _best_without(offer, plans)
    before = coverage(offer.model, extra)
    gains = [_gain(offer, p, extra, now, plans[p.id], before) for p in offer.proposals]
    saving = sorted((a for a in gains if a.saves > _NOTHING), key=lambda a: -a.saves)
    parting = sorted(
        (a for a in gains if a.groups_broken or a.detected > before.by_rate[Apart.AT_ALL].detected),
        key=lambda a: (a.largest, -a.isolated, -a.saves),
    )
    return Advice(len(gains), now, tuple(saving), tuple(parting))


def _plan(offer: Offer, proposal: Proposal, extra: frozenset[str], seconds: float) -> Plan:
    return plan(offer.model, withdrawn=extra - set(proposal.tests), seconds=seconds)


def _asks(plan_made: Plan, proposal: Proposal) -> bool:
    """Whether a plan asks for a test of the proposal."""
    return any(isinstance(n, Ask) and n.test in proposal.tests for n in plan_made.nodes.values())


def _best_without(offer: Offer, plans: Mapping[str, Plan]) -> Proof:
    """The best plan without any addition: also one made with an addition that it does not use."""
    own = [plans[p.id].proof for p in offer.proposals if not _asks(plans[p.id], p)]
    first = plans[""].proof
    best = min((first, *own), key=lambda proof: proof.expected_cost)
    is_optimal = first.proved_optimal
    return replace(best, lower_bound=first.lower_bound, proved_optimal=is_optimal)


def _gain(
    offer: Offer,
    proposal: Proposal,
    extra: frozenset[str],
    now: Proof,
    best_plan: Plan,
    before: Coverage,
) -> Gain:
    after = best_plan.proof
    figures = coverage(offer.model, extra - set(proposal.tests))
    is_asked = _asks(best_plan, proposal)
    return Gain(
        proposal,
        saves=max(0.0, now.expected_cost - after.expected_cost) if is_asked else 0.0,
        sure=max(0.0, now.lower_bound - after.expected_cost),
        bench=now.expected_minutes - after.expected_minutes if is_asked else 0.0,
        largest=largest(offer.model, figures),
        isolated=figures.by_rate[Apart.AT_ALL].isolated[1],
        detected=figures.by_rate[Apart.AT_ALL].detected,
        groups_broken=len({g.faults for g in before.groups} - {g.faults for g in figures.groups}),
    )


def largest(model: Model, figures: Coverage) -> int:
    """The number of faults in the largest ambiguity group, variants of one fault taken as one."""
    kinds = {fault.id: fault.variant_of or fault.id for fault in model.faults}
    return max((len({kinds[f] for f in group.faults}) for group in figures.groups), default=1)
