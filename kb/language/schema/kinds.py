"""Kinds of part and of stage: how they fail, what places they have, how they are found."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kb.language.schema.entry import Entry, Minutes, Name, Sentence, Share, Span, Text


class Mode(Entry):
    """A failure mode of a kind of part: how often it occurs, and how the part then acts."""

    share: Annotated[float, Field(gt=0, le=1)]
    """Its share of the part's failures. The shares of a kind sum to 1 at most; what is left goes
    to modes that are not listed."""
    acts: Name
    """How the part then acts: the word that rules of step `suppose` ask for."""
    says: Sentence
    """The failure in words."""
    source: Sentence
    """Where the share is known from."""
    variants: dict[Name, Variant] = {}
    """Severities of the mode, by name, where a mild and a grave case show different readings in
    several places. Each becomes a hypothesis of its own; a verdict adds them up."""


class Variant(Entry):
    """One severity of a failure mode that moves several readings together."""

    share: Annotated[float, Field(gt=0, le=1)]
    """Its share of the mode; the shares of all variants sum to 1."""
    acts: Name
    """How the part then acts."""
    says: Sentence
    """The severity in words."""


class Found(Entry):
    """How a part or point is found on a board that nobody has a drawing of."""

    by: Literal["glance", "pin", "tracing"]
    """`glance`: its looks tell. `pin`: its ends are at something known. `tracing`: only a drawing
    of its stage tells it from others like it."""
    looks: str = ""
    """What it looks like, for the person at the bench."""
    pin: str = ""
    """What leads to it, for the person at the bench; a place in braces becomes the part in it."""
    span: Span | None = None
    """Minutes of its own, instead of those of the word `by` in the section `reaches`."""
    source: Sentence
    """Where that is known from."""


class PartKind(Entry):
    """A kind of part: its failure modes, how prone it is, how it is replaced and found."""

    kind: Name
    """The part kind's name."""
    says: Sentence
    """What it is, in words."""
    traits: tuple[Name, ...] = ()
    """Words that rules ask for instead of kinds: a rule for `resistor` fits every kind that has
    this trait."""
    unit: str = ""
    """The unit of the part's value: ohm, F, V, H."""
    tolerance: Share = 0.05
    """The tolerance of the value, as a fraction, where the topology gives none."""
    proneness: Annotated[float, Field(ge=0.01, le=100)]
    """How prone to fail it is, from 0.01 to 100, against a plain film resistor, which is 1. It is
    shared out within the stage's family."""
    proneness_source: Sentence
    """Where the proneness is known from."""
    modes: dict[Name, Mode]
    """Its failure modes, by name."""
    rating: str = ""
    """The rule for choosing its replacement."""
    renew_minutes: Minutes = 10
    """Minutes to replace it."""
    printed: Literal["", "chip", "bands", "value", "nothing"] = ""
    """What its value is printed as: a `chip` code, colour `bands`, the `value` itself, or
    `nothing`."""
    found: Found | None = None
    """How a part of this kind is found. Without it, by tracing."""


class StageKind(Entry):
    """A kind of stage: the places it has for parts, and the family its failures count in."""

    kind: Name
    """The stage kind's name."""
    says: Sentence
    """What it is, in words."""
    family: Name
    """The share of all cases that its parts' failures are counted in; the rules of
    `rules/hypotheses.yaml` give each family its share."""
    places: dict[Name, Sentence]
    """The places it has for parts, each with what stands there in words."""
    needs: tuple[Name, ...] = ()
    """The places that must be filled."""
    assumes_before: str = ""
    """What the rules take to stand before it: what feeds it, and how."""
    assumes_behind: str = ""
    """What they take to lie behind it, and what holds its volts."""
    cant_express: tuple[Sentence, ...] = ()
    """What a unit may have there that no rule speaks of, or that no place is for."""
    usual: dict[Name, Name] = {}
    """The kind of part that mostly stands in a place, by place; `nextprobe new` proposes it."""
    found: dict[Name, Found] = {}
    """How what stands in a place is found, by place, where that is not as its kind of part is."""
    sides: dict[Name, Found] = {}
    """How a side of the stage is found, by side of a test point."""
    trace: Span | None = None
    """Minutes for drawing the stage once, where some of its parts are found by tracing."""


class PublishedShares(Entry):
    """A row of a published table of failure modes; modes that cite it are held to its figures.

    A mode whose `source` begins with the row is held to it, to rounding; words such as *scaled* or
    *of which* after it allow less.
    """

    row: Sentence
    """How sources cite it, such as `handbook, table, row`."""
    modes: dict[Text, Share]
    """The published share of each mode."""
    source: Sentence
    """The publication."""


class SymbolEntry(Entry):
    """What a component of a netlist probably is, for `nextprobe new --from-netlist`.

    Of the symbols that fit a component, the one with the most conditions counts.
    """

    symbol: Name
    """The symbol's name."""
    letters: tuple[str, ...] = ()
    """What its designator begins with."""
    words: tuple[str, ...] = ()
    """Words in its value, model or library symbol."""
    legs: int | None = None
    """How many legs it has."""
    over: float | None = None
    """A value above this number, in base units."""
    under: float | None = None
    """A value below this number, in base units."""
    kind: str = ""
    """The kind of part it then is."""
    role: Literal["part", "source", "left-out"] = "part"
    """`part`, or `source` for what feeds a simulated circuit, or `left-out` for what no unit
    has."""
    source: Sentence
    """Where that is known from."""


Mode.model_rebuild()
