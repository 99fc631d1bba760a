"""What must have been shown on every path before a remedy is named or a repair tried.

A requirement of the model document (`requires` of remedies and tests) is met at a node if every
way there holds an answer that it lists. One that no test of the model could meet, or only such as
can't be done, is waived, unless it is strict. Linear in nodes x requirements.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from engine.audit.bench import Bench, Document
from engine.audit.breach import Breach
from engine.audit.charge import is_open
from engine.audit.shape import following, in_order

Answers = Collection[tuple[str, str]]
Met = Mapping[str, frozenset[tuple[str, int]]]
"""For each node the requirements met there, as pairs of whose they are and the how many-th: one
part may have to be measured and to be read free of a short."""


def always_met(bench: Bench, chart: Document, answers: Answers = ()) -> Met:
    """The requirements met at each node of a chart without circles, whichever way one came.

    `answers` are those given before the chart begins.
    """
    order = in_order(chart)
    assert order is not None
    everything = frozenset((owner, number) for owner, number, _ in _requirements(bench))
    first = frozenset(
        pair for test, outcome in answers for pair in _requirements_met(bench, test, outcome)
    )
    met_at: dict[str, frozenset[tuple[str, int]]] = dict.fromkeys(order, everything)
    met_at[chart["root"]] = first
    for name in order:
        node = chart["nodes"][name]
        if node["kind"] == "test":
            for outcome, follower in node["branches"].items():
                met_at[follower] &= met_at[name] | _requirements_met(bench, node["test"], outcome)
        else:
            for follower in following(node):
                met_at[follower] &= met_at[name]
    return met_at


def lacking(
    bench: Bench,
    owner: Document,
    requirements: Collection[tuple[str, int]],
    withdrawn: Collection[str] = frozenset(),
) -> Iterator[Document]:
    """The requirements of a remedy or test that are not among those met and count, where the tests
    `withdrawn` can't be done."""
    for number, requirement in enumerate(owner.get("requires") or ()):
        if (owner["id"], number) in requirements:
            continue
        possible = any(t in bench.tests and t not in withdrawn for t in requirement["by"])
        if possible or requirement.get("strict", False):
            yield requirement


def no_more_done(bench: Bench, opened: Collection[str]) -> frozenset[str]:
    """The tests that only a closed unit sees, where this one is open."""
    if not is_open(bench, opened):
        return frozenset()
    tests = bench.tests.values()
    return frozenset(t["id"] for t in tests if bench.arrangements[t["supply"]]["closed_only"])


def requirement_breaches(
    bench: Bench,
    chart: Document,
    answers: Answers = (),
    withdrawn: Collection[str] = frozenset(),
) -> Iterator[Breach]:
    """Remedies named and repairs tried before what they require was shown, by `answers` given
    before the chart begins or on it; the tests `withdrawn` can't be done."""
    met_at = always_met(bench, chart, answers)
    for name, here in met_at.items():
        node = chart["nodes"][name]
        if node["kind"] == "verdict":
            for requirement in lacking(bench, bench.remedies[node["remedy"]], here, withdrawn):
                what = f"{node['remedy']!r} is named, yet some way here has not shown"
                yield Breach("AU315", name, f"{what} {requirement['says'] or requirement['of']!r}")
        if node["kind"] == "test":
            for requirement in lacking(bench, bench.tests[node["test"]], here, withdrawn):
                what = f"{node['test']!r} is done, yet some way here has not shown"
                yield Breach("AU316", name, f"{what} {requirement['says'] or requirement['of']!r}")


def _requirements(bench: Bench) -> Iterator[tuple[str, int, Document]]:
    for owner in (*bench.remedies.values(), *bench.tests.values()):
        for number, requirement in enumerate(owner.get("requires") or ()):
            yield owner["id"], number, requirement


def _requirements_met(bench: Bench, test: str, outcome: str) -> frozenset[tuple[str, int]]:
    """What an answer meets."""
    return frozenset(
        (owner, number)
        for owner, number, r in _requirements(bench)
        if outcome in r["by"].get(test, ())
    )
