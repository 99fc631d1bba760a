"""A shop's database from one version to the next, by Alembic; `versions` holds the steps.

`HEAD` is the version that this program reads and writes. A shop that has it is opened without
Alembic being loaded at all.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

if TYPE_CHECKING:
    from alembic.config import Config
    from alembic.script import ScriptDirectory

HEAD = "np0002"
VERSION_TABLE = "nextprobe_version"
_HERE = Path(__file__).parent
# Any number will do, as long as every program takes the same: it is the name of the lock.
_LOCK = 0x6E70
_POSTGRESQL = "postgresql"


def version(connection: sa.Connection) -> str | None:
    """The version that a database says it has; None where it says nothing."""
    if not sa.inspect(connection).has_table(VERSION_TABLE):
        return None
    column: sa.ColumnClause[str] = sa.column("version_num")
    return connection.execute(sa.select(column).select_from(sa.table(VERSION_TABLE))).scalar()


def is_older(stamp: str | None) -> bool:
    """Whether this program has steps from that version to its own."""
    return stamp is None or (stamp != HEAD and stamp in _steps())


def upgrade(connection: sa.Connection, target: str = HEAD) -> None:
    """Bring the database up to `target` within the connection's transaction, all steps or none.

    Of several programs that come at once one does it; the others find it done.
    """
    from alembic.runtime.environment import EnvironmentContext

    if connection.dialect.name == _POSTGRESQL:
        connection.execute(sa.text(f"select pg_advisory_xact_lock({_LOCK})"))
    if version(connection) == target:
        return
    config, script = _script()

    def steps(stamp: Any, context: object) -> Any:
        return script._upgrade_revs(target, stamp)

    with EnvironmentContext(config, script, fn=steps) as environment:
        environment.configure(connection=connection, version_table=VERSION_TABLE)
        environment.run_migrations()


def _script() -> tuple[Config, ScriptDirectory]:
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(_HERE).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config, ScriptDirectory.from_config(config)


def _steps() -> frozenset[str]:
    _, script = _script()
    return frozenset(step.revision for step in script.walk_revisions())
