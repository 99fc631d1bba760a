"""The shape of the knowledge files: what a YAML file under `kb/` may say.

One class per kind of entry. Field names are the words a repairer writes; the README of this folder
explains each. Shares and odds are between 0 and 1, minutes are bench minutes.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import (
    Field,
    StringConstraints,
    field_validator,
    model_validator,
)

from kb.language.entry import Entry, Minutes, Name, Sentence, Span

Answer = Annotated[str, StringConstraints(min_length=2)]
Share = Annotated[float, Field(ge=0, le=1)]

Clause = dict[Name, dict[Name, Any]]


class Mode(Entry):
    """A failure mode: how often among the part's failures, and how the part then acts."""

    share: Annotated[float, Field(gt=0, le=1)]
    acts: Name
    says: Sentence
    source: Sentence
    variants: dict[Name, Variant] = {}


class Variant(Entry):
    """One severity of a failure mode that moves several readings together."""

    share: Annotated[float, Field(gt=0, le=1)]
    acts: Name
    says: Sentence


class Found(Entry):
    """How a part or point is found on a board that nobody has a drawing of.

    `looks` tells what it looks like, `pin` what leads to it. Without `span` the minutes are those
    of the word `by`.
    """

    by: Literal["glance", "pin", "tracing"]
    looks: str = ""
    pin: str = ""
    span: Span | None = None
    source: Sentence


class PartKind(Entry):
    """A kind of part: its failure modes, how prone it is, and what a repairer must know of it.

    `printed` tells what its value is printed as: a `chip` code, colour `bands`, the `value` itself
    or `nothing`.
    """

    kind: Name
    says: Sentence
    traits: tuple[Name, ...] = ()
    unit: str = ""
    tolerance: Share = 0.05
    proneness: Annotated[float, Field(gt=0)]
    proneness_source: Sentence
    modes: dict[Name, Mode]
    rating: str = ""
    renew_minutes: Minutes = 10
    printed: Literal["", "chip", "bands", "value", "nothing"] = ""
    found: Found | None = None


class StageKind(Entry):
    """A kind of stage: the family its failures are counted in and the places it has for parts.

    `usual` names the kind of part that mostly stands in a place, for proposals. `found` tells how
    what stands in a place is found, where that is not as its kind is; `sides` the same of the
    stage's test points. `trace` is what drawing the stage once takes.
    """

    kind: Name
    says: Sentence
    family: Name
    places: dict[Name, Sentence]
    needs: tuple[Name, ...] = ()
    usual: dict[Name, Name] = {}
    found: dict[Name, Found] = {}
    sides: dict[Name, Found] = {}
    trace: Span | None = None


class Rule(Entry):
    """A trade rule: when these facts stand (and none of `unless`), then those follow."""

    id: Name
    says: Sentence
    step: Name
    when: Annotated[tuple[Clause, ...], Field(min_length=1)]
    unless: tuple[Clause, ...] = ()
    then: Annotated[tuple[Clause, ...], Field(min_length=1)]
    source: Sentence

    @field_validator("when", "unless", "then")
    @classmethod
    def _one_fact_each(cls, clauses: tuple[Clause, ...]) -> tuple[Clause, ...]:
        for clause in clauses:
            if len(clause) != 1:
                raise ValueError("each line names one kind of fact, such as `- part: {...}`")
        return clauses


class CautionEntry(Entry):
    """A caution: its hazard, its signal word and what it tells.

    `only_for` names a trait of the unit without which the caution would be untrue.
    """

    id: Name
    hazard: Name
    signal: Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
    says: Sentence
    only_for: str = ""
    source: Sentence


class FactKind(Entry):
    """A kind of fact that rules may name, with its fields."""

    fact: Name
    says: Sentence
    fields: dict[Name, Sentence]


class Quantity(Entry):
    """Something that can be looked at or measured; its values from the gravest to the sound one."""

    quantity: Name
    says: Sentence
    values: dict[Name, Sentence]
    otherwise: Name


class PlaceWord(Entry):
    """A place a part can have in a stage, and whether power runs through it, across it, or not.

    A part in line `blocks` where a charge behind it can't be met in front of it, and `isolates`
    where what is behind it has no conductor in common with the mains.
    """

    place: Name
    says: Sentence
    lies: Literal["in-line", "across", "beside"]
    blocks: bool = False
    isolates: bool = False


class DoingWord(Entry):
    """What a rig does to a unit, with the hazards of it.

    `hands`: it is fitted by hand to the circuit. `live`: what of it carries the circuit's
    potential, a `lead` or a `source` of its own. `heat`: it takes a hot iron. `side`: where it is
    clipped on if it is done to a stage. `how`: how the leads that it is read at are brought out.
    """

    doing: Name
    says: Sentence
    hands: bool
    live: Literal["none", "lead", "source"]
    heat: bool
    how: str = ""
    side: str = ""
    source: Sentence


class ReachWord(Entry):
    """A way of finding a part on a board that nobody has a drawing of, and what it takes.

    `glance`, `pin` and `tracing` are the ways of a part; `stage` is the drawing of a stage whose
    kind gives no minutes of its own. `how` tells it where nothing nearer is known.
    """

    reach: Literal["glance", "pin", "tracing", "stage"]
    says: Sentence
    how: str = ""
    span: Span


class ActionWord(Entry):
    """What is done in a test, and whether it brings hands to the circuit.

    `unless-rigged`: what was clipped on is read from afar; with no rig, hands hold the probes.
    """

    action: Name
    says: Sentence
    hands: Literal["always", "unless-rigged", "never"]
    source: Sentence


class SceneWord(Entry):
    """What surrounds the unit while it is tried; the first value stands unless a rig changes it."""

    scene: Name
    says: Sentence
    values: tuple[Name, ...]


class ArrangementEntry(Entry):
    """A supply arrangement; `usual` says whether a bench has it unless it says otherwise."""

    arrangement: Name
    says: Sentence
    how: Sentence
    energy: Literal["none", "elv", "hvdc", "mains"]
    volts: str
    hands_on: bool
    closed_only: bool
    isolated: bool = False
    feeds: Name = "unit"
    connect_minutes: Minutes
    leave_minutes: Minutes
    needs: tuple[Name, ...] = ()
    usual: bool = True
    source: Sentence

    @model_validator(mode="after")
    def _usually_dead(self) -> ArrangementEntry:
        """Nobody lacks a way to be unplugged."""
        if self.energy == "none" and not self.usual:
            raise ValueError("every bench can be without supply; leave `usual` out")
        return self

    @model_validator(mode="after")
    def _hands_only_where_safe(self) -> ArrangementEntry:
        """Hands touch only what is dead or extra-low voltage (60 V DC, IEC 62368-1 ES1)."""
        if self.hands_on and self.energy not in ("none", "elv"):
            raise ValueError("hands_on is only for energy none or elv; this one can kill")
        return self


class MethodEntry(Entry):
    """How something is done at the bench, step by step, for those who have not done it often.

    It is told where one of its `arrangements`, `rigs` (by what they do), `proofs` or `actions` (of
    tests) is used; with `charged` only on a unit that can stay charged. `kit` must lie ready.
    """

    method: Name
    says: Sentence
    steps: Annotated[tuple[Sentence, ...], Field(min_length=1)]
    arrangements: tuple[Name, ...] = ()
    rigs: tuple[Name, ...] = ()
    proofs: tuple[Name, ...] = ()
    actions: tuple[Name, ...] = ()
    charged: bool = False
    kit: tuple[Sentence, ...] = ()
    source: Sentence

    @model_validator(mode="after")
    def _of_something(self) -> MethodEntry:
        if not (self.arrangements or self.rigs or self.proofs or self.actions):
            raise ValueError("it names no arrangements, rigs, proofs or actions, so is never told")
        return self


class ComplaintEntry(Entry):
    """A complaint the intake desk recognises.

    The one with `second_start` stands for several that no unit is plugged in after: every chart for
    another complaint has a second START for it.
    """

    complaint: Name
    says: Sentence
    second_start: bool = False


class EntryCheck(Entry):
    """A question put before anything is energised or opened.

    With `complaints` or `after` it is conditional: it is put where the complaint is one of those,
    or where another question was given one of the answers listed. Either suffices.
    """

    question: Name
    asks: Sentence
    answers: dict[Answer, Literal["go-on", "cold-first", "cold-only", "scrap", "refuse"]]
    why: Sentence
    complaints: tuple[Name, ...] = ()
    after: dict[Name, Annotated[tuple[Answer, ...], Field(min_length=1)]] = {}
    complains: dict[Answer, Name] = {}
    source: Sentence

    @model_validator(mode="after")
    def _complaints_of_answers(self) -> EntryCheck:
        for answer in self.complains:
            if answer not in self.answers:
                raise ValueError(f'complains names "{answer}", which is none of the answers')
        return self


class Instrument(Entry):
    """An instrument a shop may have or lack; `usual` as for supply arrangements."""

    instrument: Name
    says: Sentence
    usual: bool = True


class DoctrineNumber(Entry):
    """A number the whole trade is judged by, such as the minutes a wrong verdict costs."""

    number: Name
    value: float
    says: Sentence
    source: Sentence


class Doubt(Entry):
    """Something that can't be right about how a unit is built, where these facts stand."""

    doubt: Name
    says: Sentence
    at: str
    when: Annotated[tuple[Clause, ...], Field(min_length=1)]
    unless: tuple[Clause, ...] = ()
    source: Sentence


class PublishedShares(Entry):
    """A row of a published table: how a part's failures are shared out among its modes.

    `row` is how sources cite it, such as "handbook, table, row".
    """

    row: Sentence
    modes: dict[Answer, Share]
    source: Sentence


class SymbolEntry(Entry):
    """What a component of a netlist probably is: its letters, words on it, its value and legs.

    Of those that fit the one with the most conditions counts. `role` is `part`, or `source` for
    what feeds a simulated circuit and `left-out` for what no unit has.
    """

    symbol: Name
    letters: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    legs: int | None = None
    over: float | None = None
    under: float | None = None
    kind: str = ""
    role: Literal["part", "source", "left-out"] = "part"
    source: Sentence


class PartFact(Entry):
    """A part of a topology's stage."""

    kind: Name
    place: Name
    value: str = ""
    tolerance: Share | None = None
    count: Annotated[int, Field(ge=1)] = 1
    volts: str = ""
    says: str = ""
    package: str = ""
    when_mains: dict[str, str] = {}
    found: Found | None = None


class StageFact(Entry):
    """A stage of a topology: which parts it has and where its power comes from."""

    kind: Name
    says: str = ""
    behind: Name | None = None
    board: Name | None = None
    fed_by: Name | None = None
    controls: Name | None = None
    parts: dict[Name, PartFact]


class OpeningFact(Entry):
    """A level of access of a topology."""

    minutes: Minutes
    says: Sentence
    how: Sentence
    after: tuple[Name, ...] = ()
    hazards: tuple[Name, ...] = ()


class BoardFact(Entry):
    """An assembly that can be replaced whole, and the opening it can be seen behind.

    `spare` says that an equal one is sold; what a shop has in stock stands in its bench file.
    """

    says: Sentence
    swap_minutes: Minutes
    behind: Name
    spare: bool = False


class PointFact(Entry):
    """A test point: between which place of which stage and its return."""

    stage: Name
    side: Literal["in", "out", "rail", "decision", "sensor"]
    says: Sentence
    found: Found | None = None


class Topology(Entry):
    """A unit's facts: stages in the order power meets them, parts, openings, boards, points."""

    topology: Name
    says: Sentence
    source: Sentence
    openings: dict[Name, OpeningFact] = {}
    boards: dict[Name, BoardFact] = {}
    stages: dict[Name, StageFact]
    points: dict[Name, PointFact] = {}
    traits: tuple[Name, ...] = ()
    unit_minutes: Minutes = 90


Mode.model_rebuild()
