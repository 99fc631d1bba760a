"""What the audit has worked out once from documents that never change, by what it is of."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

_Made = TypeVar("_Made")


class Kept:
    """Results by their key: a name for what it is, then all that it depends on."""

    def __init__(self) -> None:
        self._results: dict[tuple[object, ...], Any] = {}

    def __call__(self, key: tuple[object, ...], make: Callable[[], _Made]) -> _Made:
        """What `make` gives, made the first time only."""
        if key not in self._results:
            self._results[key] = make()
        result: _Made = self._results[key]
        return result
