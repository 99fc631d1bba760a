"""A topology: one unit's stages with their parts, openings, boards and test points."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kb.language.schema.entry import Entry, Minutes, Name, Sentence, Share
from kb.language.schema.kinds import Found


class PartFact(Entry):
    """A part of a stage, under its designator.

    A part across hangs at the node that the parts in line before it have reached.
    """

    kind: Name
    """Its kind of part."""
    place: Name
    """Its place in the stage."""
    value: str = ""
    """Its value as marked: `4k7`, `470 kohm`, `6.8 uF`, `5.1 V`."""
    tolerance: Share | None = None
    """Its tolerance as a fraction, where it is not that of its kind."""
    count: Annotated[int, Field(ge=1)] = 1
    """How many there are: a string of 14 packages is one part with `count: 14`."""
    volts: str = ""
    """Its voltage rating."""
    says: str = ""
    """Words of its own."""
    package: str = ""
    """The designator of the chip it comes with, so that one remedy renews both."""
    when_mains: dict[str, str] = {}
    """Its value at another mains: `{"120": 220 kohm}`."""
    parallel_to: Name | None = None
    """The part in line that it lies across, for one at the place `alongside`."""
    found: Found | None = None
    """How it is found in this unit; it goes before what its stage kind or its kind say."""


class StageFact(Entry):
    """A stage, under its name. A control stage taps its feed and names the stage it controls."""

    kind: Name
    """Its kind of stage."""
    says: str = ""
    """Words of its own."""
    behind: Name | None = None
    """The opening it lies behind; nothing for what is reached closed."""
    board: Name | None = None
    """The board it sits on."""
    fed_by: Name | None = None
    """The stage that feeds it, where that is not the one before it that carries power on."""
    controls: Name | None = None
    """The stage it controls, for a control stage."""
    parts: dict[Name, PartFact]
    """Its parts by designator; parts in line stand in the order in which power meets them."""


class OpeningFact(Entry):
    """A level of access, under its name. Openings stay open."""

    minutes: Minutes
    """Minutes to make it."""
    says: Sentence
    """What is done: `take off the base cap`."""
    how: Sentence
    """How it is done."""
    after: tuple[Name, ...] = ()
    """The openings that must be made before it."""
    hazards: tuple[Name, ...] = ()
    """What can hurt in making it."""


class BoardFact(Entry):
    """An assembly that can be replaced whole, under its name."""

    says: Sentence
    """What it is, in words."""
    swap_minutes: Minutes
    """Minutes to replace it."""
    behind: Name
    """The opening it lies behind."""
    spare: bool = False
    """Whether an equal one is sold; what a shop has in stock stands in its bench file."""


class PointFact(Entry):
    """A test point, under its name."""

    stage: Name
    """The stage it is at."""
    side: Literal["in", "out", "rail", "decision", "sensor"]
    """`in` and `out` of the power path; `rail`, `decision`, `sensor` of a control stage."""
    says: Sentence
    """Where the probes go."""
    found: Found | None = None
    """How it is found. Without it, and without its stage kind's `sides`, by a pin."""


class Topology(Entry):
    """One unit's facts. It has a file of its own, which begins with `topology: NAME`."""

    topology: Name
    """Its name."""
    says: Sentence
    """What it is, in words."""
    source: Sentence
    """Where its build is known from."""
    openings: dict[Name, OpeningFact] = {}
    """Levels of access, by name."""
    boards: dict[Name, BoardFact] = {}
    """Assemblies that can be replaced whole, by name."""
    stages: dict[Name, StageFact]
    """Its stages by name, in the order in which power meets them."""
    points: dict[Name, PointFact] = {}
    """Its test points, by name."""
    does: Name = "light"
    """What it does for its owner, a word of the section `duties`; `light` where nothing is said."""
    traits: tuple[Name, ...] = ()
    """Traits of the whole unit. `non-isolated` makes every energised board live, and holds without
    being written unless the parts show otherwise; `earthed`: a touchable part is joined to the
    protective conductor; `corded`: the unit has a mains lead of its own."""
    unit_minutes: Minutes = 90
    """What losing the unit costs, in bench minutes: the price of scrapping it."""
