"""The lessons of a shop: counts of its own closed cases, and of other shops' by weight.

What shops exchange, `nextprobe-counts/1`, holds numbers of cases by topology, complaint and fault,
and no name, word, time or number of a case.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Mapping
from typing import Any

import sqlalchemy as sa

from engine.cases.learning import Lesson, durations
from engine.cases.mishaps import trouble
from engine.cases.shop import Shop
from engine.cases.tables import CASES, LESSONS
from engine.documents.counts import FORMAT, CountRecord, CountsRecord, read_counts
from engine.documents.reading import MisfitError


def own(shop: Shop) -> tuple[Lesson, ...]:
    """Counts of the shop's closed cases with a confirmed fault; several faults share their case."""
    counts: Counter[tuple[str, str, str]] = Counter()
    query = sa.select(CASES.c.topology, CASES.c.complaint, CASES.c.faults)
    with shop.reading() as connection:
        for row in connection.execute(query.where(CASES.c.state == "closed")):
            for fault in row.faults:
                counts[row.topology, row.complaint or "", fault] += 1 / len(row.faults)  # type: ignore[assignment]
    return tuple(Lesson(*key, cases) for key, cases in sorted(counts.items()))


def foreign(shop: Shop) -> tuple[Lesson, ...]:
    """Counts of other shops, each times its weight."""
    with shop.reading() as connection:
        return tuple(
            Lesson(row.topology, row.complaint, row.fault, row.cases * row.weight)
            for row in connection.execute(sa.select(LESSONS).order_by(LESSONS.c.id))
        )


def times(shop: Shop, topology: str) -> tuple[tuple[str, float], ...]:
    """Each check of the topology's closed cases with the minutes it took by the clock."""
    query = sa.select(CASES.c.number).where(CASES.c.state == "closed")
    with shop.reading() as connection:
        numbers = connection.execute(query.where(CASES.c.topology == topology)).scalars().all()
    return tuple(pair for number in numbers for pair in durations(shop.case(number).happenings))


def document(shop: Shop) -> dict[str, Any]:
    """The shop's own counts, to hand on."""
    return CountsRecord(
        format=FORMAT,
        counts=tuple(
            CountRecord(topology=o.topology, complaint=o.complaint, fault=o.fault, cases=o.cases)
            for o in own(shop)
        ),
    ).plain()


def is_counts(plain: Any) -> bool:
    """Whether a decoded document says that it holds counts."""
    return isinstance(plain, Mapping) and plain.get("format") == FORMAT


def merge(shop: Shop, plain: Any, weight: float, source: str) -> int:
    """Keep another shop's counts, each case counting as `weight` of one's own; how many lines are
    new. The same document twice counts once, with the weight told last.

    TroubleError CS123 where it is no such document, or the weight is not above 0 and at most 1.
    """
    try:
        lines = read_counts(plain)
    except MisfitError as wrong:
        raise trouble("CS123", source, f"these are no counts ({wrong})",
                      "Give a file that nextprobe export --counts wrote") from wrong  # fmt: skip
    if not 0 < weight <= 1:
        raise trouble("CS123", source, f"a weight of {weight:g} can't be",
                      "Write one above 0, and 1 at most")  # fmt: skip
    text = json.dumps(lines.plain(), sort_keys=True)
    origin = hashlib.sha256(text.encode()).hexdigest()
    rows = [
        {
            "origin": origin, "at": shop.now(), "who": shop.who, "weight": weight,
            "topology": one.topology, "complaint": one.complaint, "fault": one.fault,
            "cases": one.cases,
        }
        for one in lines.counts
    ]  # fmt: skip
    with shop.writing() as connection:
        before = connection.execute(LESSONS.delete().where(LESSONS.c.origin == origin)).rowcount
        if rows:
            connection.execute(LESSONS.insert(), rows)
    return len(rows) - before
