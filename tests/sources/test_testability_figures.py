"""Testability figures against a worked example of the standards' formulas.

Formulas: MIL-STD-2165 (1985) and IEEE 1522, from memory. The example is ours, worked by hand: rates
20 15 10 5 25 8 12 5 of eight faults, signatures 1000 1100 1100 0010 0110 0110 0110 0000 in four
tests. FFD .95; groups f1; f4; f2 f3; f5 f6 f7; FFI(1..3) .2632 .5263 1; mean size 2.2105 by rate;
FFI(1) by count 2/7.
"""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.model.records import Model, Remedy
from engine.studies.testability.figures import coverage
from engine.studies.testability.groups import ERRORS, Apart, ambiguity, signatures
from tests.models import simple_test, tiny_model

RATES = [20, 15, 10, 5, 25, 8, 12, 5]
SIGNATURES = ["1000", "1100", "1100", "0010", "0110", "0110", "0110", "0000"]
SOUND = "sound"


def worked() -> Model:
    """The example as a model; a sound unit fails no test."""
    rows = {f"f{n}": signature for n, signature in enumerate(SIGNATURES, 1)} | {SOUND: "0000"}
    priors = {f"f{n}": float(rate) for n, rate in enumerate(RATES, 1)} | {SOUND: 10.0}
    tests = [simple_test(f"t{n}", outcomes=("pass", "fail")) for n in range(4)]
    shown = {
        test.id: {fault: "fail" if row[n] == "1" else "pass" for fault, row in rows.items()}
        for n, test in enumerate(tests)
    }
    remedies = [Remedy(f"mend-{f}", f"Mend {f}", "repair", 5.0, (f,)) for f in rows if f != SOUND]
    remedies.append(Remedy("nothing", "Give it back", "none", 0.0, (SOUND,)))
    return tiny_model(priors, tests, shown, remedies=remedies)


@pytest.mark.parametrize("how", Apart)
def test_the_fraction_of_faults_detected(how: Apart) -> None:
    """By rate; f8 looks like a sound unit."""
    seen = coverage(worked())
    assert seen.by_rate[how].detected == pytest.approx(0.95)
    assert seen.unseen == ("f8",)


@pytest.mark.parametrize("how", Apart)
@pytest.mark.parametrize(("size", "fraction"), [(1, 0.2632), (2, 0.5263), (3, 1.0)])
def test_the_fraction_isolated_to_groups(how: Apart, size: int, fraction: float) -> None:
    """By rate, of the faults detected; tests that pass or fail for sure part surely, too."""
    assert coverage(worked()).by_rate[how].isolated[size] == pytest.approx(fraction, abs=5e-5)


def test_the_mean_size_of_a_group() -> None:
    """By rate."""
    assert coverage(worked()).by_rate[Apart.AT_ALL].mean_group == pytest.approx(2.2105, abs=5e-5)


def test_the_fraction_isolated_by_count() -> None:
    """f1 and f4 of the seven detected."""
    assert coverage(worked()).by_count[Apart.AT_ALL].isolated[1] == pytest.approx(2 / 7)


def test_the_ambiguity_groups() -> None:
    """Heaviest first; those of one fault are no ambiguity."""
    groups = coverage(worked()).groups
    assert [group.faults for group in groups] == [("f5", "f6", "f7"), ("f2", "f3")]
    assert groups[0].react == (("t1", "fail"), ("t2", "fail"))
    assert groups[1].rate == pytest.approx(0.25)


def test_every_detected_fault_is_in_one_group() -> None:
    """f8 in none."""
    members = sorted(itertools.chain(*ambiguity(signatures(worked()))))
    assert members == list(range(7))


def test_a_test_left_out_parts_nothing() -> None:
    """Without t0 f1 looks sound; without t1 the groups of f1 and of f2, f3 are one."""
    assert coverage(worked(), {"t0"}).unseen == ("f1", "f8")
    assert ("f1", "f2", "f3") in [group.faults for group in coverage(worked(), {"t1"}).groups]


odds = st.lists(
    st.tuples(st.integers(0, 20), st.integers(0, 20)).map(lambda p: (p[0] / 20, p[1] / 20)),
    min_size=1,
    max_size=6,
)


@given(odds)
def test_who_parts_two_faults_errs_no_more_than_the_bound_says(rows) -> None:
    """T. Kailath 1967: error of the best guess between two equally likely <= coefficient / 2.

    The best guess is worked out here over all answers that the tests can give together.
    """
    tests = [simple_test(f"t{n}") for n in range(len(rows))]
    table = {
        test.id: {"a": {"good": 1 - p, "bad": p}, "b": {"good": 1 - q, "bad": q}}
        for test, (p, q) in zip(tests, rows, strict=True)
    }
    found = signatures(tiny_model({"a": 1.0, "b": 1.0}, tests, table))
    error = 0.0
    for answers in itertools.product((0, 1), repeat=len(rows)):
        first = math.prod(p if bad else 1 - p for bad, (p, _) in zip(answers, rows, strict=True))
        other = math.prod(q if bad else 1 - q for bad, (_, q) in zip(answers, rows, strict=True))
        error += 0.5 * min(first, other)
    assert error <= found.likeness[0, 1] / 2 + 1e-9
    if found.separations(Apart.SURELY)[0, 1]:
        assert error <= ERRORS
