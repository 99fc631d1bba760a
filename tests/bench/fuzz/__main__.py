"""Run the readers and print the table."""

from __future__ import annotations

import argparse
import contextlib
import math
import random
import resource
import sys
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from kb.language import trees
from kb.language.loader import as_shipped
from tests.bench.fuzz import kernelreaders, readers, shopreaders
from tests.bench.fuzz.guidance import Lines
from tests.bench.fuzz.mutation import spoilt
from tests.bench.fuzz.trial import Finding, Reader, tried

_ROOMS = (readers, shopreaders, kernelreaders)
READERS = {reader.name: reader for room in _ROOMS for reader in room.READERS}
_GIGABYTES = 6
_KEPT_SHARE = 0.7
"""How often, where there are any, an input that reached new lines is spoilt further."""
_PRIMED = 150
"""Good texts that are read first, so that what they reach is nothing new."""
_LONGEST = 30_000
"""Letters of an input that is kept for that: longer ones take all the time."""


@dataclass(frozen=True, slots=True)
class Run:
    """How many inputs a reader is to be fed, from which seed; findings go into `keep`. `guided`:
    inputs that reached new lines are spoilt further, more often than the good texts. It ends after
    `seconds` in any case."""

    number: int
    seed: int
    keep: Path | None
    guided: bool
    seconds: float


def run(reader: Reader, asked: Run) -> tuple[str, Counter[str]]:
    """Try so many inputs; the table's line and the faults by sort."""
    seeds = reader.seeds()
    kept: list[str] = []
    lines = Lines() if asked.guided else None
    for text in random.Random(asked.seed).sample(seeds, min(_PRIMED, len(seeds))) if lines else ():
        with lines.watched():  # what good texts reach is nothing new
            tried(reader, text)
    ends: Counter[str] = Counter()
    faults: Counter[str] = Counter()
    slowest, begin = 0.0, time.monotonic()
    for count in range(asked.number):
        if time.monotonic() - begin > asked.seconds:
            break
        rng = random.Random(f"{reader.name} {asked.seed} {count}")
        text = _input(rng, count, seeds, kept)
        before = time.monotonic()
        with lines.watched() if lines else contextlib.nullcontext():
            end, finding = tried(reader, text)
        slowest = max(slowest, time.monotonic() - before)
        ends[end] += 1
        if lines and lines.fresh and len(text) < _LONGEST:
            kept.append(text)
        if finding is None:
            continue
        faults[finding.sort] += 1
        if faults[finding.sort] <= 2 and asked.keep is not None:
            _keep(asked.keep, f"{reader.name}-{asked.seed}-{count}", text, finding)
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    line = (
        f"{reader.name:<14}{ends.total():>8}{ends['taken']:>8}{ends['refused']:>9}"
        f"{ends['fault']:>7}{slowest:>9.2f}{megabytes:>7}{time.monotonic() - begin:>9.1f}"
    )
    return line + (f"   {len(kept)} reached new lines" if lines else ""), faults


def _input(rng: random.Random, count: int, seeds: tuple[str, ...], kept: list[str]) -> str:
    if count < len(seeds) and count % 50 == 0:
        return rng.choice(seeds)
    parent = rng.choice(kept if kept and rng.random() < _KEPT_SHARE else seeds)
    return spoilt(rng, parent, seeds)


def _keep(folder: Path, name: str, text: str, finding: Finding) -> None:
    (folder / f"{name}.txt").write_text(text, encoding="utf-8", errors="surrogatepass")
    (folder / f"{name}.why").write_text(
        f"{finding.sort}\n{finding.details}", encoding="utf-8", errors="backslashreplace"
    )


def main() -> None:
    """Print the tables asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.fuzz")
    parser.add_argument("reader", nargs="?", default="all", choices=("all", *READERS))
    parser.add_argument("number", nargs="?", type=int, default=200)
    parser.add_argument("seed", nargs="?", type=int, default=0)
    parser.add_argument("--keep", type=Path, help="folder for the findings")
    parser.add_argument("--guided", action="store_true", help="by the lines that inputs reach")
    parser.add_argument("--seconds", type=float, default=math.inf, help="end after so many")
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
        wanted = Run(asked.number, asked.seed, asked.keep, asked.guided, asked.seconds)
        line, faults = run(READERS[name], wanted)
        print(line, flush=True)
        for sort, count in faults.most_common():
            print(f"    {count:>5}  {sort}", flush=True)
        all_faults += faults
    sys.exit(1 if all_faults else 0)


if __name__ == "__main__":
    main()
