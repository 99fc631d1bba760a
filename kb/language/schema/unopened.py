"""What stands in the way of knowing a unit: it is not open yet, and nobody can say of what kind it
is. What one sees of each kind, what may be wrong outside its electronics, how often each comes in.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kb.language.schema.entry import Entry, Minutes, Name, Sentence, Share, Text

Odds = dict[Name, Share]


class ClosedTest(Entry):
    """A test of the closed unit that no topology has, for what lies outside its electronics."""

    asks: Sentence
    """The question."""
    how: Sentence
    """How it is done."""
    good: Sentence
    """What a sound unit shows."""
    minutes: Minutes
    """Minutes that it takes."""
    once: dict[Name, tuple[Name, ...]] = {}
    """It is done once a look was answered so, such as `once: {contacts: [cord]}`."""
    supply: Name = "unplugged"
    """The supply arrangement that it is done on; the unit stays closed on any."""
    instrument: Text
    """What it is done with."""
    by_hand: bool = False
    """Whether hands or probes are on its metal; only unplugged."""
    answers: Annotated[dict[Name, Text], Field(min_length=2)]
    """Its answers, and each in words."""
    inside: Odds
    """The odds of each answer where the fault lies in the electronics; read right, as all odds."""
    misread: Share = 0.03
    """How often one takes one answer for another."""
    source: Sentence
    """Where the odds are known from."""


class ClosedRig(Entry):
    """A rig of the topologies in words that are true of a unit that is not known yet."""

    says: Sentence
    """What is done, where the unit has what it is done to."""
    how: Sentence
    """How that is done."""


class Unopened(Entry):
    """A kind of unit that nobody has opened yet: a mixture of topologies and of what may be wrong
    outside their electronics. `nextprobe walk` without a topology walks it, `nextprobe chart`
    prints it.

    Its topologies are those that have an appearance of it; the tests that all of them and all its
    outer faults speak of are done before one knows which it is.
    """

    unopened: Name
    """Its name; no topology has it."""
    says: Sentence
    """What it is, in words."""
    unit: Text
    """What one calls such a unit: lamp."""
    settled: Annotated[float, Field(gt=0.5, lt=1)]
    """The odds of one topology from which the walk goes on in it."""
    inside: Annotated[float, Field(gt=0)]
    """Of the cases that its outer faults count, too, in how many the cause lay in the
    electronics."""
    strength: Annotated[float, Field(gt=0)]
    """How many cases of a shop's own all those counts are worth, between them."""
    apart: dict[Name, ClosedTest] = {}
    """Tests of the closed unit for what lies outside its electronics."""
    rigs: dict[Name, ClosedRig] = {}
    """Rigs of its topologies, in words that hold for all of them."""
    source: Sentence
    """Where its shares and odds are known from; its chart says so."""


class Look(Entry):
    """Something that one can see, feel or be told of a unit, and that tells its kind."""

    look: Name
    """Its name."""
    of: Name
    """The unopened unit that it is asked of."""
    asks: Sentence
    """The question; that nobody can say is an answer to each."""
    by: Literal["eye", "hand", "owner"]
    """Who or what answers it."""
    once: dict[Name, tuple[Name, ...]] = {}
    """It is asked once another look was answered so."""
    behind: str = ""
    """The opening after which it is seen, where that is not from outside; one that topologies of
    this unit have."""
    minutes: Minutes
    """Minutes that it takes."""
    answers: Annotated[dict[Name, Text], Field(min_length=2)]
    """Its answers, and each in words."""
    misread: Share = 0.02
    """How often one answers it wrongly."""
    source: Sentence
    """Where that it tells kinds apart is known from."""


class OuterFault(Entry):
    """What may be wrong with a unit outside its electronics: cord, plug, switch, holder."""

    outer: Name
    """Its name."""
    of: Name
    """The unopened unit that may have it."""
    says: Sentence
    """What is wrong, in words."""
    cases: Annotated[float, Field(gt=0)]
    """In how many cases that was the cause, counted beside those `inside` of its unit."""
    remedy: Sentence
    """What is done about it."""
    kind: Literal["repair", "outside", "refuse"]
    """`repair` is proved before the unit is handed back, as any; `outside` is the owner's to mend;
    `refuse` hands the unit on to somebody who knows it."""
    how: Sentence
    """How it is done."""
    minutes: Minutes
    """Minutes of the remedy."""
    hazards: tuple[Name, ...] = ()
    """Hazards of the remedy."""
    complaints: dict[Name, Annotated[float, Field(ge=1)]] = {}
    """How many times likelier a complaint makes it, as `by` of a rule's `weigh` does."""
    looks: dict[Name, Odds]
    """The odds of each answer, by look."""
    shows: dict[Name, Odds]
    """The odds of each answer, by test of the closed unit; what it is silent about is not asked
    before the kind is known."""
    source: Sentence
    """Where its cases and odds are known from."""


class Appearance(Entry):
    """What one sees of a topology before one knows that it is this one."""

    appearance: Name
    """The topology."""
    of: Name
    """The unopened unit that it may turn out of."""
    cases: Annotated[float, Field(gt=0)]
    """Of the units whose electronics failed, how many are of this topology: only the ratios of
    these count."""
    looks: dict[Name, Odds]
    """The odds of each answer, by look."""
    source: Sentence
    """Where they are known from."""
