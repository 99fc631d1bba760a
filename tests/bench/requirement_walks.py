"""Charts of every shipped unit, and random walks, held to what must be measured before a verdict.

    python -m tests.bench.requirement_walks                        # 10,000 walks
    python -m tests.bench.requirement_walks --walks 500 --seed 3 --jobs 2
    python -m tests.bench.requirement_walks --charts --effort 1e9  # all topologies, mains, depths,
                                                                   # complaints

Walks go round the shipped units in batches; walk n of a seed is the same whatever runs beside it,
but for plans that a busy machine leaves shorter. Ends with 1 where a breach was seen.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
from collections.abc import Iterator
from dataclasses import dataclass

from tests.safety.drawn_charts import drawn
from tests.safety.fuzz_walk import MAINS, Key, shipped, shipped_keys
from tests.safety.measured import Measured, chart_breaches, knowing
from tests.safety.required_walks import Tally, walked

BATCH = 100
"""Walks on one unit before the next: reading a model takes as long as some walks."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Walks in a row on one unit."""

    key: Key
    first: int
    walks: int


def batches(walks: int, seed: int) -> Iterator[Batch]:
    """All walks, part depths first, as verdicts name parts there."""
    keys = sorted(shipped_keys(), key=lambda key: key[2])
    for number, first in enumerate(range(0, walks, BATCH)):
        size = min(BATCH, walks - first)
        yield Batch(keys[number * 7 % len(keys)], seed * 10_000_000 + first, size)


def tallied(batch: Batch) -> Tally:
    """What happened on the walks of a batch."""
    total = Tally()
    for seed in range(batch.first, batch.first + batch.walks):
        total.add(walked(batch.key, seed))
    return total


def charted(effort: float) -> Iterator[tuple[Key, list[str]]]:
    """Every shipped chart with what is wrong with it."""
    for key in shipped_keys():
        model = shipped(*key).model
        law = Measured(model, knowing(key[0], MAINS[key[1]]))
        found = chart_breaches(law, drawn(model, effort))
        yield key, [f"{key} at {b.place}: {b.kind}: {b.says}" for b in found]


def _charts(effort: float) -> int:
    done, wrong = 0, list[str]()
    for key, found in charted(effort):
        done += 1
        wrong += found
        print(f"\r{done:4d} charts, {len(wrong)} breaches  {key!s:80s}", end="", file=sys.stderr)
    print(f"\n  {done} charts, {len(wrong)} breaches", *wrong[:20], sep="\n  ")
    return 1 if wrong else 0


def _walks(walks: int, seed: int, jobs: int) -> int:
    total = Tally()
    with multiprocessing.Pool(jobs) as pool:
        for part in pool.imap_unordered(tallied, batches(walks, seed)):
            total.add(part)
            told = f"{total.counts['walks']:6d} of {walks}, {len(total.breaches)} breaches"
            print(f"\r{told}", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    for name, count in total.counts.most_common():
        print(f"  {name:24s} {count:8d}")
    print(f"  {'breaches':24s} {len(total.breaches):8d}", *total.breaches[:20], sep="\n  ")
    return 1 if total.breaches else 0


def main() -> int:
    """The command line; see the module."""
    parser = argparse.ArgumentParser(description="What must be measured before a verdict.")
    parser.add_argument("--walks", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--charts", action="store_true")
    parser.add_argument("--effort", type=float, default=4e8)
    told = parser.parse_args()
    if told.charts:
        return _charts(told.effort)
    return _walks(told.walks, told.seed, told.jobs)


if __name__ == "__main__":
    sys.exit(main())
