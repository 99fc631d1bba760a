"""Run the readers and print the table."""

from __future__ import annotations

import argparse
import random
import resource
import sys
import time
from collections import Counter
from pathlib import Path

from kb.language import trees
from kb.language.loader import as_shipped
from tests.bench.fuzz import readers, shopreaders
from tests.bench.fuzz.mutation import spoilt
from tests.bench.fuzz.trial import Reader, tried

READERS = {one.name: one for one in (*readers.READERS, *shopreaders.READERS)}
_GIGABYTES = 6


def run(reader: Reader, number: int, seed: int, keep: Path | None) -> tuple[str, Counter[str]]:
    """Try so many inputs; the table's line and the faults by sort."""
    seeds = reader.seeds()
    ends: Counter[str] = Counter()
    faults: Counter[str] = Counter()
    slowest, begin = 0.0, time.monotonic()
    for count in range(number):
        rng = random.Random(f"{reader.name} {seed} {count}")
        seed_text = rng.choice(seeds)
        text = (
            seed_text if count < len(seeds) and count % 50 == 0 else spoilt(rng, seed_text, seeds)
        )
        before = time.monotonic()
        end, finding = tried(reader, text)
        slowest = max(slowest, time.monotonic() - before)
        ends[end] += 1
        if finding is None:
            continue
        faults[finding.sort] += 1
        if faults[finding.sort] <= 2 and keep is not None:
            name = f"{reader.name}-{seed}-{count}"
            (keep / f"{name}.txt").write_text(text, encoding="utf-8", errors="surrogatepass")
            (keep / f"{name}.why").write_text(
                f"{finding.sort}\n{finding.details}", encoding="utf-8", errors="backslashreplace"
            )
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    line = (
        f"{reader.name:<14}{number:>8}{ends['taken']:>8}{ends['refused']:>9}{ends['fault']:>7}"
        f"{slowest:>9.2f}{megabytes:>7}{time.monotonic() - begin:>9.1f}"
    )
    return line, faults


def main() -> None:
    """Print the tables asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.fuzz")
    parser.add_argument("reader", nargs="?", default="all", choices=("all", *READERS))
    parser.add_argument("number", nargs="?", type=int, default=200)
    parser.add_argument("seed", nargs="?", type=int, default=0)
    parser.add_argument("--keep", type=Path, help="folder for the findings")
    asked = parser.parse_args()
    as_shipped()
    trees._LETTERS_KEPT = sys.maxsize  # spoilt texts would drive the shipped ones out of the cache
    limit = _GIGABYTES << 30
    resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
    if asked.keep:
        asked.keep.mkdir(parents=True, exist_ok=True)
    print("reader          inputs   taken  refused faults  slowest     MB  seconds")
    all_faults: Counter[str] = Counter()
    for name in READERS if asked.reader == "all" else (asked.reader,):
        line, faults = run(READERS[name], asked.number, asked.seed, asked.keep)
        print(line, flush=True)
        for sort, count in faults.most_common():
            print(f"    {count:>5}  {sort}", flush=True)
        all_faults += faults
    sys.exit(1 if all_faults else 0)


if __name__ == "__main__":
    main()
