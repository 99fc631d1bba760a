"""What the chart says, symbol by symbol: the record that `scriptwriter` hands on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from engine.chart.traversal import in_reading_order
from render.drawing.bench_marks import BenchMark
from render.drawing.typeset import Run
from render.wording.phrasing import Wording

Document = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Signal:
    """A signal word with the hazards it stands for and the numbers of their full cautions."""

    word: str
    hazards: tuple[str, ...]
    numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Runs of words; `hands` marks what the hands are told to do."""

    runs: tuple[Run, ...]
    hands: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """One symbol's content. `kind`: start, make-safe, setup, test, again, verdict.

    `mark` is the bench's, `first_mark` that at the symbol's beginning if it is another; where it
    `begins`, its word is told. The `tail` is told last, after what could hurt.
    """

    node: str
    kind: str
    paragraphs: tuple[Paragraph, ...]
    signals: tuple[Signal, ...] = ()
    mark: BenchMark | None = None
    begins: bool = False
    first_mark: BenchMark | None = None
    tail: tuple[Run, ...] = ()


@dataclass(frozen=True, slots=True)
class Exit:
    """A branch: the outcomes that take it, in words, and the step it leads to."""

    outcomes: tuple[str, ...]
    label: str
    to: str
    odds: float


@dataclass(frozen=True, slots=True)
class Step:
    """A stack of symbols ending in a test, a verdict or a bare set-up; `reach` its odds.

    `shared` steps are come to by several of `ways_in`; a `cut` one is drawn away from all of them.
    """

    id: str
    parts: tuple[Part, ...]
    exits: tuple[Exit, ...]
    number: str
    reach: float
    shared: bool
    ways_in: int = 1
    cut: bool = False

    @property
    def asks(self) -> bool:
        """Whether the step ends in a question."""
        return self.parts[-1].kind == "test"


@dataclass(frozen=True, slots=True)
class Script:
    """Everything the sheets say; `after` is what a second START is for, empty for a first one.

    Tight wording tells once beside the flow what full wording tells at each verdict: `upon`, the
    stores that come into reach with each opening, and `going_on`, what going on to the part costs,
    by the verdict's number. `seldom` is the share of units whose ways are left to the booklet.
    """

    model: Document
    chart: Document
    root: str
    steps: Mapping[str, Step]
    cautions: tuple[Document, ...]
    proofs: tuple[Document, ...]
    numbers: Mapping[str, str] = field(default_factory=dict)
    merged: Mapping[str, str] = field(default_factory=dict)
    wording: Wording = Wording.FULL
    names: Mapping[str, str] = field(default_factory=dict)
    supplies: Mapping[str, str] = field(default_factory=dict)
    again: Mapping[str, str] = field(default_factory=dict)
    stores: tuple[str, ...] = ()
    usual_proofs: str = ""
    grouped: tuple[Document, ...] = ()
    marks: tuple[BenchMark, ...] = ()
    after: str = ""
    upon: tuple[str, ...] = ()
    going_on: Mapping[str, str] = field(default_factory=dict)
    seldom: float = 0.0


def reading_order(script: Script) -> Sequence[str]:
    """Step ids from the root, the likeliest branch first; every step once."""
    def ahead(step_id: str) -> list[str]:
        return [e.to for e in sorted(script.steps[step_id].exits, key=lambda e: e.odds)]

    return in_reading_order(script.root, ahead)
