"""A shop on SQLite and on PostgreSQL, so that a test is asked of both."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import psycopg
import pytest

from engine.cases.opening import open_shop
from engine.cases.shop import Shop
from tests.cases.server import postgresql

_COUNT = itertools.count()


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """A PostgreSQL server for all tests of this process."""
    with postgresql() as address:
        yield address


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """An address where no shop is yet."""
    if request.param == "sqlite":
        return str(tmp_path / "shop.db")
    # A schema each, for a database each would be copied file by file.
    address = request.getfixturevalue("server")
    name = f"shop{next(_COUNT)}"
    with psycopg.connect(f"{address}/postgres", autocommit=True) as connection:
        connection.execute(f"create schema {name}")
    return f"{address}/postgres?options=-csearch_path%3D{name}"


class Ticking:
    """A clock that moves on by a second whenever it is read."""

    def __init__(self) -> None:
        self.seconds = itertools.count()

    def __call__(self) -> datetime:
        """The time, from a made-up noon on."""
        return datetime.fromtimestamp(1_800_000_000 + next(self.seconds), UTC)


@pytest.fixture
def at_bench(place: str) -> Iterator[Callable[[str], Shop]]:
    """Opens the same shop for a named person, as often as it is asked."""
    shops: list[Shop] = []
    clock = Ticking()

    def opened(who: str) -> Shop:
        shops.append(open_shop(place, who=who, clock=clock))
        return shops[-1]

    yield opened
    for shop in shops:
        shop.leave()


@pytest.fixture
def shop(at_bench: Callable[[str], Shop]) -> Shop:
    """A shop with Ann at the bench."""
    return at_bench("Ann")
