"""One thing in a chart or walk that does not follow from the model, or is not safe."""

from __future__ import annotations

from dataclasses import dataclass

TOLERANCE = 1e-6
"""Documents print rounded numbers; disagreement beyond this is a breach."""

DUST = 1e-12
"""Odds below this may be treated as nothing."""


@dataclass(frozen=True, slots=True)
class Breach:
    """A stable code, the node (or step) it sits at, and what is wrong."""

    code: str
    node: str
    what: str

    def __str__(self) -> str:
        return f"{self.code} {self.node}: {self.what}" if self.node else f"{self.code} {self.what}"


def near(one: float, other: float) -> bool:
    """Whether two numbers agree, absolutely for small ones and relatively for large ones."""
    return abs(one - other) <= TOLERANCE * max(1.0, abs(one), abs(other))
