"""What share of all cases a family of failures has, as the model document tells it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Voice:
    """One opinion on a family: the share it gives, the range it would argue about (0 and 0 where it
    names none), how many closed cases it is worth, and where it is from. Counted `cases` stand
    without a share."""

    opinion: str
    says: str
    source: str
    share: float = 0.0
    least: float = 0.0
    most: float = 0.0
    strength: float = 0.0
    cases: float = 0.0


@dataclass(frozen=True, slots=True)
class FamilyShare:
    """The share of a family before any complaint: its `count` of `total`, the middle, and between
    which shares it lies in 95 of 100 (beta marginal of the counts)."""

    family: str
    middle: float
    least: float
    most: float
    count: float
    total: float
    voices: tuple[Voice, ...] = ()
