"""Names like the one that was typed."""

from __future__ import annotations

from collections.abc import Iterable

from kb.language.nearest import alike


def nearest(name: str, names: Iterable[str]) -> str:
    """A sentence with the nearest of the names names; empty where none is near."""
    close = alike(name, names)
    return f"Did you mean {' or '.join(close)}?" if close else ""
