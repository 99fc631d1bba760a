"""Our solver beside ngspice: CPU time and differences on a seeded sample of what derivations run.

    python -m tests.bench.solver_table [POWERED] [AT_REST]

A row for each kind of reading: jobs; how many the solver gave up; milliseconds of CPU a job by each
maker, reading the netlist and making the figures included; the ratio; how many figures lie within
the promise (see `tests.circuit.judged_jobs`); the worst difference, 1 being as far as promised; and
how many outcomes differ. Then the cases beyond the promise by name.
"""

from __future__ import annotations

import resource
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from engine.circuit.job import Figures, Job, judged, solved
from engine.solver.solution import Unsolved
from tests.circuit.judged_jobs import Case, apart, cases, outcome

SEED = 11


@dataclass(slots=True)
class Row:
    """What was measured of one kind of reading."""

    jobs: int = 0
    given_up: int = 0
    ours: float = 0.0
    theirs: float = 0.0
    shares: list[tuple[float, str]] = field(default_factory=list)
    outcomes: int = 0


def seconds(maker: Callable[[Job], tuple[Figures, ...]], job: Job) -> tuple[float, Figures]:
    """CPU seconds of this process and its children, and the job's figures."""

    def spent() -> float:
        both = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
        return sum(one.ru_utime + one.ru_stime for one in both)

    begin = spent()
    figures = maker(job)[0]
    return spent() - begin, figures


def measure(row: Row, case: Case) -> None:
    """Runs a case by both makers and adds it to its row."""
    ours, theirs = [], []
    for job in case.jobs:
        row.jobs += 1
        try:
            taken, figures = seconds(solved, job)
        except Unsolved:
            row.given_up += 1
            return
        ours.append(figures)
        row.ours += taken
        taken, figures = seconds(judged, job)
        theirs.append(figures)
        row.theirs += taken
        if figures:
            far = apart(job.requests[0].kind, ours[-1], figures)
            row.shares += [(share, f"{case.says} {name}") for name, share in far]
    readings = [outcome(case, figures) for figures in (ours, theirs)]
    row.outcomes += readings[1] is not None and readings[0].outcome != readings[1].outcome


def table(powered: int, at_rest: int) -> Iterator[str]:
    """The table's lines."""
    rows: dict[str, Row] = {}
    for case in cases(powered, at_rest, SEED):
        measure(rows.setdefault(case.jobs[0].requests[0].kind, Row()), case)
    yield "kind        jobs  given up  ours ms  ngspice ms  ratio  within       worst  outcomes"
    for kind, row in sorted(rows.items()):
        within = sum(share <= 1 for share, _ in row.shares)
        worst = max(row.shares, default=(0.0, ""))[0]
        yield (
            f"{kind:10} {row.jobs:5} {row.given_up:9} {row.ours / row.jobs * 1e3:8.2f} "
            f"{row.theirs / row.jobs * 1e3:11.1f} {row.theirs / row.ours:6.1f}  "
            f"{within:4} of {len(row.shares):4} {worst:7.2f} {row.outcomes:9}"
        )
    for share, says in sorted((one for row in rows.values() for one in row.shares), reverse=True):
        if share > 1:
            yield f"  {share:.2f} {says}"


if __name__ == "__main__":
    counts = [int(word) for word in sys.argv[1:]] or [40, 60]
    for line in table(*counts):
        print(line, flush=True)
