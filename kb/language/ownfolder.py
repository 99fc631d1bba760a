"""Where a shop's own knowledge lies, and which of its files are knowledge.

Knowledge lies in the folder given, or in the user's data folder if it is there. The file
`bench.yaml` in it tells what the bench has (`kb.language.benchfile`), and is no knowledge.
"""

from __future__ import annotations

from pathlib import Path

from platformdirs import user_data_path

BENCH = "bench.yaml"


def usual() -> Path:
    """The folder of the user's own knowledge, there or not; platformdirs says where data goes."""
    return user_data_path("nextprobe", appauthor=False) / "knowledge"


def choose(request: Path | None) -> Path | None:
    """The folder given, else the usual one where it holds YAML files, else none."""
    if request is not None:
        return request
    folder = usual()
    return folder if folder.is_dir() and any(folder.rglob("*.yaml")) else None


def knowledge_files(folder: Path) -> tuple[Path, ...]:
    """The files of knowledge of a folder, in order: all its YAML files but the bench's."""
    bench = folder / BENCH
    return tuple(path for path in sorted(folder.rglob("*.yaml")) if path != bench)
