"""Whether a sound unit of a design works: the sums of every stage that it has, together."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from engine.circuit import strings, sums
from engine.circuit.design import Design

SUMS: Mapping[str, Callable[[sums.Sums], float]] = MappingProxyType({**sums.SUMS, **strings.SUMS})
"""What a draw may be a multiple of (`of` in a circuit's family), by name."""


def troubles(design: Design) -> tuple[str, ...]:
    """Which sums a design fails, by name; empty where a sound unit of it works."""
    kept = {**sums.checks(design), **strings.checks(design)}
    return tuple(name for name, holds in kept.items() if not holds)
