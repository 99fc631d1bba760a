"""What a shop's closed cases say of its units: how often each fault, and how long each check.

Shares are counts of a Dirichlet distribution (`engine.readings.counts`). The book counts as
`strength` closed cases. Of a complaint, cases of other complaints move the shares first, before
over by how much likelier the complaint makes each fault; then those of the complaint itself are
added as they were counted. No case counts twice, and a fault that the book holds for possible never
falls to nothing.

    s(f)    = (strength * p(f) + n(f, other complaints)) / total
    p'(f)   = s(f) * p(f|c) / p(f), made to sum to 1
    a(f)    = strength * p'(f) + n(f, c)

Minutes are medians: of each check the median of log(minutes taken / minutes of the book) over
closed cases, pull towards the book as if that were `BOOK_TIMES` cases. A coffee break makes one
ratio large, and the median stays.
"""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from engine.cases.records import Happening
from engine.model.records import Model
from engine.readings.counts import interval

BOOK_TIMES = 5.0
"""Cases that the book's minutes count as: common practice, no source."""
_LONGEST = 240.0
"""Minutes: a longer gap is a night or a weekend, no work on one check."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """Cases of one fault of a topology under a complaint ("" for none); `cases` may be a part."""

    topology: str
    complaint: str
    fault: str
    cases: float


@dataclass(frozen=True, slots=True)
class Share:
    """A fault's share by the book, by the shop's own cases (their number), and by both, with the
    range in which it lies with odds of 95 of 100 (beta marginal)."""

    fault: str
    book: float
    cases: float
    both: float
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Pace:
    """Minutes of a check: the book's, the shop's median over `times`, and both."""

    test: str
    book: float
    times: int
    median: float
    both: float


def parent(model: Model) -> Mapping[str, str]:
    """Each fault's name in counts: variants of one fault are counted together."""
    return {fault.id: fault.variant_of or fault.id for fault in model.faults}


def shares(
    usual: Model, conditional: Model, lessons: Iterable[Lesson], strength: float
) -> tuple[Share, ...]:
    """Shares of faults by the book, the shop and both, the likeliest first.

    `usual` is the model without a complaint, `conditional` the one of the complaint asked for (the
    same, where none is asked for); `strength` is how many closed cases the book counts as.
    """
    plain, shares_now = _by_parent(usual), _by_parent(conditional)
    complaint = conditional.complaint or ""
    own, other = _cases(conditional.topology, complaint, lessons, shares_now)
    before = _carried_over(plain, shares_now, other, strength) if complaint else shares_now
    counts = {fault: strength * before[fault] + own[fault] for fault in shares_now}
    total = math.fsum(counts.values())
    rows = []
    for fault, count in counts.items():
        least, most = interval(count, total)
        rows.append(Share(fault, shares_now[fault], own[fault], count / total, least, most))
    return tuple(sorted(rows, key=lambda row: -row.both))


def with_shares(model: Model, rows: Iterable[Share]) -> Model:
    """The model with the priors of both; variants keep their parts of their fault."""
    both = {row.fault: row.both for row in rows}
    before, of = _by_parent(model), parent(model)
    sizes = defaultdict[str, int](int)
    for name in of.values():
        sizes[name] += 1
    faults = tuple(
        replace(
            fault,
            prior=both[of[fault.id]] * (
                fault.prior / before[of[fault.id]] if before[of[fault.id]]
                else 1 / sizes[of[fault.id]]
            ),
        )
        for fault in model.faults
    )  # fmt: skip
    return replace(model, faults=faults)


def durations(happenings: Iterable[Happening]) -> Iterable[tuple[str, float]]:
    """Each check that was answered with the minutes since what was told before, from the clock."""
    before: datetime | None = None
    for happening in happenings:
        now = datetime.fromisoformat(happening.at)
        is_answer = happening.body["event"] == "answered" and happening.withdrawn_at is None
        if before is not None and is_answer:
            minutes = (now - before).total_seconds() / 60
            if 0 < minutes < _LONGEST:
                yield happening.body["test"], minutes
        before = now


def paces(model: Model, times: Iterable[tuple[str, float]]) -> tuple[Pace, ...]:
    """Minutes of each check of the model that the shop has timed, those timed most first."""
    logs: dict[str, list[float]] = defaultdict(list)
    book = {test.id: test.minutes for test in model.tests}
    for test, minutes in times:
        if book.get(test, 0.0) > 0:
            logs[test].append(math.log(minutes / book[test]))
    rows = []
    for test, ratios in logs.items():
        middle, number = statistics.median(ratios), len(ratios)
        pull = middle * number / (number + BOOK_TIMES)
        here = book[test]
        rows.append(Pace(test, here, number, here * math.exp(middle), here * math.exp(pull)))
    return tuple(sorted(rows, key=lambda row: -row.times))


def with_paces(model: Model, rows: Iterable[Pace]) -> Model:
    """The model with the minutes of both."""
    minutes = {row.test: row.both for row in rows}
    tests = tuple(replace(t, minutes=minutes.get(t.id, t.minutes)) for t in model.tests)
    return replace(model, tests=tests)


def _by_parent(model: Model) -> dict[str, float]:
    priors: dict[str, float] = defaultdict(float)
    for fault in model.faults:
        priors[fault.variant_of or fault.id] += fault.prior
    return dict(priors)


def _cases(
    topology: str, complaint: str, lessons: Iterable[Lesson], faults: Mapping[str, float]
) -> tuple[dict[str, float], dict[str, float]]:
    """Cases by fault of the complaint itself, and of all others; without a complaint all are its
    own."""
    own, other = dict.fromkeys(faults, 0.0), dict.fromkeys(faults, 0.0)
    for lesson in lessons:
        if lesson.topology == topology and lesson.fault in faults:
            mine = not complaint or lesson.complaint == complaint
            (own if mine else other)[lesson.fault] += lesson.cases
    return own, other


def _carried_over(
    plain: Mapping[str, float], now: Mapping[str, float], other: Mapping[str, float], weight: float
) -> dict[str, float]:
    """The complaint's shares after the cases of other complaints."""
    after = {}
    for fault, share in now.items():
        book = plain.get(fault, 0.0)
        here = weight * book + other[fault]
        after[fault] = share * here / (weight * book) if book > 0 else share
    whole = math.fsum(after.values())
    return {fault: share / whole for fault, share in after.items()}
