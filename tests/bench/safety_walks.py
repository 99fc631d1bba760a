"""Random walks of every shipped unit and of units made by hand, each step seen by the witness.

    python -m tests.bench.safety_walks --walks 100000 --seed 1
    python -m tests.bench.safety_walks --walks 2000 --only handmade --jobs 2

Half of the walks are on units made by hand, each on another; half go round the shipped topologies,
mains, depths and complaints. Walk n of a seed is the same whatever runs beside it. Ends with 1
where a breach was seen, and says for each kind how to see its first one again.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from tests.safety.fuzz_walk import Account, Key, handmade, shipped, shipped_keys, walked

BATCH = 250
"""Walks on one shipped unit before the next: reading a model takes as long as some walks."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Walks in a row, on one shipped unit or (None) on units made by hand."""

    first: int
    walks: int
    key: Key | None
    heedless: bool


def batches(walks: int, seed: int, only: str, heedless: bool) -> Iterator[Batch]:
    """All walks in batches, by turns made by hand and shipped."""
    keys = shipped_keys() if only != "handmade" else []
    for number, first in enumerate(range(0, walks, BATCH)):
        size = min(BATCH, walks - first)
        by_hand = only == "handmade" or (only == "all" and number % 2 == 0)
        turn = number // 2 if only == "all" else number
        key = None if by_hand else keys[turn % len(keys)]
        yield Batch(seed * 10_000_000 + first, size, key, heedless)


def account(batch: Batch) -> Account:
    """What happened on the walks of a batch."""
    total = Account()
    for seed in range(batch.first, batch.first + batch.walks):
        unit = handmade(seed) if batch.key is None else shipped(*batch.key)
        total.add(walked(unit, seed, heedless=batch.heedless))
    return total


def summed(done: Iterable[Account], walks: int) -> Account:
    """The account of all batches, with a line of progress on standard error after each."""
    total, began = Account(), time.monotonic()
    for part in done:
        total.add(part)
        so_far, breaches = total.counts["walks"], sum(total.kinds.values())
        left = (time.monotonic() - began) * (walks - so_far) / so_far / 60
        line = f"\r{so_far:7d} of {walks} walks, {breaches} breaches, {left:5.1f} min left "
        print(line, end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    return total


def table(total: Account) -> Iterator[str]:
    """What happened, then the breaches by kind with a first example of each."""
    for name, count in total.counts.most_common():
        yield f"  {name:24s} {count:9d}"
    yield f"  {'breaches':24s} {sum(total.kinds.values()):9d}"
    for kind, count in total.kinds.most_common():
        yield f"  {kind:24s} {count:9d}  in {total.walks_with[kind]} walks"
        yield f"      {total.examples[kind]}"


def main() -> int:
    """The command line; see the module."""
    parser = argparse.ArgumentParser(description="Random walks watched by a witness of the law.")
    parser.add_argument("--walks", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--only", choices=["all", "handmade", "shipped"], default="all")
    parser.add_argument(
        "--heedless", action="store_true", help="plans forget shorts: the walk must see to them"
    )
    told = parser.parse_args()
    work = list(batches(told.walks, told.seed, told.only, told.heedless))
    if told.jobs == 1:
        total = summed(map(account, work), told.walks)
    else:
        with multiprocessing.Pool(told.jobs) as pool:
            total = summed(pool.imap_unordered(account, work), told.walks)
    print("\n".join(table(total)))
    return 1 if total.kinds else 0


if __name__ == "__main__":
    sys.exit(main())
