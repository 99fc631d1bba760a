"""Where a shop's own knowledge lies, and which of its files are knowledge.

Knowledge lies in the folder given, or in the user's data folder if it is there. The file
`bench.yaml` in it tells what the bench has (`kb.language.benchfile`), and is no knowledge.
"""

from __future__ import annotations

from pathlib import Path

from platformdirs import user_data_path

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
    """The files of knowledge of a folder, in order: all its YAML files but the bench's."""
    bench = folder / BENCH
    return tuple(path for path in sorted(folder.rglob("*.yaml")) if path != bench)
