"""The robustness report: how a plan fares when readings are mistaken and the priors are wrong.

Worlds are Dirichlet draws around the model's priors: `cases` is the number of closed cases the
priors are worth (few: worlds far from the model's). What awaits a fault does not hang on how often
it comes, so the expected cost in a world is the world's priors times the outlook of each fault:
exact for the printed chart, by simulation for the walk that plans anew.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from engine.chart.confirm import Confirmation, confirmed_outlook, confirms
from engine.chart.outlook import Outlook, outlook
from engine.model.plan import Plan, Planner
from engine.model.records import Model
from engine.readings.belief import prepare
from engine.readings.confusion import Floats, Readings
from engine.studies.trial.simulation import ReplanningWay, try_each_fault


@dataclass(frozen=True, slots=True)
class Spread:
    """A figure in the model's own world, and its least, mean and greatest over other worlds."""

    own: float
    least: float
    mean: float
    greatest: float


@dataclass(frozen=True, slots=True)
class Fare:
    """How one way of working fares: odds of the right remedy, bench minutes, cost."""

    accuracy: Spread
    minutes: Spread
    cost: Spread


@dataclass(frozen=True, slots=True)
class Robustness:
    """A plan under misreads, in the model's own world and in `worlds` others.

    `proved_cost` is for true readings. `chart` and `chart_with_confirm` are exact, `replanning` is
    simulated on `units` units.
    """

    worlds: int
    units: int
    proved_cost: float
    confirmed: Confirmation
    chart: Fare
    chart_with_confirm: Fare
    replanning: Fare


def robustness(
    model: Model,
    plan: Plan,
    planner: Planner,
    *,
    seed: int,
    worlds: int = 200,
    units: int = 2000,
    cases: float = 50.0,
) -> Robustness:
    """The report for a plan of a model; the same seed gives the same report."""
    prior = Readings.of(model).prior
    priors = draw_worlds(prior, worlds, cases, seed)
    confirm_steps = confirms(model, plan)
    checking = confirmed_outlook(model, plan, confirm_steps.confirms)
    walk = ReplanningWay(model, planner, prepare(model))
    walking = try_each_fault(model, walk, units=units, seed=seed)
    return Robustness(
        worlds=worlds,
        units=units,
        proved_cost=plan.proof.expected_cost,
        confirmed=confirm_steps,
        chart=_fare(outlook(model, plan), prior, priors),
        chart_with_confirm=_fare(checking, prior, priors),
        replanning=_fare(walking, prior, priors),
    )


def draw_worlds(prior: Floats, worlds: int, cases: float, seed: int) -> Floats:
    """Priors of `worlds` worlds, one a row: Dirichlet with mean `prior`. Impossible faults stay so.

    The standard deviation of a prior p is sqrt(p (1 - p) / (cases + 1)).
    """
    chance = np.random.default_rng(seed)
    priors = np.zeros((worlds, len(prior)))
    possible = prior > 0.0
    priors[:, possible] = chance.dirichlet(prior[possible] * cases, size=worlds)
    return priors


def _fare(prospect: Outlook, prior: Floats, priors: Floats) -> Fare:
    return Fare(
        accuracy=_spread(prospect.right, prior, priors),
        minutes=_spread(prospect.minutes, prior, priors),
        cost=_spread(prospect.cost, prior, priors),
    )


def _spread(each: Floats, prior: Floats, priors: Floats) -> Spread:
    over = priors @ each
    return Spread(float(prior @ each), float(over.min()), float(over.mean()), float(over.max()))
