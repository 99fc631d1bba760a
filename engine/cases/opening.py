"""Opening a shop: which database is meant, that it is one of ours, and that it is up to date."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa
from platformdirs import user_data_path

from engine.cases import migration
from engine.cases.mishaps import in_words, trouble, unwritable
from engine.cases.shop import Shop
from engine.cases.tables import METADATA
from kb.trouble import TroubleError

Clock = Callable[[], datetime]

_BUSY_SECONDS = 20
"""How long a bench waits for its turn to write: a write takes milliseconds, so this is for a disk
that sleeps."""
_SQLITE, _POSTGRESQL = "sqlite", "postgresql"
_DRIVERS = {_SQLITE: "sqlite+pysqlite", _POSTGRESQL: "postgresql+psycopg"}


def own_place() -> Path:
    """The shop in the user's data folder."""
    return user_data_path("nextprobe", appauthor=False) / "shop.db"


def open_shop(place: str | Path | None, *, who: str, clock: Clock) -> Shop:
    """The shop at a file, at a `postgresql://` or `sqlite:///` address, or (None) the user's own.

    `who` is at the bench, `clock` gives the time with its zone. A database that is not there yet is
    made, an older one brought up to date. TroubleError CS101 to CS110 where that can't be.
    """
    address = _address(place)
    if address.drivername == _DRIVERS[_SQLITE]:
        _make_folder(address)
    name = _name(address)
    try:
        engine = _engine(address)
    except ModuleNotFoundError as wrong:
        raise trouble(
            "CS109", name, "the driver for PostgreSQL is not installed",
            'Install it into nextprobe\'s environment: pip install "psycopg[binary]"',
        ) from wrong  # fmt: skip
    with in_words(name):
        _bring_up_to_date(engine, name)
    return Shop(engine, name, who, lambda: _stamp(clock()))


def open_to_read(place: str | Path | None, *, who: str, clock: Clock) -> Shop:
    """As `open_shop`; a file that can't be written to is opened all the same, to be read.

    Where another program's last writing still lies beside such a file, and can't be read without
    writing, it is refused (CS105): it would look as if that had never been told.
    """
    try:
        return open_shop(place, who=who, clock=clock)
    except TroubleError as wrong:
        file = file_of(place)
        if wrong.troubles[0].code != "CS105" or file is None or not file.is_file():
            raise
        engine = sa.create_engine("sqlite+pysqlite://", creator=lambda: _to_read(file),
                                  poolclass=sa.NullPool)  # fmt: skip
        with in_words(str(file)), engine.connect() as connection:
            if migration.version(connection) != migration.HEAD:
                raise
        return Shop(engine, str(file), who, lambda: _stamp(clock()))


def _to_read(file: Path) -> sqlite3.Connection:
    """A connection that changes nothing, not even beside the file where nothing lies there
    (sqlite.org/uri.html, mode and immutable)."""
    beside = Path(f"{file}-wal")
    alone = not beside.exists() or beside.stat().st_size == 0
    way = "mode=ro&immutable=1" if alone else "mode=ro"
    return sqlite3.connect(f"{file.absolute().as_uri()}?{way}", uri=True)


def file_of(place: str | Path | None) -> Path | None:
    """The file of a shop; None for one on a server. TroubleError CS108."""
    address = _address(place)
    name = str(address.database)
    is_file = address.drivername == _DRIVERS[_SQLITE] and not name.startswith(("file:", ":memory:"))
    return Path(name) if is_file else None


def _stamp(now: datetime) -> str:
    return now.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def _address(place: str | Path | None) -> sa.URL:
    if place is None or isinstance(place, Path) or "://" not in place:
        path = own_place() if place is None else Path(place).expanduser()
        return sa.URL.create(_DRIVERS[_SQLITE], database=str(path))
    try:
        address = sa.make_url(place)
    except (sa.exc.ArgumentError, ValueError) as wrong:
        raise _no_address(place.partition("://")[0]) from wrong
    plain = {"postgres": _POSTGRESQL}.get(address.drivername, address.drivername.partition("+")[0])
    if plain not in _DRIVERS or not address.database:
        raise _no_address(plain)
    return address.set(drivername=_DRIVERS[plain])


def _no_address(kind: str) -> Exception:
    return trouble(
        "CS108", f"{kind}://…", "this is no address of a shop",
        "Name a file, or write postgresql://USER@HOST/DATABASE",
    )  # fmt: skip


def _name(address: sa.URL) -> str:
    """What the shop is called in messages: its file, or its address without a password."""
    if address.drivername == _DRIVERS[_SQLITE]:
        return str(address.database)
    return address.set(drivername=_POSTGRESQL).render_as_string(hide_password=True)


def _make_folder(address: sa.URL) -> None:
    path = Path(str(address.database))
    if str(address.database).startswith(("file:", ":memory:")):
        return
    try:
        path.absolute().parent.mkdir(parents=True, exist_ok=True)
    except OSError as wrong:
        raise unwritable(str(path), wrong.strerror or str(wrong)) from wrong


def _engine(address: sa.URL) -> sa.Engine:
    if address.drivername != _DRIVERS[_SQLITE]:
        return sa.create_engine(address, pool_pre_ping=True)
    engine = sa.create_engine(address, connect_args={"timeout": _BUSY_SECONDS})
    sa.event.listen(engine, "connect", _prepare)
    sa.event.listen(engine, "begin", _begin)
    return engine


def _prepare(connection, _record) -> None:  # type: ignore[no-untyped-def]
    """Each connection to SQLite: what is acknowledged is on the disk, and readers never wait."""
    connection.isolation_level = None  # transactions are begun by _begin, not by the driver
    for pragma in ("foreign_keys = on", "synchronous = full"):
        connection.execute(f"pragma {pragma}")
    if connection.execute("pragma journal_mode").fetchone() != ("wal",):
        # Refused at once where another program is at the new file just then, and not needed for
        # what is kept to be safe: whoever comes next does it.
        with contextlib.suppress(sqlite3.OperationalError):
            connection.execute("pragma journal_mode = wal")


def _begin(connection: sa.Connection) -> None:
    """Who is going to write asks for it at once: two who read first would block each other."""
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("begin immediate" if writes else "begin")


def _bring_up_to_date(engine: sa.Engine, name: str) -> None:
    with engine.connect() as connection:
        stamp = migration.version(connection)
        if stamp == migration.HEAD:
            return
        if stamp is None:
            _refuse_strange(connection, name)
        elif not migration.is_older(stamp):
            raise trouble(
                "CS104", name,
                f"this shop was made by a newer nextprobe (its tables are {stamp}, this program "
                f"knows them up to {migration.HEAD})",
                "Install that nextprobe here, too, or name another shop with --shop",
            )  # fmt: skip
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        migration.upgrade(connection)


def _refuse_strange(connection: sa.Connection, name: str) -> None:
    """A database with tables of somebody else is left alone."""
    tables = set(sa.inspect(connection).get_table_names())
    ours = {table.name for table in METADATA.sorted_tables}
    strange = tables if connection.dialect.name == _SQLITE else tables & ours
    if strange:
        raise trouble(
            "CS103", name,
            f"this is the database of another program (it holds {', '.join(sorted(strange)[:4])})",
            "Name a shop of nextprobe's with --shop, or one that is not there yet",
        )  # fmt: skip
