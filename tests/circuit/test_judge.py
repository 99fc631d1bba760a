"""Our solver against ngspice on a seeded sample of what derivations run.

`python -m tests.bench.solver_table` does the same on a larger sample, and times both.
"""

import pytest

from engine.circuit.job import judged, solved
from kb.language import circuit
from tests.circuit.judged_jobs import apart, cases, outcome

CASES = list(cases(powered=14, at_rest=30, seed=3))
SILENT: list[str] = []


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.says)
def test_solver_and_judge_read_the_same(case):
    """Every promised figure within its tolerance, and the same outcome where one is watched."""
    ours, theirs = ([maker(job)[0] for job in case.jobs] for maker in (solved, judged))
    if not all(theirs):  # the judge found no point of rest: it has no word here
        SILENT.append(case.says)
        assert len(SILENT) <= len(CASES) / 10
        return
    for job, own, due in zip(case.jobs, ours, theirs, strict=True):
        far = dict(apart(job.requests[0].kind, own, due))
        assert {name: share for name, share in far.items() if share > 1} == {}, (own, due)
    readings = [outcome(case, figures) for figures in (ours, theirs)]
    assert len({one and one.outcome for one in readings}) == 1


def test_the_sample_is_of_every_lamp_and_of_every_kind_of_reading():
    """Else the comparison would be of less than it says."""
    kinds = {job.requests[0].kind for case in CASES for job in case.jobs}
    assert kinds == {"wave", "ohms", "diode", "esr", "inductance"}
    assert {case.says.split()[0] for case in CASES} == set(circuit.circuits())
