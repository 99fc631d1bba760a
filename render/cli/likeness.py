"""Names like the one that was typed."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def nearest(name: str, names: Iterable[str]) -> str:
    """A sentence with the nearest of the names names; empty where none is near."""
    close = difflib.get_close_matches(name, tuple(names), n=3)
    return f"Did you mean {' or '.join(close)}?" if close else ""
