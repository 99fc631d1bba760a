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
from pathlib import Path

PLACES = (
    "/usr/lib/postgresql/*/bin",
    "/usr/pgsql-*/bin",
    "/opt/homebrew/opt/postgresql*/bin",
    "/usr/local/opt/postgresql*/bin",
)


@contextlib.contextmanager
def postgresql() -> Iterator[str]:
    """The address of a running server, without a database's name; it ends with the block."""
    folder = Path(tempfile.mkdtemp(prefix="nextprobe-pg-"))
    account = _account()
    if account is not None:
        shutil.chown(folder, account)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    data = folder / "data"

    def run(name: str, *arguments: str) -> None:
        done = subprocess.run(
            [program(name), *arguments], user=account, cwd=folder, stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout

    log = folder / "log"
    try:
        how = ("-U", "bench", "-A", "trust", "-E", "UTF8", "--locale=C", "-N")
        run("initdb", "-D", str(data), *how)
        # What is tried is our programs killed, not the machine: the server need not sync for that.
        settings = {
            "fsync": "off", "listen_addresses": "127.0.0.1", "unix_socket_directories": str(folder)
        }  # fmt: skip
        options = f"-p {port} " + " ".join(f"-c {key}={value}" for key, value in settings.items())
        run("pg_ctl", "-D", str(data), "-l", str(log), "-o", options, "-w", "start")
        try:
            yield f"postgresql://bench@127.0.0.1:{port}"
        finally:
            run("pg_ctl", "-D", str(data), "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


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
