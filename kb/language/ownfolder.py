"""Where a shop's own knowledge lies, and which of its files are knowledge.

Knowledge lies in the folder given, or in the user's data folder if it is there. The file
`bench.yaml` in it tells what the bench has (`kb.language.benchfile`), and is no knowledge.
"""

from __future__ import annotations

import stat
from pathlib import Path

from platformdirs import user_data_path

LARGEST = 4 * 2**20
"""Bytes of a file of knowledge: the largest shipped one has some 90,000."""
_LOCK = ".#"
BENCH = "bench.yaml"
CIRCUITS = "circuits"
"""The folder of circuits, inside a folder of knowledge."""


def usual() -> Path:
    """The folder of the user's own knowledge, there or not; platformdirs says where data goes."""
    return user_data_path("nextprobe", appauthor=False) / "knowledge"


def choose(request: Path | None) -> Path | None:
    """The folder given, else the usual one where it holds YAML files, else none."""
    if request is not None:
        return request
    folder = usual()
    if folder.is_dir() and (any(folder.rglob("*.yaml")) or misnamed_files(folder)):
        return folder
    return None


def misnamed_files(folder: Path) -> tuple[Path, ...]:
    """Files that look like knowledge but are not read, for their names end otherwise: `.yml`.

    The circuits of a folder, and the netlists and readings beside them, end so on purpose.
    """
    return tuple(
        path for path in sorted(folder.rglob("*"))
        if path.suffix.lower() in (".yml", ".yaml") and path.suffix != ".yaml" and path.is_file()
        and CIRCUITS not in path.relative_to(folder).parts
    )  # fmt: skip


def knowledge_files(folder: Path) -> tuple[Path, ...]:
    """The files of knowledge of a folder, in order: all its YAML files but the bench's.

    What an editor leaves beside a file that is open in it (`.#name.yaml`) is none.
    """
    bench = folder / BENCH
    return tuple(
        path for path in sorted(folder.rglob("*.yaml"))
        if path != bench and not path.name.startswith(_LOCK)
    )  # fmt: skip


def content(path: Path) -> bytes:
    """A file's bytes. OSError, in words, for what is no plain file, or larger than any that people
    write."""
    try:
        status = path.stat()
    except FileNotFoundError as wrong:
        raise OSError("it is a link that leads nowhere") from wrong
    if not stat.S_ISREG(status.st_mode):
        raise OSError("it is no plain file")
    if status.st_size > LARGEST:
        raise OSError(f"it is larger than {LARGEST // 2**20} MB")
    return path.read_bytes()
