"""Do walks keep the law of stored charge, whatever a person does and whatever is planned?

A hundred and fifty random walks; `python -m tests.bench.safety_walks` does a hundred thousand.
"""

from __future__ import annotations

import pytest

from engine import library
from tests.safety.fuzz_walk import Account, Unit, handmade, shipped, walked

BY_HAND, SHIPPED = 110, 16
TOPOLOGIES = [topology.id for topology in library.topologies()]


def keep_the_law(account: Account) -> None:
    """Fails with the first breach of each kind on these walks."""
    if account.examples:
        lines = [f"{kind}: {where}" for kind, where in account.examples.items()]
        pytest.fail("\n".join(lines), pytrace=False)


@pytest.mark.parametrize("tens", range(BY_HAND // 10))
def test_walks_of_units_made_by_hand_keep_the_law(tens: int) -> None:
    total = Account()
    for seed in range(10 * tens, 10 * tens + 10):
        total.add(walked(handmade(seed), seed))
    keep_the_law(total)


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_walks_of_shipped_units_keep_the_law(topology: str) -> None:
    total, unit = Account(), shipped(topology, 0, "stage", None)
    for seed in range(SHIPPED):
        total.add(walked(unit, seed))
    keep_the_law(total)


def test_walks_do_all_that_people_do() -> None:
    """A property of walks in which nothing happens proves nothing."""
    total = Account()
    for seed in range(1000, 1030):
        total.add(walked(handmade(seed), seed))
    happened = total.counts
    for what in ("undos", "resumes", "not mended", "beyond a verdict", "forged arrivals", "stops"):
        assert happened[what], what


def test_a_walk_is_the_same_each_time() -> None:
    unit: Unit = handmade(5)
    assert walked(unit, 5) == walked(unit, 5)
