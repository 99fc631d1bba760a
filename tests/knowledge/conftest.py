"""What tests of knowledge share."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.words.cli import Desk


@pytest.fixture
def desk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Desk:
    """A desk with nothing on it, to run the command line at."""
    return Desk(tmp_path, monkeypatch, capsys)
