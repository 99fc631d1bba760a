"""All tables of the benchmarks, printed on the machine at hand.

    python -m tests.bench                  # every table, about six minutes
    python -m tests.bench --quick          # smaller and fewer models, about one minute
    python -m tests.bench exact streed     # some tables
    python -m tests.bench --models 20 exact

Random models are seeded 0, 1, 2 ..., so that two runs see the same ones. What is compared with
other libraries needs the extra `bench`.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from engine import library
from engine.model.records import Mains

MISSING = (
    "  left out: {library} is not installed; in a checkout, pip install -e '.[bench]' brings it"
)


@dataclass(frozen=True, slots=True)
class Extent:
    """How much to run."""

    quick: bool
    models: int


def exact(extent: Extent) -> Iterator[str]:
    """Seconds to the proof."""
    from tests.bench.planner_table import chain, dense, dense_set_up, exact_line

    sizes = [(40, 60)] if extent.quick else [(40, 60), (60, 80), (80, 100)]
    for faults, tests in sizes:
        for family in (chain, dense, dense_set_up):
            yield exact_line(family, faults, tests, extent.models, 30.0)
    if not extent.quick:
        yield exact_line(chain, 120, 150, extent.models, 30.0)


def anytime(extent: Extent) -> Iterator[str]:
    """Cost and proved bound when time runs out."""
    from tests.bench.planner_table import OPTIMA, anytime_line

    for seed in range(1 if extent.quick else len(OPTIMA)):
        yield anytime_line(seed, 2.0 if extent.quick else 10.0)


def shipped(extent: Extent) -> Iterator[str]:
    """The shipped topologies at both depths."""
    from tests.bench.planner_table import shipped_lines

    yield from shipped_lines(2.0 if extent.quick else 30.0)


def replan(extent: Extent) -> Iterator[str]:
    """The next question after leaving the plan, shipped topologies at both depths."""
    from tests.bench.replan_table import line

    for topology in library.topologies():
        for depth in ("stage", "part"):
            model = library.model(topology.id, mains=Mains(230.0, 50.0), depth=depth)
            yield line(f"{topology.id} {depth}", model, 2.0 if extent.quick else 10.0)


def dropped(extent: Extent) -> Iterator[str]:
    """Doing without a test."""
    from tests.bench.planner_table import dropped_line

    yield dropped_line(extent.models)


def streed(extent: Extent) -> Iterator[str]:
    """Optimal trees of pystreed on the same models."""
    from tests.bench.streed_table import line

    for faults, tests in ((12, 20), (16, 24)) if extent.quick else ((12, 20), (16, 24), (20, 30)):
        yield line(faults, tests, min(extent.models, 5))


def tree(extent: Extent) -> Iterator[str]:
    """A scikit-learn tree as a sequence of tests."""
    from tests.bench.tree_table import tree_line

    yield tree_line(extent.models)


def belief(extent: Extent) -> Iterator[str]:
    """One posterior update beside pgmpy."""
    from tests.bench.belief_table import lines

    yield from lines()


def robustness(extent: Extent) -> Iterator[str]:
    """Shipped charts under misreads and wrong priors."""
    from tests.bench.robustness_table import lines

    depths = ("stage",) if extent.quick else ("stage", "part")
    yield from lines(depths, 200 if extent.quick else 1000)


def repeats(extent: Extent) -> Iterator[str]:
    """What walks spend on doing tests again."""
    from tests.bench.repeats_table import lines

    yield from lines(1 if extent.quick else 4)


def paper(extent: Extent) -> Iterator[str]:
    """Printed charts: sheets and seconds."""
    from tests.bench.paper_table import lines

    yield from lines(tuple(note.id for note in library.topologies())[:1] if extent.quick else ())


def designs(extent: Extent) -> Iterator[str]:
    """Readings of designs held back that those known did not show."""
    from tests.bench.designs_table import lines

    for number, line in enumerate(lines()):
        if not extent.quick or number < 2:
            yield line


TABLES: dict[str, tuple[Callable[[Extent], Iterator[str]], str]] = {
    "exact": (exact, "exact plans; goals: 40 x 60 < 0.1 s, 60 x 80 < 1 s, 80 x 100 < 5 s (median)"),
    "anytime": (
        anytime,
        "300 faults, 300 tests, 10 s; goal: plan <= 2 % over the best, bound within 10 %",
    ),
    "shipped": (shipped, "shipped topologies; goal: proved in < 1 s at part depth"),
    "replan": (replan, "next question after leaving the plan; goal: < 50 ms for 99 in 100"),
    "dropped": (dropped, "doing without a test; it never lowers the cost"),
    "streed": (streed, "beside pystreed; goal: equal optimum, >= 5 times faster from 20 faults"),
    "tree": (tree, "beside a scikit-learn tree"),
    "belief": (belief, "posterior update; goal: <= 25 microseconds, equal to 1e-12"),
    "robustness": (robustness, "misreads and wrong priors"),
    "repeats": (repeats, "tests done again in walks: minutes, how often, right verdicts"),
    "paper": (paper, "charts laid out and printed"),
    "designs": (designs, "sampled designs: how surprising is another one"),
}


def main() -> None:
    """Print the tables asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("tables", nargs="*", metavar="TABLE", help=", ".join(TABLES))
    parser.add_argument("--quick", action="store_true", help="smaller and fewer models")
    parser.add_argument("--models", type=int, metavar="N", help="random models in each row")
    asked = parser.parse_args()
    unknown = [name for name in asked.tables if name not in TABLES]
    if unknown:
        parser.error(f"there is no table {unknown[0]}; choose among {', '.join(TABLES)}")
    extent = Extent(asked.quick, max(1, asked.models or (3 if asked.quick else 10)))
    for name in asked.tables or TABLES:
        rows, heading = TABLES[name]
        print(f"{name}: {heading}", flush=True)
        try:
            for row in rows(extent):
                print(row, flush=True)
        except ModuleNotFoundError as missing:
            print(MISSING.format(library=missing.name))


if __name__ == "__main__":
    sys.exit(main())
