"""What a control rail's reading means, swept: explanations with odds and the next check.

    python -m tests.bench.rail_sweep [--step 0.25] [--mains 230 120]

From 0 to 6 V at the rail of `light-controlled-lamp`, as `nextprobe reading` tells it with nothing
else known, every twentieth of a volt; one line each `--step` is printed, and one wherever the
advice changes, with the explanation whose odds have moved farthest from what they were somewhere
under the advice before. Explanations that no reading here tells apart are added up under the
likeliest of them. The last lines say how far the odds move from one twentieth of a volt to the
next: as total variation (the share of all odds that changes hands), at most and in the middle, and
at most for a single explanation.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from engine import library
from engine.evidence import Joint, Witness
from engine.evidence.meaning import next_check
from engine.evidence.witness import load_witness
from engine.model.records import Mains
from engine.readings import bands, belief

TOPOLOGY, TEST = "light-controlled-lamp", "volts-TP2"
MAINS = {"230": Mains(230.0, 50.0), "120": Mains(120.0, 60.0)}
MOST_VOLTS, FINE_VOLTS = 6.0, 0.05
PLAN_SECONDS = 0.5
ALIKE = 1e-3
"""Factors that agree so closely are one explanation: no reading here tells them apart."""


@dataclass(frozen=True, slots=True)
class Point:
    """One reading: odds by fault, grouped odds likeliest first, and what to do next."""

    volts: float
    odds: Mapping[str, float]
    grouped: tuple[tuple[str, float], ...]
    next: str


def swept(volts: float, witness: Witness) -> Point:
    """What one reading means."""
    test = witness.model.test(TEST)
    answer = bands.read(f"{volts:.3f} V", test, witness.model.arrangement(test.supply))
    testimony = Joint(witness).weigh(answer)
    assert testimony is not None, "the rail's readings were derived"
    prior = {fault.id: fault.prior for fault in witness.model.faults}
    odds = belief.weigh(prior, testimony.factors)
    check = next_check(witness.model, test, answer.outcome, odds, PLAN_SECONDS)
    return Point(
        volts, odds, grouped(odds, testimony.factors), check.test or f"done: {check.remedy}"
    )


def grouped(
    odds: Mapping[str, float], factors: Mapping[str, float]
) -> tuple[tuple[str, float], ...]:
    """Odds with faults that read alike (same factor) added up under the likeliest of them."""
    groups: list[tuple[str, float]] = []
    sums: list[float] = []
    for fault in sorted(odds, key=lambda one: -odds[one]):
        for place, (_, fits) in enumerate(groups):
            if abs(factors[fault] - fits) <= ALIKE * fits:
                sums[place] += odds[fault]
                break
        else:
            groups.append((fault, factors[fault]))
            sums.append(odds[fault])
    listed = [(name, odds) for (name, _), odds in zip(groups, sums, strict=True)]
    return tuple(sorted(listed, key=lambda pair: -pair[1]))


def moved(before: Point, now: Point) -> tuple[str, float, float]:
    """The fault whose odds moved most between two readings, with its odds at both."""
    fault = max(now.odds, key=lambda one: abs(now.odds[one] - before.odds[one]))
    return fault, before.odds[fault], now.odds[fault]


def apart(before: Point, now: Point) -> float:
    """Total variation between the odds of two readings."""
    return sum(abs(now.odds[one] - before.odds[one]) for one in now.odds) / 2


def told(points: Sequence[Point], step: float) -> Iterator[str]:
    """The lines of a sweep: the table, where the advice changes and why, how far odds move."""
    every = max(1, round(step / FINE_VOLTS))
    under, changes = [points[0]], 0
    for number, now in enumerate(points):
        changed = now.next != under[-1].next
        if number % every == 0 or changed:
            odds = ", ".join(f"{name} {share:.0%}" for name, share in now.grouped[:4])
            yield f"{now.volts:5.2f} V  {odds:76} {now.next}"
        if changed:
            before = max(under, key=lambda one: abs(moved(one, now)[2] - moved(one, now)[1]))
            fault, was, share = moved(before, now)
            since = f"{before.volts:.2f} V"
            yield f"         advice changes: {fault} is at {share:.0%}, at {since} at {was:.0%}"
            under, changes = [], changes + 1
        under.append(now)
    pairs = list(pairwise(points))
    most = max(pairs, key=lambda pair: apart(*pair))
    middle = median(apart(*pair) for pair in pairs)
    single = max(pairs, key=lambda pair: abs(moved(*pair)[2] - moved(*pair)[1]))
    fault, was, share = moved(*single)
    yield f"the advice changes at {changes} readings"
    yield (
        f"a twentieth of a volt moves {middle:.1%} of the odds in the middle and "
        f"{apart(*most):.0%} at most, up to {most[1].volts:.2f} V; of a single explanation "
        f"{abs(share - was):.0%} at most ({fault}, {was:.0%} to {share:.0%}, "
        f"up to {single[1].volts:.2f} V)"
    )


def main() -> None:
    """Print a table for each mains."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--step", type=float, default=0.25)
    parser.add_argument("--mains", nargs="*", default=list(MAINS), choices=MAINS)
    asked = parser.parse_args()
    for volts in asked.mains:
        witness = load_witness(library.model(TOPOLOGY, mains=MAINS[volts]))
        count = round(MOST_VOLTS / FINE_VOLTS)
        points = [swept(number * FINE_VOLTS, witness) for number in range(count + 1)]
        print(f"{TOPOLOGY} at {volts} V, {TEST}")
        print(*told(points, asked.step), "", sep="\n")


if __name__ == "__main__":
    main()
