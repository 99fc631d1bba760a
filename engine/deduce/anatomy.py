"""Facts of how a unit is built and how it fails, as Python reads them: a view of each kind.

`kb/words/facts.yaml` says what the fields mean; a test holds each attribute to a field of that name
and sort there. A misspelt attribute fails in the type check, not at somebody's bench. A number that
a fact may lack is None, never 0. What is done at the bench has its views in `engine.deduce.offers`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from engine.deduce.facts import FIELD, View

_OF, _IS, _AS, _AT = {FIELD: "of"}, {FIELD: "is"}, {FIELD: "as"}, {FIELD: "at"}


# ---- how the unit is built ----


@dataclass(frozen=True, slots=True)
class Trait(View):
    """Something true of a part or the unit."""

    kind = "trait"
    of_what: str = field(metadata=_OF)
    trait: str = field(metadata=_IS)


@dataclass(frozen=True, slots=True)
class Board(View):
    """An assembly."""

    kind = "board"
    name: str
    behind: str


@dataclass(frozen=True, slots=True)
class Head(View):
    """Where the unit's supply contacts are."""

    kind = "head"
    node: str

    @property
    def ends(self) -> tuple[str, ...]:
        """The nodes it stands at."""
        return (self.node,)


@dataclass(frozen=True, slots=True)
class Stage(View):
    """A stage; `rank` counts from 0 where power enters."""

    kind = "stage"
    name: str
    family: str
    says: str
    behind: str
    rank: float


@dataclass(frozen=True, slots=True)
class Part(View):
    """A part; `value` in base units and `volts` of rating are None where nothing is marked.

    `package` is the part that is replaced with it, itself as a rule.
    """

    kind = "part"
    name: str
    package: str
    part_kind: str = field(metadata={FIELD: "kind"})
    place: str
    stage: str
    says: str
    count: float
    behind: str
    proneness: float
    value: float | None = None
    marking: str | None = None
    volts: float | None = None


@dataclass(frozen=True, slots=True)
class Mode(View):
    """A failure mode of a part."""

    kind = "mode"
    part: str
    name: str
    parent: str
    share: float
    says: str


@dataclass(frozen=True, slots=True)
class Way(View):
    """Power runs through a part, from node to node."""

    kind = "way"
    part: str
    place: str
    start: str
    end: str

    @property
    def ends(self) -> tuple[str, ...]:
        """The nodes it stands at."""
        return (self.start, self.end)


@dataclass(frozen=True, slots=True)
class Hanging(View):
    """A part lies across the line."""

    kind = "hangs"
    part: str
    node: str

    @property
    def ends(self) -> tuple[str, ...]:
        """The nodes it stands at."""
        return (self.node,)


@dataclass(frozen=True, slots=True)
class Entrance(View):
    """Where a stage takes its power."""

    kind = "enters"
    stage: str
    node: str

    @property
    def ends(self) -> tuple[str, ...]:
        """The nodes it stands at."""
        return (self.node,)


@dataclass(frozen=True, slots=True)
class Feed(View):
    """A stage feeds the next."""

    kind = "feeds"
    stage: str
    next: str


@dataclass(frozen=True, slots=True)
class Control(View):
    """A stage controls another."""

    kind = "controls"
    stage: str
    other: str


@dataclass(frozen=True, slots=True)
class TestPoint(View):
    """A test point; `node` is empty for one beside the power path."""

    kind = "point"
    name: str
    stage: str
    side: str
    says: str
    node: str
    behind: str

    @property
    def ends(self) -> tuple[str, ...]:
        """The nodes it stands at."""
        return (self.node,)


@dataclass(frozen=True, slots=True)
class Alongside(View):
    """A part lies across a part in line."""

    kind = "alongside"
    part: str
    other: str


@dataclass(frozen=True, slots=True)
class Showing(View):
    """A part's terminals or a node can be reached once an opening is made."""

    kind = "shows"
    of_what: str = field(metadata=_OF)
    behind: str


@dataclass(frozen=True, slots=True)
class Holding(View):
    """A part can keep a charge by how the unit is built."""

    kind = "holds"
    part: str
    point: str


@dataclass(frozen=True, slots=True)
class Finding(View):
    """How a part, a point or a side of a stage is found; minutes with the least and the most."""

    kind = "finds"
    of_what: str = field(metadata=_OF)
    side: str = field(metadata=_AT)
    by: str
    minutes: float
    least: float
    most: float
    behind: str
    where: str


@dataclass(frozen=True, slots=True)
class Tracing(View):
    """A stage that is drawn before some of its parts are found."""

    kind = "traces"
    name: str
    stage: str
    behind: str
    minutes: float
    least: float
    most: float
    says: str
    how: str


# ---- faults, and how likely they are ----


@dataclass(frozen=True, slots=True)
class Fault(View):
    """A hypothesis; `light` is what something unlisted gives, `share` its share among these."""

    kind = "fault"
    name: str
    part: str
    stage: str
    acts: str
    light: str | None = None
    share: float | None = None
    says: str | None = None


@dataclass(frozen=True, slots=True)
class Pair(View):
    """A joint hypothesis: the cause, and the part it takes along."""

    kind = "pair"
    first: str
    second: str


@dataclass(frozen=True, slots=True)
class Consequence(View):
    """The supposed fault usually takes another part with it."""

    kind = "brings"
    part: str
    mode: str
    acts: str
    odds: float
    says: str


@dataclass(frozen=True, slots=True)
class Use(View):
    """A situation in which the owner sees the unit."""

    kind = "use"
    symptom: str = field(metadata=_AS)
    quantity: str = field(metadata=_OF)
    at: str
    energy: str
    scene: str


@dataclass(frozen=True, slots=True)
class Slice(View):
    """What somebody says of a family's share of all cases: the least and the most he would argue,
    how many closed cases the opinion is worth, and whose it is."""

    kind = "slice"
    family: str
    share: float
    least: float | None = None
    most: float | None = None
    strength: float | None = None
    opinion: str | None = None


@dataclass(frozen=True, slots=True)
class Counted(View):
    """How many closed cases a family had, and where they were counted."""

    kind = "counted"
    family: str
    cases: float
    book: str


@dataclass(frozen=True, slots=True)
class Membership(View):
    """A part's failures are counted in a family."""

    kind = "counts-in"
    part: str
    family: str


@dataclass(frozen=True, slots=True)
class Weighting(View):
    """A fault's odds are multiplied."""

    kind = "weigh"
    fault: str
    factor: float = field(metadata={FIELD: "by"})

VIEWS: tuple[type[View], ...] = (
    Trait, Board, Head, Stage, Part, Mode, Way, Hanging, Entrance, Feed, Control, TestPoint,
    Alongside, Showing, Holding, Finding, Tracing, Fault, Pair, Consequence, Use, Slice, Counted,
    Membership, Weighting,
)  # fmt: skip
"""All of them."""
