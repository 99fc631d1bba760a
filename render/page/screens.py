"""What the page shows, screen by screen: the records that `screenwriter` hands on.

A screen is one node of the chart document; its id in the page is the node's name, so that every
link of the page is a pointer of the document. Odds and minutes are the document's, unrounded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from render.drawing.bench_marks import BenchMark
from render.wording.notices import Notice


@dataclass(frozen=True, slots=True)
class Doing:
    """Something the hands are told to do, and how."""

    says: str
    how: str


@dataclass(frozen=True, slots=True)
class SafePoint:
    """A store to be measured before hands go in: where, the limit in words and as a number.

    `onward` tells whether going on out of reach is allowed: the next screen opens what bares it.
    """

    point: str
    limit: str
    below: float
    onward: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """What a check can show, its reading band in words, how likely here, and where it leads."""

    outcome: str
    says: str
    band: str
    odds: float | None
    to: str
    leads: str


@dataclass(frozen=True, slots=True)
class WayOn:
    """Where one goes on from a check that can't be done, and the minutes that it costs."""

    to: str
    leads: str


@dataclass(frozen=True, slots=True)
class Share:
    """A stage or a fault in words, and how likely it is by now."""

    id: str
    says: str
    odds: float


@dataclass(frozen=True, slots=True)
class Standing:
    """What every screen has.

    `minutes` are its own, `ahead` those of tests and set-ups to be expected after it, `reach` the
    odds of coming here at all, `shares` where the fault may lie on arrival. `mark` is the bench's,
    `still` the hazards told before that hold as long as it stands.
    """

    node: str
    label: str
    heading: str
    minutes: float
    ahead: float
    reach: float
    notices: tuple[Notice, ...]
    shares: tuple[Share, ...]
    mark: BenchMark
    still: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SetUp:
    """A set-up step, to be acknowledged; `points` are measured between `before` and `after`."""

    here: Standing
    before: tuple[Doing, ...]
    points: tuple[SafePoint, ...]
    after: tuple[Doing, ...]
    opens: bool
    next: str
    leads: str
    kind: str = "setup"


@dataclass(frozen=True, slots=True)
class Check:
    """A test: how, with what, on which bench, what a good unit shows, and the answers; `scale` is
    what a typed reading is taken for. Where it can't be done, `way_on` leads on; `instead` tells in
    words what comes then, for whoever has no plan for it."""

    here: Standing
    facts: tuple[str, ...]
    how: str
    good: str
    instead: str
    bench: tuple[str, ...]
    answers: tuple[Answer, ...]
    scale: Mapping[str, Any]
    way_on: WayOn | None = None
    kind: str = "test"


@dataclass(frozen=True, slots=True)
class Proof:
    """A proof after the repair."""

    id: str
    says: str
    limit: str
    how: str
    facts: tuple[str, ...]
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True)
class Verdict:
    """What to do: the remedy, how sure, what else it could be, and the proofs after it.

    `first` is what makes the unit safe for it: what is switched off, and stores further in.
    `onward` are the likeliest parts and whether going on to the part pays, where it is no end.
    """

    here: Standing
    points: tuple[SafePoint, ...]
    first: tuple[str, ...]
    facts: tuple[str, ...]
    sure: float
    how: str
    companions: tuple[str, ...]
    cured: tuple[Share, ...]
    others: tuple[Share, ...]
    proofs: tuple[Proof, ...]
    onward: tuple[str, ...] = ()
    kind: str = "verdict"


@dataclass(frozen=True, slots=True)
class Recheck:
    """Something was misread, or what is wrong is not listed; `asked` are the checks to repeat."""

    here: Standing
    says: str
    asked: tuple[tuple[str, str], ...]
    kind: str = "recheck"


@dataclass(frozen=True, slots=True)
class Third:
    """A test was told otherwise when done again: a third time decides, by what came twice."""

    here: Standing
    says: str
    answers: tuple[Answer, ...]
    kind: str = "third"


Screen = SetUp | Check | Verdict | Recheck | Third


@dataclass(frozen=True, slots=True)
class Question:
    """A question of the entry check; an answer is (words, effect, what follows in words).

    One that is asked only after some answers of another names it and them.
    """

    id: str
    asks: str
    why: str
    answers: tuple[tuple[str, str, str], ...]
    after: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Method:
    """How something is done at the bench, step by step, and who says so."""

    title: str
    steps: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Twig:
    """A line of the outline: what leads here, the screen, and what follows from it.

    A screen told before is named again without what follows.
    """

    answer: str
    node: str
    label: str
    heading: str
    follow: tuple[Twig, ...]


@dataclass(frozen=True, slots=True)
class Page:
    """The whole page, before any of it is HTML. `digest` tells one chart from another.

    `ways_on` are the screens of the ways on from checks that can't be done, which no outline tells.
    `grammar` is what readings are typed by, as JSON. `second` is the root of the second START's
    plan, for units after what `second_says`.

    `diagram` alone is markup already: an SVG element of our own drawing, its words escaped.
    """

    title: str
    facts: tuple[str, ...]
    plan: tuple[str, ...]
    versions: tuple[str, ...]
    digest: str
    root: str
    instruments: tuple[str, ...]
    entry: tuple[Question, ...]
    dead: Doing
    screens: tuple[Screen, ...]
    outline: tuple[Twig, ...]
    diagram: str
    lines: tuple[str, ...]
    points: tuple[tuple[str, str, tuple[str, ...]], ...]
    locations: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]
    faults: tuple[tuple[Share, tuple[tuple[str, str], ...]], ...]
    sources: tuple[str, ...]
    origin: str = ""
    marks: tuple[BenchMark, ...] = ()
    repair: tuple[Notice, ...] = ()
    methods: tuple[Method, ...] = ()
    second: str = ""
    second_says: str = ""
    ways_on: tuple[Screen, ...] = ()
    grammar: str = ""
