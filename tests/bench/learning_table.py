"""Does a shop that learns get to its verdicts in fewer minutes? Twenty simulated shops.

    python -m tests.bench.learning_table

Each shop's true shares are drawn from a Dirichlet distribution about the book's (the fewer counts,
the farther off); so many closed cases are drawn from them; then the plan by the book and the plan
by both are priced under the true shares: minutes and the price of wrong verdicts. The model is the
small gate lantern's, so that every plan is proved. The last column is a shop that is as the book
says: there learning can only cost.
"""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from engine.cases import learning
from engine.cases.learning import Lesson
from engine.model.file import read_model
from engine.model.plan import Ask, Plan, State, Verdict
from engine.model.records import Model
from engine.model.setup import minutes, start
from engine.planner import plan

LANTERN = Path(__file__).parents[1] / "safety" / "gate-lantern.model.json"
SHOPS = 20
STRENGTH = 8.0


def with_priors(model: Model, shares: dict[str, float]) -> Model:
    """The model with these shares."""
    return replace(model, faults=tuple(replace(f, prior=shares[f.id]) for f in model.faults))


def price(model: Model, tree: Plan) -> float:
    """What a plan costs on average where the model's shares are true."""
    begin = start(model)
    return sum(f.prior * _of(model, tree, tree.root, begin, f.id) for f in model.faults if f.prior)


def _of(model: Model, tree: Plan, name: str, bench: State, fault: str) -> float:
    node = tree.nodes[name]
    if isinstance(node, Ask):
        test = model.test(node.test)
        here = State(bench.opened | node.state.opened, node.state.supply, node.state.rig)
        odds = model.row(test.id, fault)
        return minutes(model, bench, here) + test.minutes + sum(
            p * _of(model, tree, node.branches[outcome], here, fault)
            for outcome, p in odds.items()
            if p > 0
        )  # fmt: skip
    if isinstance(node, Verdict):
        remedy = model.remedy(node.remedy)
        return remedy.minutes + (0.0 if fault in remedy.cures else model.wrong_verdict_minutes)
    return model.wrong_verdict_minutes  # a recheck: the plan did not see this coming


def lines() -> Iterator[str]:
    """The table."""
    book = read_model(LANTERN.read_text(encoding="utf-8"), "lantern")
    shares = {fault.id: fault.prior for fault in book.faults}
    by_book = plan(book)
    assert math.isclose(price(book, by_book), by_book.proof.expected_cost), "priced otherwise"
    head = "minutes a case saved by learning"
    yield f"{'true shares':<20} {'cases':>6} {head:>40} {'better/worse':>14}"
    for name, counts in (("far from the book", 2.0), ("near the book", 20.0), ("the book's", 0.0)):
        for cases in (5, 20, 80):
            saved = []
            for seed in range(SHOPS):
                chance = np.random.default_rng([seed, cases, int(counts)])
                ids = list(shares)
                true = dict(shares)
                if counts:
                    drawn = chance.dirichlet([counts * shares[one] for one in ids])
                    true = dict(zip(ids, map(float, drawn), strict=True))
                seen = Counter(chance.choice(ids, size=cases, p=[true[one] for one in ids]))
                told = [Lesson(book.topology, "", str(one), n) for one, n in seen.items()]
                rows = learning.shares(book, book, told, STRENGTH)
                both = plan(learning.with_shares(book, rows))
                really = with_priors(book, true)
                saved.append(price(really, by_book) - price(really, both))
            better = sum(one > 1e-9 for one in saved)
            worse = sum(one < -1e-9 for one in saved)
            mean = statistics.fmean(saved)
            spread = f"mean {mean:+.2f}, from {min(saved):+.2f} to {max(saved):+.2f}"
            yield f"{name:<20} {cases:>6} {spread:>40} {better:>10}/{worse}"


if __name__ == "__main__":
    for line in lines():
        print(line)
