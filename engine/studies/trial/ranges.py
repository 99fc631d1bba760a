"""What a plan loses because minutes and shares are ranges, and the plan that loses least.

On each of some benches (`engine.studies.trial.benches`) the plan that stands is priced exactly and
held against the best plan for that bench. The best plan is searched for a limited time, so there
are two answers: what the plan `loses` to the best one known, and what it loses `at_most`, to the
bound that was proved. Where every search was closed they are the same.

Plans of nearly equal expected cost can differ in what they lose. `sturdy_plan` takes, of the plans
within a hundredth of the optimum, the one that loses least in 19 benches of 20. It tries the proved
plan, the best plans of other benches, near and far, and those that begin with the runners-up. The
proved plan gives way only to one that loses less on two sets of benches, each drawn for itself: on
one set chance alone picks now and then.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.model.plan import Ask, Plan
from engine.model.records import Model
from engine.planner import plan, runners_up
from engine.readings.confusion import Floats
from engine.studies.trial.benches import NEAR, draw_benches
from engine.studies.trial.ledger import Ledger
from engine.studies.trial.regrown import beginning_with, content, regrown

# How many benches are drawn, and the seconds that each may be planned for, where nobody says.
BENCHES = 20
SECONDS = 1.0
WITHIN = 0.01
"""Share of the optimum by which a plan may be dearer in expectation to be taken for what it loses
less."""
_RUNNERS_UP = 4
_DUST = 1e-6
"""How many second bests are drawn, and minutes under which plans are alike; of the algorithm."""


@dataclass(frozen=True, slots=True)
class Loss:
    """Minutes lost in half of the benches and in 19 of 20, and the same as shares of the best."""

    median: float
    in_19_of_20: float
    median_share: float
    share_in_19_of_20: float


@dataclass(frozen=True, slots=True)
class Ranges:
    """What a plan loses on `benches` others: to the best plan known, and at most.

    On `closed` of them the best plan was proved.
    """

    benches: int
    seed: int
    closed: int
    loses: Loss
    at_most: Loss


@dataclass(frozen=True, slots=True)
class Sturdy:
    """Of `of` plans within `within` of the optimum the one that loses least on two sets of benches.

    `gap_minutes` is what it costs more than the proved bound. `ranges` is what it loses on the
    second set, `first` what the plan of least expected cost does; `changed` tells whether they are
    two plans.
    """

    plan: Plan
    of: int
    within: float
    gap_minutes: float
    ranges: Ranges
    first: Ranges
    changed: bool


@dataclass(frozen=True, slots=True)
class Field:
    """Benches drawn, each with its best plan within the time."""

    seed: int
    benches: tuple[Model, ...]
    plans: tuple[Plan, ...]

    @classmethod
    def draw(cls, model: Model, many: int, seed: int, seconds: float) -> Field:
        """`many` benches, planned for `seconds` each."""
        benches = draw_benches(model, many, seed)
        return cls(seed, benches, tuple(plan(bench, seconds=seconds) for bench in benches))

    def costs(self, ledger: Ledger) -> Floats:
        """What a plan costs on each bench."""
        return np.array([ledger.cost(bench) for bench in self.benches])

    def best(self, costs_of: Sequence[Floats]) -> Floats:
        """The least cost known on each bench: of its own plan, or of any priced there."""
        own = np.array([one.proof.expected_cost for one in self.plans])
        least: Floats = np.min(np.stack([own, *costs_of]), axis=0)
        return least

    def ranges(self, costs: Floats, best: Floats) -> Ranges:
        """What a plan of these costs loses."""
        lower_bounds = np.array([one.proof.lower_bound for one in self.plans])
        proofs = sum(one.proof.proved_optimal for one in self.plans)
        return Ranges(
            len(self.plans), self.seed, proofs, _loss(costs, best),
            _loss(costs, np.minimum(lower_bounds, best)),
        )  # fmt: skip


def ranges(
    model: Model, base: Plan, *, many: int = BENCHES, seed: int = 1, seconds: float = SECONDS
) -> Ranges:
    """What a plan from the model's start loses on other benches; `seconds` for each of them.

    The same seed gives the same benches; where a search was not closed another machine may find
    another best plan. Raises TroubleError as the planner.
    """
    field = Field.draw(model, many, seed, seconds)
    costs = field.costs(Ledger.of(model, base))
    return field.ranges(costs, field.best([costs]))


def sturdy_plan(
    model: Model,
    base: Plan,
    *,
    many: int = BENCHES,
    seed: int = 1,
    seconds: float = SECONDS,
    within: float = WITHIN,
) -> Sturdy:
    """Of the plans within `within` of the optimum the one that loses least, `base` being the plan
    of least expected cost. Plans for three times `many` benches, `seconds` for each.
    """
    trial, judge = (Field.draw(model, many, seed + n, seconds) for n in (1, 0))
    near = (plan(bench, seconds=seconds) for bench in draw_benches(model, many, seed, NEAR))
    rivals = candidates(model, base, (*trial.plans, *near), seconds, within)
    ledgers = [Ledger.of(model, rival) for rival in rivals]
    trial_costs = [trial.costs(ledger) for ledger in ledgers]
    best = trial.best(trial_costs)
    judge_costs = [judge.costs(ledger) for ledger in ledgers]
    least = judge.best(judge_costs)
    trial_losses = [trial.ranges(costs, best).loses.in_19_of_20 for costs in trial_costs]
    again = [judge.ranges(costs, least).loses.in_19_of_20 for costs in judge_costs]
    at = _sturdiest(rivals, trial_losses, again)
    choice = rivals[at]
    return Sturdy(
        plan=choice,
        of=len(rivals),
        within=within,
        gap_minutes=choice.proof.expected_cost - choice.proof.lower_bound,
        ranges=judge.ranges(judge_costs[at], least),
        first=judge.ranges(judge_costs[0], least),
        changed=at > 0,
    )


def _sturdiest(rivals: Sequence[Plan], losses: Sequence[float], again: Sequence[float]) -> int:
    """The rival that loses least on both sets together, of those that lose less than the first on
    each; the first where there are none. Ties by expected cost."""
    better = [n for n in range(len(rivals)) if losses[n] < losses[0] - _DUST]
    better = [n for n in better if again[n] < again[0] - _DUST]
    return min(
        better, key=lambda n: (losses[n] + again[n], rivals[n].proof.expected_cost), default=0
    )


def candidates(
    model: Model, base: Plan, others: Sequence[Plan], seconds: float, within: float
) -> list[Plan]:
    """Plans within a share of the optimum, `base` first: the best of other benches put on this one,
    and those that begin with the runners-up. Those that say the same count once."""
    dearest = base.proof.lower_bound * (1.0 + within) + _DUST
    plans = [base]
    contents = {content(base)}
    root = base.nodes[base.root]
    first = root.test if isinstance(root, Ask) else ""
    beginnings = (
        beginning_with(model, one.test, base.proof, seconds)
        for one in runners_up(model, many=_RUNNERS_UP, seconds=_RUNNERS_UP * seconds)
        if one.test != first and one.expected_cost <= dearest
    )
    for rival in (*(regrown(model, other, base.proof) for other in others), *beginnings):
        text = content(rival)
        if text not in contents and rival.proof.expected_cost <= dearest:
            contents.add(text)
            plans.append(rival)
    return plans


def _loss(costs: Floats, best: Floats) -> Loss:
    """Minutes over the best; a plan that is itself the best loses nothing, dust aside."""
    loss = costs - best
    loss[np.abs(loss) < _DUST] = 0.0
    shares = loss / np.maximum(best, _DUST)
    minutes, share = (np.quantile(values, (0.5, 0.95)) for values in (loss, shares))
    return Loss(float(minutes[0]), float(minutes[1]), float(share[0]), float(share[1]))
