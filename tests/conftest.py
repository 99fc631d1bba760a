"""Settings and fixtures that hold for every test."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

from tests.words.cli import Desk

# A deadline would be a wall-clock assertion: it fails on a busy machine and proves nothing.
settings.register_profile("nextprobe", deadline=None, print_blob=True)
settings.load_profile("nextprobe")


@pytest.fixture
def desk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Desk:
    """A desk with nothing on it, to run the command line at."""
    return Desk(tmp_path, monkeypatch, capsys)
