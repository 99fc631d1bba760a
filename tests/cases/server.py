"""A PostgreSQL server of a test's own: real programs, a throw-away folder, loopback only."""

from __future__ import annotations

import contextlib
import glob
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

PLACES = (
    "/usr/lib/postgresql/*/bin",
    "/usr/pgsql-*/bin",
    "/opt/homebrew/opt/postgresql*/bin",
    "/usr/local/opt/postgresql*/bin",
)


@dataclass(frozen=True)
class Cluster:
    """A server of a test's own, which may be stopped and started again; `folder` is its home."""

    folder: Path
    port: int
    account: str | None

    @property
    def address(self) -> str:
        """Without a database's name."""
        return f"postgresql://bench@127.0.0.1:{self.port}"

    def run(self, name: str, *arguments: str) -> None:
        """One of PostgreSQL's programs, to its end."""
        done = subprocess.run(
            [program(name), *arguments], user=self.account, cwd=self.folder,
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout

    def start(self) -> None:
        """It takes connections when this returns."""
        # What is tried is our programs killed, not the machine: the server need not sync for that.
        settings = {
            "fsync": "off", "listen_addresses": "127.0.0.1",
            "unix_socket_directories": str(self.folder),
        }  # fmt: skip
        how = f"-p {self.port} " + " ".join(f"-c {key}={value}" for key, value in settings.items())
        data, log = str(self.folder / "data"), str(self.folder / "log")
        self.run("pg_ctl", "-D", data, "-l", log, "-o", how, "-w", "start")

    def stop(self) -> None:
        """At once, whatever it was doing."""
        self.run("pg_ctl", "-D", str(self.folder / "data"), "-m", "immediate", "-w", "stop")


@contextlib.contextmanager
def cluster() -> Iterator[Cluster]:
    """A running server; it ends with the block."""
    folder = Path(tempfile.mkdtemp(prefix="nextprobe-pg-"))
    account = _account()
    if account is not None:
        shutil.chown(folder, account)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    try:
        server = Cluster(folder, port, account)
        how = ("-U", "bench", "-A", "trust", "-E", "UTF8", "--locale=C", "-N")
        server.run("initdb", "-D", str(folder / "data"), *how)
        server.start()
        try:
            yield server
        finally:
            server.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextlib.contextmanager
def postgresql() -> Iterator[str]:
    """The address of a running server, without a database's name; it ends with the block."""
    with cluster() as server:
        yield server.address


def program(name: str) -> str:
    """Where a program of PostgreSQL is; distributions keep them off the PATH."""
    there = shutil.which(name)
    if there:
        return there
    found = sorted(path for place in PLACES for path in glob.glob(f"{place}/{name}"))
    assert found, f"PostgreSQL's {name} is not installed; tests/run.sh installs it"
    return found[-1]


def _account() -> str | None:
    """The server does not run as root: whose name it takes then; None where we are no root."""
    if os.geteuid() != 0:
        return None
    names = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in names else "nobody"
