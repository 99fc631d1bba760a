"""After a kill: is all that was acknowledged there, and is the database sound?"""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Callable

import psycopg
import pytest

from engine.cases.shop import Shop
from tests.cases.intakes import answer, standing

# After so many acknowledgements a bench is killed, two benches at once each time.
ROUNDS = ((1, 9), (7, 23))
Bench = Callable[[str], Shop]


def benches(place: str, after: tuple[int, ...]) -> list[tuple[int, int]]:
    """Case and answers last acknowledged of benches that write at once and are killed while they
    go on writing."""
    running = [
        subprocess.Popen(
            [sys.executable, "-m", "tests.cases.writer", place], stdout=subprocess.PIPE, text=True
        )
        for _ in after
    ]
    acknowledged = []
    for process, lines in zip(running, after, strict=True):
        assert process.stdout is not None
        line = ""
        for _ in range(lines):
            line = process.stdout.readline()
        process.kill()
        rest = process.stdout.read().splitlines()
        process.wait()
        # A last line that was cut short by the kill was acknowledged to nobody.
        whole = [one for one in (line, *rest) if len(one.split()) == 2]
        number, count = whole[-1].split()
        acknowledged.append((int(number), int(count)))
    return acknowledged


@pytest.mark.parametrize("after", ROUNDS, ids=str)
def test_what_was_acknowledged_is_there(
    place: str, at_bench: Bench, after: tuple[int, ...]
) -> None:
    """Of each case all answers up to the last told of, none half, at most one more."""
    at_bench("before").leave()
    told = benches(place, after)
    shop = at_bench("after")
    for number, count in told:
        case = shop.case(number)
        tests = [h.body["test"] for h in case.happenings]
        assert tests == [f"test {step}" for step in range(len(tests))]
        assert count <= len(tests)
        assert case.version == len(tests) + 1
    assert faults(place) == []


def test_another_bench_goes_on_where_one_was_killed(place: str, at_bench: Bench) -> None:
    """No lock is left behind."""
    at_bench("before").leave()
    ((number, _),) = benches(place, (3,))
    shop = at_bench("after")
    case = shop.case(number)
    events = [*case.standing.events, answer("after")]
    shop.keep(number, case.version, standing(events))
    assert shop.case(number).happenings[-1].who == "after"


def faults(place: str) -> list[str]:
    """What the database's own checks find wrong with it."""
    if place.startswith("postgresql"):
        with psycopg.connect(place) as connection:
            ours = "from pg_constraint where connamespace = current_schema()::regnamespace"
            rows = connection.execute(f"select conname {ours} and not convalidated").fetchall()
            # Each constraint is checked anew over all rows, not taken as it was when they came.
            for table, name in connection.execute(
                f"select conrelid::regclass::text, conname {ours} and contype in ('c', 'f')"
            ).fetchall():
                made = connection.execute(
                    f"select pg_get_constraintdef(oid) {ours} and conname = %s", (name,)
                ).fetchone()
                assert made is not None
                connection.execute(f"alter table {table} drop constraint {name}")
                connection.execute(f"alter table {table} add constraint {name} {made[0]}")
            connection.rollback()
            return [row[0] for row in rows]
    with sqlite3.connect(place) as connection:
        checks = connection.execute("pragma integrity_check").fetchall()
        strays = connection.execute("pragma foreign_key_check").fetchall()
    return [row[0] for row in checks if row[0] != "ok"] + [str(row) for row in strays]
