"""What a control rail's reading means, swept: explanations with odds and the next check.

    python -m tests.bench.rail_sweep [--step 0.1] [--mains 230 120]

One line a reading from 0 to 6 V at the rail of `light-controlled-lamp`, as `nextprobe reading`
tells it with nothing else known. Faults that no reading here tells apart are added up under the
first of them. Where the next check changes, the line says so, and which explanation came or went;
the last lines say how far the odds move at most from one reading to the next.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

from engine import library, readings
from engine.evidence import Witness
from engine.evidence.meaning import Meaning, meaning
from engine.evidence.witness import committed
from engine.model import Mains

TOPOLOGY, TEST = "light-controlled-lamp", "volts-TP2"
MAINS = {"230": Mains(230.0, 50.0), "120": Mains(120.0, 60.0)}
ALIKE = 1e-3


@dataclass(frozen=True, slots=True)
class Point:
    """One reading: grouped odds, likeliest first, and what to do next."""

    volts: float
    odds: tuple[tuple[str, float], ...]
    next: str


def swept(volts: float, witness: Witness) -> Point:
    """What one reading means."""
    test = witness.model.test(TEST)
    answer = readings.read(f"{volts:.3f} V", test, witness.model.arrangement(test.supply))
    found = meaning(witness, answer, seconds=0.5)
    return Point(volts, grouped(found), found.next.test or f"done: {found.next.remedy}")


def grouped(found: Meaning) -> tuple[tuple[str, float], ...]:
    """Odds with faults that read alike (same factor) added up under the likeliest of them."""
    groups: list[list[object]] = []
    sums: list[float] = []
    for one in found.explanations:
        for place, (_, fits) in enumerate(groups):
            if abs(one.fits / float(str(fits)) - 1.0) < ALIKE:
                sums[place] += one.after
                break
        else:
            groups.append([one.fault, one.fits])
            sums.append(one.after)
    listed = [(str(name), odds) for (name, _), odds in zip(groups, sums, strict=True)]
    return tuple(sorted(listed, key=lambda pair: -pair[1]))


def why(before: Point, now: Point) -> str:
    """The explanation whose odds moved most between two readings."""
    old, new = dict(before.odds), dict(now.odds)
    moved = max(old.keys() | new.keys(), key=lambda f: abs(new.get(f, 0.0) - old.get(f, 0.0)))
    return f"{moved} {old.get(moved, 0.0):.0%} to {new.get(moved, 0.0):.0%}"


def apart(before: Point, now: Point) -> float:
    """Total variation between the odds of two readings."""
    old, new = dict(before.odds), dict(now.odds)
    return sum(abs(new.get(f, 0.0) - old.get(f, 0.0)) for f in old.keys() | new.keys()) / 2


def main() -> None:
    """Print a table for each mains."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--step", type=float, default=0.1)
    parser.add_argument("--mains", nargs="*", default=list(MAINS))
    told = parser.parse_args()
    for volts in told.mains:
        witness = committed(library.model(TOPOLOGY, mains=MAINS[volts]))
        print(f"{TOPOLOGY} at {volts} V, {TEST}")
        before: Point | None = None
        farthest = (0.0, 0.0)
        for number in range(round(6.0 / told.step) + 1):
            now = swept(number * told.step, witness)
            odds = ", ".join(f"{name} {p:.0%}" for name, p in now.odds[:4])
            print(f"{now.volts:5.2f} V  {odds:78} {now.next}")
            if before is not None:
                farthest = max(farthest, (apart(before, now), now.volts))
                if before.next != now.next:
                    print(f"         advice changes: {why(before, now)}")
            before = now
        print(f"the odds move by {farthest[0]:.0%} at most, at {farthest[1]:.2f} V\n")


if __name__ == "__main__":
    main()
