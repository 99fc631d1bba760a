"""Odds in a model document: priors, rows, misreads, and whether any test tells anything."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from engine.model.file.finding import Finding, Path
from engine.model.records import Model

TOLERANCE = 1e-6
"""Documents print rounded odds: sums and bounds hold within this."""
_EVEN = 1e-9
"""Odds that differ by no more are equal: rounding of floats."""


def odds_findings(model: Model) -> Iterator[Finding]:
    """Every trouble with probabilities in a model."""
    yield from _priors(model)
    yield from _rows(model)
    yield from _manners(model)
    yield from _misreads(model)
    yield from _cures(model)
    yield from _blind(model)


def _outside(path: Path, odds: float) -> Iterator[Finding]:
    if not 0 <= odds <= 1 + TOLERANCE:
        what = f"{odds:g} is no probability"
        yield Finding("MD131", path, what, "Write a number from 0 to 1")


def _priors(model: Model) -> Iterator[Finding]:
    if not model.faults:
        yield Finding("MD132", ("faults",), "there are no faults", "List at least one")
        return
    for n, fault in enumerate(model.faults):
        yield from _outside(("faults", n, "prior"), fault.prior)
        if fault.id == "other" and fault.prior == 0:
            what = "the prior of what is not listed is zero"
            why = "Something nobody listed is always possible"
            path = ("faults", n, "prior")
            yield Finding("MD136", path, what, "Give it a small prior", why)
    total = sum(fault.prior for fault in model.faults)
    if abs(total - 1) > TOLERANCE:
        what = f"the priors sum to {total:.9g}, not to 1"
        yield Finding("MD132", ("faults",), what, "Divide each prior by their sum")


def _rows(model: Model) -> Iterator[Finding]:
    for test in model.tests:
        rows = model.likelihood.get(test.id)
        if rows is None:
            what = f'test "{test.id}" has no odds'
            yield Finding("MD133", ("likelihood",), what, "Add a row for each fault")
            continue
        for fault in model.faults:
            path = ("likelihood", test.id, fault.id)
            if fault.id not in rows:
                what = f'test "{test.id}" has no row for fault "{fault.id}"'
                yield Finding("MD133", path, what, "Add what the test shows under this fault")
                continue
            yield from _row(path, rows[fault.id])


def _row(path: Path, row: Mapping[str, float]) -> Iterator[Finding]:
    for outcome, odds in row.items():
        yield from _outside((*path, outcome), odds)
    total = sum(row.values())
    if abs(total - 1) > TOLERANCE:
        what = f"the row sums to {total:.9g}, not to 1"
        yield Finding("MD134", path, what, "Divide each odd by their sum")


def _manners(model: Model) -> Iterator[Finding]:
    """Odds of manners, and whether the rows of a fault are the mean over its own."""
    mend = "Let the odds sum to 1, and each row be the mean over the manners"
    for fault in dict.fromkeys(manner.fault for manner in model.manners):
        own = [(n, one) for n, one in enumerate(model.manners) if one.fault == fault]
        first: Path = ("manners", own[0][0])
        for n, manner in own:
            if not manner.odds > 0:
                what = f'manner "{manner.id}" of fault "{fault}" has no odds'
                yield Finding("MD138", ("manners", n, "odds"), what, mend)
        total = sum(manner.odds for _, manner in own)
        if abs(total - 1) > TOLERANCE:
            what = f'the manners of fault "{fault}" sum to {total:.9g}, not to 1'
            yield Finding("MD138", first, what, mend)
            continue
        for test in dict.fromkeys(name for _, manner in own for name in manner.shows):
            row = model.likelihood.get(test, {}).get(fault, {})
            rows = [(manner.odds, manner.shows.get(test, row)) for _, manner in own]
            words = dict.fromkeys(word for _, one in rows for word in one) | dict.fromkeys(row)
            mean = {word: sum(p * one.get(word, 0.0) for p, one in rows) for word in words}
            if any(abs(mean[word] - row.get(word, 0.0)) > TOLERANCE for word in words):
                what = f'the manners of fault "{fault}" do not make its row at test "{test}"'
                yield Finding("MD138", first, what, mend)


def _misreads(model: Model) -> Iterator[Finding]:
    for n, test in enumerate(model.tests):
        for true, row in test.misread.items():
            path: Path = ("tests", n, "misread", true)
            for outcome, odds in row.items():
                yield from _outside((*path, outcome), odds)
            if sum(row.values()) > 1 + TOLERANCE:
                what = f"misreads sum to {sum(row.values()):.9g}, above 1"
                yield Finding("MD135", path, what, "What is read right takes the rest up to 1")


def _cures(model: Model) -> Iterator[Finding]:
    curable = {fault for remedy in model.remedies for fault in remedy.cures}
    for n, fault in enumerate(model.faults):
        if fault.id not in curable:
            what = f'no remedy cures fault "{fault.id}"'
            mend = 'Add it to the "cures" of a remedy, or add one that scraps or refuses'
            yield Finding("MD161", ("faults", n), what, mend)


def _blind(model: Model) -> Iterator[Finding]:
    """Two possible faults at least, and every test shows the same under all of them."""
    possible = [fault.id for fault in model.faults if fault.prior > 0]
    if len(possible) < 2:
        return
    for test in model.tests:
        rows = model.likelihood.get(test.id, {})
        if any(fault not in rows for fault in possible):
            return
        first = rows[possible[0]]
        if any(_differ(first, rows[fault]) for fault in possible[1:]):
            return
    what = f"no test tells any of the {len(possible)} possible faults from another"
    why = "There is nothing to plan"
    yield Finding("MD137", ("tests",), what, "Add a test that shows faults differently", why)


def _differ(one: Mapping[str, float], other: Mapping[str, float]) -> bool:
    outcomes = one.keys() | other.keys()
    return any(abs(one.get(o, 0.0) - other.get(o, 0.0)) > _EVEN for o in outcomes)
