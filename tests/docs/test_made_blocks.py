"""Do the tables and printouts in the documentation say what the program says today?

Where one fails: `.venv/bin/python -m tests.docs.refresh` makes all of them anew.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.docs.blocks import DOCUMENTS, ROOT, made, standing

BLOCKS = [(path, name) for path in DOCUMENTS for name in standing(path)]


@pytest.mark.parametrize(
    ("path", "name"), BLOCKS, ids=[f"{p.relative_to(ROOT)}:{name}" for p, name in BLOCKS]
)
def test_a_made_block_is_as_it_would_be_made_now(path: Path, name: str) -> None:
    """Word for word."""
    assert standing(path)[name] == made(name)
