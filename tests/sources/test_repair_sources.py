"""Does the plan of repairs that are tried agree with published troubleshooting?

D. Heckerman, J. S. Breese and K. Rommelse, "Decision-theoretic troubleshooting", CACM 38(3), 1995
(from memory). Under their assumptions (one fault, a repair is tried and its success seen at once,
costs do not hang on the order) the expected cost of repair of a sequence is

    ECR = sum over i of C_i x (1 - p_1 - ... - p_(i-1)),

the cost of each repair weighted by the odds that all earlier ones failed, and the least is reached
in falling order of p / C. Where something can be observed, too, the best is a tree of observations
and repairs; it is found here by trying every one.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping, Sequence
from functools import cache

import pytest

from engine.model.plan import Ask, Plan, Verdict
from engine.model.records import Model, Outcome, Remedy, Requirement, Rig, Test
from engine.planner import plan
from tests.models import NO_RIG, simple_test, tiny_model

Odds = Mapping[str, float]
Costs = Mapping[str, float]
Observations = Mapping[str, tuple[float, Odds]]
"""By name, the minutes and the odds of `bad` for each part's fault."""
NOTHING: Observations = {}

RUINOUS = 1e6
"""Minutes of a wrong verdict: as in the paper, the unit is worked on until it works."""


def tried(part: str) -> Test:
    """The repair of a part done, and the unit tried: it works or it still fails."""
    return Test(
        f"try-{part}", f"Renew {part} and try it", 0.0, (), "dead", f"mend-{part}", True,
        (Outcome("works", "works"), Outcome("fails", "still fails")), mends=f"keep-{part}",
    )  # fmt: skip


def repairs(odds: Odds, costs: Costs, seen: Observations = NOTHING) -> Model:
    """A unit whose tests are its repairs, and observations.

    A repair is kept for nothing once the unit works. There is a way out that cures nothing, since
    some remedy must always be nameable.
    """
    observed = {
        name: {f: {"bad": rows[f], "good": 1.0 - rows[f]} if 0 < rows[f] < 1
               else "bad" if rows[f] else "good" for f in odds}
        for name, (_, rows) in seen.items()
    }  # fmt: skip
    tests = [*map(tried, odds), *(simple_test(name, seen[name][0]) for name in seen)]
    rows = {
        f"try-{part}": {f: "works" if f == part else "fails" for f in odds} for part in odds
    }
    kept = [
        Remedy(f"keep-{p}", f"Leave {p} as it is", "repair", 0.0, (p,), requires=(_works(p),))
        for p in odds
    ]
    give_up = Remedy("give-up", "Give up", "refuse", 0.0, ())
    return tiny_model(
        odds, tests, rows | observed, remedies=[*kept, give_up],
        rigs=[NO_RIG, *(Rig(f"mend-{p}", costs[p], True) for p in odds)],
        wrong_verdict_minutes=RUINOUS,
    )  # fmt: skip


def _works(part: str) -> Requirement:
    return Requirement(f"try-{part}", {f"try-{part}": ("works",)}, "it works", strict=True)


def order(made: Plan) -> list[str]:
    """The repairs in the order in which a unit meets them that goes on failing."""
    found, name = [], made.root
    while isinstance(node := made.nodes[name], Ask):
        found.append(node.test.removeprefix("try-"))
        name = node.branches["fails"]
    return found


def closed_form(sequence: Sequence[str], odds: Odds, costs: Costs) -> float:
    """The paper's expected cost of repair of a sequence."""
    return sum(
        costs[part] * (1 - sum(odds[earlier] for earlier in sequence[:i]))
        for i, part in enumerate(sequence)
    )


WORKED = [
    ({"a": 0.5, "b": 0.3, "c": 0.2}, {"a": 20.0, "b": 6.0, "c": 10.0}, "bac", 6 + 14 + 2.0),
    ({"a": 0.25, "b": 0.45, "c": 0.2, "d": 0.1}, {"a": 4.0, "b": 12.0, "c": 2.0, "d": 5.0},
     "cabd", 2 + 3.2 + 6.6 + 0.5),
    ({"a": 0.1, "b": 0.2, "c": 0.3, "d": 0.4}, {"a": 1.0, "b": 3.0, "c": 7.0, "d": 20.0},
     "abcd", 1 + 2.7 + 4.9 + 8.0),
]  # fmt: skip


@pytest.mark.parametrize(("odds", "costs", "best", "total"), WORKED)
def test_repairs_are_tried_in_falling_order_of_odds_over_cost(
    odds: Odds, costs: Costs, best: str, total: float
) -> None:
    made = plan(repairs(odds, costs))
    assert order(made) == list(best)
    assert made.proof.expected_cost == pytest.approx(total)
    assert closed_form(best, odds, costs) == pytest.approx(total)


@pytest.mark.parametrize("seed", range(25))
def test_cost_is_the_closed_form_and_no_sequence_is_better(seed: int) -> None:
    rng = random.Random(seed)
    parts = "abcdef"[: rng.randint(2, 6)]
    drawn = [rng.uniform(0.05, 1.0) for _ in parts]
    odds = {part: share / sum(drawn) for part, share in zip(parts, drawn, strict=True)}
    costs = {part: rng.uniform(1.0, 30.0) for part in parts}
    made = plan(repairs(odds, costs))
    ratio = sorted(parts, key=lambda part: -odds[part] / costs[part])
    assert order(made) == ratio
    least = min(closed_form(way, odds, costs) for way in itertools.permutations(parts))
    assert closed_form(ratio, odds, costs) == pytest.approx(least)
    assert made.proof.expected_cost == pytest.approx(least)


def test_no_part_is_left_out_and_none_is_named_untried() -> None:
    """The last one is repaired, too: in a unit that works again that is seen, not inferred."""
    odds, costs, _, _ = WORKED[1]
    made = plan(repairs(odds, costs))
    assert sorted(order(made)) == sorted(odds)
    remedies = {n.remedy for n in made.nodes.values() if isinstance(n, Verdict)}
    assert remedies == {f"keep-{part}" for part in odds}


# ---- an observation beside the repairs ----


def best_tree(odds: Odds, costs: Costs, seen: Observations) -> float:
    """Least expected cost of any tree of observations and repairs, every one tried."""

    @cache
    def least(weights: tuple[tuple[str, float], ...], left: frozenset[str]) -> float:
        here = {part: weight for part, weight in weights if weight > 0}
        if not here:
            return 0.0
        mass = sum(here.values())
        ways = []
        for part in here:
            rest = tuple((p, w) for p, w in here.items() if p != part)
            ways.append(mass * costs[part] + least(rest, left))
        for name in left:
            minutes, bad = seen[name]
            parts = (
                tuple((p, w * (bad[p] if shown else 1 - bad[p])) for p, w in here.items())
                for shown in (True, False)
            )
            ways.append(mass * minutes + sum(least(part, left - {name}) for part in parts))
        return min(ways)

    return least(tuple(odds.items()), frozenset(seen))


def test_an_observation_worth_its_minutes_comes_first() -> None:
    """By repairs alone 22 minutes; two minutes of looking tell `b` from the rest. If it is bad, b
    is renewed; if not, a and then c, in falling order of odds over cost: 2 + 1.8 + 16 minutes."""
    odds, costs, _, alone = WORKED[0]
    seen = {"look": (2.0, {"a": 0.0, "b": 1.0, "c": 0.0})}
    made = plan(repairs(odds, costs, seen))
    assert made.proof.expected_cost == pytest.approx(2 + 0.3 * 6 + 0.7 * 20 + 0.2 * 10)
    assert made.proof.expected_cost == pytest.approx(best_tree(odds, costs, seen))
    assert made.proof.expected_cost < alone
    root = made.nodes[made.root]
    assert isinstance(root, Ask)
    assert root.test == "look"


def test_an_observation_dearer_than_what_it_saves_is_left_out() -> None:
    odds, costs, best, total = WORKED[0]
    made = plan(repairs(odds, costs, {"look": (9.0, {"a": 0.0, "b": 1.0, "c": 0.0})}))
    assert order(made) == list(best)
    assert made.proof.expected_cost == pytest.approx(total)


@pytest.mark.parametrize("seed", range(25))
def test_repairs_and_observations_together_cost_what_the_best_tree_costs(seed: int) -> None:
    rng = random.Random(100 + seed)
    parts = "abcd"[: rng.randint(2, 4)]
    drawn = [rng.uniform(0.05, 1.0) for _ in parts]
    odds = {part: share / sum(drawn) for part, share in zip(parts, drawn, strict=True)}
    costs = {part: rng.uniform(2.0, 30.0) for part in parts}
    sure = seed % 2 == 0
    seen = {
        name: (
            rng.uniform(0.5, 4.0),
            {p: rng.choice([0.0, 1.0] if sure else [0.0, 0.1, 0.8, 1.0]) for p in parts},
        )
        for name in ("look", "listen")
    }
    made = plan(repairs(odds, costs, seen))
    assert made.proof.expected_cost == pytest.approx(best_tree(odds, costs, seen), rel=1e-9)
