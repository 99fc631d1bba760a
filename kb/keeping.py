"""What takes long to work out, kept in the user's cache folder from one run to the next."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from pathlib import Path

from platformdirs import user_cache_path

_MOST_KEPT = 200
"""Files of each sort, of about 0.2 MB each; of the algorithm."""


def place(what: str, version: str, key: tuple[object, ...]) -> Path:
    """The file for `what` was worked out of `key` by a `version` of code and knowledge."""
    text = json.dumps([version, key], sort_keys=True)
    name = hashlib.sha256(text.encode()).hexdigest()[:24]
    return user_cache_path("nextprobe") / f"{what}-{name}.json"


def fetch(path: Path) -> str | None:
    """The text that is kept there, which counts as used; None where none can be read."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return None
    with contextlib.suppress(OSError):  # what can't be written can still be read
        path.touch()
    return text


def keep(path: Path, text: str) -> None:
    """Write whole or not at all; a cache that can't be written is done without."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", dir=path.parent, delete=False
        ) as aside:
            aside.write(text)
        os.replace(aside.name, path)
        _forget_oldest(path)
    except OSError:
        return


def forget(path: Path) -> None:
    """What is damaged is made anew, and no news to the person."""
    with contextlib.suppress(OSError):
        path.unlink(missing_ok=True)


def _forget_oldest(newest: Path) -> None:
    """Keep the newest files of a sort, so that edited knowledge does not fill the disk."""
    sort = newest.name.partition("-")[0]
    files = newest.parent.glob(f"{sort}-*.json")
    for old in sorted(files, key=lambda file: file.stat().st_mtime, reverse=True)[_MOST_KEPT:]:
        old.unlink(missing_ok=True)
