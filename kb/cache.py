"""What took long to find out, kept in the user's cache folder; what is damaged there is not there.

A file's first line is the SHA-256 of the rest: one changed byte and it is made anew. A cache that
can't be read or written is done without.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from platformdirs import user_cache_path

from kb import files

KEEP = 200
"""Files of each sort, of about 0.2 MB each; the newest stay, so that edited knowledge does not fill
the disk."""


def place(what: str, key: object) -> Path:
    """Where the answer to a question is kept; `key` is all that it depends on, as plain data."""
    name = hashlib.sha256(json.dumps(key, sort_keys=True).encode()).hexdigest()[:24]
    return user_cache_path("nextprobe") / f"{what}-{name}.json"


def recall(file: Path) -> str | None:
    """The text that was kept there whole; None where there is none. What is used stays longest."""
    try:
        head, _, text = file.read_bytes().partition(b"\n")
        if head != _checksum(text):
            raise ValueError
        file.touch()
        return text.decode()
    except FileNotFoundError:
        return None
    except (OSError, ValueError):
        drop(file)
        return None


def keep(file: Path, text: str) -> None:
    """Write whole or not at all."""
    content = text.encode()
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with files.whole(file) as aside:
            aside.write_bytes(_checksum(content) + b"\n" + content)
        sort = file.name.partition("-")[0]
        entries = file.parent.glob(f"{sort}-*.json")
        now = file.stat().st_mtime
        for old in sorted(entries, key=lambda one: _age(one, now))[KEEP:]:
            old.unlink(missing_ok=True)
    except OSError:
        return


def _age(file: Path, now: float) -> tuple[bool, float]:
    """What was written before the clock was set back bears a time to come, and goes first."""
    then = file.stat().st_mtime
    return then > now, -then


def drop(file: Path) -> None:
    """Forget what is kept there."""
    try:
        file.unlink(missing_ok=True)
    except OSError:
        return


def _checksum(content: bytes) -> bytes:
    return hashlib.sha256(content).hexdigest().encode()
