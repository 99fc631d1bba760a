"""What a model tells beside faults and tests: entry questions, methods, stages, points."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class EntryQuestion:
    """A question put before anything is energised or opened; some answers end the job.

    `answers` maps an answer to what follows: go-on, cold-first, cold-only, scrap or refuse.
    `complains` maps those that are a complaint in themselves (a bang, a trip) to it. A question
    with `complaints` or `after` is conditional: put where the complaint is one of those, or where
    another question (its id) was given one of the answers listed; either suffices.
    """

    id: str
    asks: str
    answers: Mapping[str, str]
    why: str = ""
    complains: Mapping[str, str] = field(default_factory=dict)
    complaints: tuple[str, ...] = ()
    after: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def conditional(self) -> bool:
        """Whether only some complaints or answers bring it up."""
        return bool(self.complaints or self.after)


@dataclass(frozen=True, slots=True)
class Method:
    """How something is done at the bench, step by step.

    `of` are the ids of the model's arrangements, rigs, proofs and tests that are done so. What
    must lie ready for all methods of a model stands in its `kit`.
    """

    id: str
    says: str
    steps: tuple[str, ...]
    source: str = ""
    of: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StageNote:
    """A stage's name and words, for headings and block diagrams.

    `family` is the kind of work it does (supply, control, light-source) or outside, where its
    causes lie outside the unit; `controls` are the stages that it governs without feeding them.
    """

    id: str
    says: str
    feeds: tuple[str, ...] = ()
    points: tuple[str, ...] = ()
    controls: tuple[str, ...] = ()
    family: str = ""
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PointNote:
    """A test point: its stage, the side it lies on (in, out, or a name of the stage's own)."""

    id: str
    stage: str
    side: str
    says: str
    where: str = ""
    """The way to it on a board that nobody has a drawing of."""


@dataclass(frozen=True, slots=True)
class PartNote:
    """A part: its designator, its stage, what it is with its value, and how it is known on a board:
    by its `looks`, its `marking` and the chip `pin` it hangs on; each empty where nobody says."""

    id: str
    stage: str
    says: str
    looks: str = ""
    marking: str = ""
    pin: str = ""
