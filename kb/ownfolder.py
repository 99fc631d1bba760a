"""Where a shop's own knowledge lies: the folder given, or the user's data folder if it is there."""

from __future__ import annotations

from pathlib import Path

from platformdirs import user_data_path


def usual() -> Path:
    """The folder of the user's own knowledge, there or not; platformdirs says where data goes."""
    return user_data_path("nextprobe", appauthor=False) / "knowledge"


def chosen(given: Path | None) -> Path | None:
    """The folder given, else the usual one where it holds YAML files, else none."""
    if given is not None:
        return given
    folder = usual()
    return folder if folder.is_dir() and any(folder.rglob("*.yaml")) else None
