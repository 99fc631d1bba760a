"""The charts of all shipped units, mains, depths and complaints, and charts by chance, witnessed.

    python -m tests.bench.safety_charts                # the best plans of some tenths of a second
    python -m tests.bench.safety_charts --by-hand 5000 # and charts of units made by hand

Ends with 1 where a breach was seen; each kind is told with its first place.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator

from tests.safety.drawn_charts import by_chance, drawn
from tests.safety.fuzz_walk import Unit, handmade, shipped, shipped_keys
from tests.safety.witness_chart import breaches
from tests.safety.witness_law import Document


def charts(effort: float, chances: int, by_hand: int) -> Iterator[tuple[Unit, Document]]:
    """The charts one after another, each with its unit."""
    for number, key in enumerate(shipped_keys()):
        unit = shipped(*key)
        yield unit, drawn(unit.model, effort)
        for seed in range(chances):
            yield unit, by_chance(unit.model, chances * number + seed)
    for seed in range(by_hand):
        unit = handmade(seed)
        yield unit, by_chance(unit.model, seed)


def main() -> int:
    """The command line; see the module."""
    parser = argparse.ArgumentParser(description="Charts read by a witness of the law.")
    parser.add_argument("--effort", type=float, default=4e8)
    parser.add_argument("--chances", type=int, default=5)
    parser.add_argument("--by-hand", type=int, default=500)
    told = parser.parse_args()
    kinds: Counter[str] = Counter()
    with_it: Counter[str] = Counter()
    examples: dict[str, str] = {}
    done = 0
    for unit, chart in charts(told.effort, told.chances, told.by_hand):
        done += 1
        found = breaches(unit.document, chart)
        kinds.update(breach.kind for breach in found)
        with_it.update({breach.kind for breach in found})
        for b in found:
            examples.setdefault(b.kind, f"{unit.name} at {b.place}: {b.says}")
        line = f"\r{done:6d} charts, {sum(kinds.values())} breaches  {unit.name:60s}"
        print(line, end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    print(f"  {done} charts, {sum(kinds.values())} breaches")
    for kind, count in kinds.most_common():
        print(f"  {kind:24s} {count:7d} in {with_it[kind]} charts; {examples[kind]}")
    return 1 if kinds else 0


if __name__ == "__main__":
    sys.exit(main())
