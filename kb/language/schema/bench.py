"""The bench: supply arrangements, instruments, methods, and words for what is done."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from kb.language.schema.entry import Entry, Minutes, Name, Sentence, Span


class DoingWord(Entry):
    """A word for what a rig does to a unit, with the hazards of it.

    A word of your own is always fitted by hand.
    """

    doing: Name
    """The word that rigs name under `does`."""
    says: Sentence
    """What is done, in words."""
    hands: bool
    """Whether fitting it brings hands to the circuit."""
    live: Literal["none", "lead", "source"]
    """What of it carries the circuit's potential once the unit is powered: nothing, a `lead` that
    joins points of the circuit, a `source` of its own."""
    heat: bool
    """Whether it takes a hot iron."""
    how: str = ""
    """How the leads that it is read at are brought out of the unit."""
    side: str = ""
    """The side of the stage where it is clipped on, where it is done to a stage."""
    overcomes: tuple[Name, ...] = ()
    """The acts of the part it is fitted to that no longer show then."""
    source: Sentence
    """Where that is known from."""


class ReachWord(Entry):
    """A way of finding a part on a board that nobody has a drawing of, and what it takes."""

    reach: Literal["glance", "pin", "tracing", "stage"]
    """`glance`, `pin` and `tracing` are the ways of finding a part; `stage` is the drawing of a
    stage whose kind gives no minutes of its own."""
    says: Sentence
    """The way in words."""
    how: str = ""
    """How it is done, told where nothing nearer is known."""
    span: Span
    """The minutes it takes."""


class ActionWord(Entry):
    """A word for what is done in a test, and whether it brings hands to the circuit.

    A word of your own always brings hands; what brings none is `watch` or `ask`.
    """

    action: Name
    """The word that tests name under `action`."""
    says: Sentence
    """What is done, in words."""
    hands: Literal["always", "unless-rigged", "never"]
    """When hands come to the circuit. `unless-rigged`: what was clipped on is read from afar; with
    no rig, hands hold the probes."""
    source: Sentence
    """Where that is known from."""


class ArrangementEntry(Entry):
    """A supply arrangement of the bench. Exactly one has `energy: none`.

    One of your own can be for closed units on mains, for up to 60 V (`elv`, a plain number), or a
    high direct voltage fed to a part. An opened unit meets mains only through the shipped, limited
    arrangements (KB113).
    """

    arrangement: Name
    """The arrangement's name."""
    says: Sentence
    """What it is, in words."""
    how: Sentence
    """How it is connected, for the person at the bench."""
    energy: Literal["none", "elv", "hvdc", "mains"]
    """What it brings: nothing, extra-low voltage, high direct voltage, or mains."""
    volts: str
    """The most it can bring: a number, or `= $volts`, `= $peak`, `= $mean` of the mains."""
    hands_on: bool
    """Whether hands may touch the circuit on it; only with `none` and `elv`."""
    closed_only: bool
    """Whether the unit must be closed on it."""
    isolated: bool = False
    """Whether it is behind an isolating transformer."""
    feeds: Name = "unit"
    """What it is connected to."""
    connect_minutes: Minutes
    """Minutes to go over to it from being unplugged."""
    leave_minutes: Minutes
    """Minutes to go back to being unplugged."""
    needs: tuple[Name, ...] = ()
    """Instruments or outfits without which it can't be made."""
    usual: bool = True
    """Whether every bench has it unless its bench file says otherwise."""
    source: Sentence
    """Where that is known from."""

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

    It is told where one of its `arrangements`, `rigs`, `proofs` or `actions` is used. Your own
    folder can add methods, never replace one.
    """

    method: Name
    """The method's name."""
    says: Sentence
    """What is done, in words."""
    steps: Annotated[tuple[Sentence, ...], Field(min_length=1)]
    """The steps, in the order of the hands."""
    arrangements: tuple[Name, ...] = ()
    """Supply arrangements that it belongs to."""
    rigs: tuple[Name, ...] = ()
    """Rigs that it belongs to, by what they do."""
    proofs: tuple[Name, ...] = ()
    """Proofs that it belongs to."""
    actions: tuple[Name, ...] = ()
    """Actions of tests that it belongs to."""
    charged: bool = False
    """Whether it is told only of a unit that can stay charged."""
    kit: tuple[Sentence, ...] = ()
    """What must lie ready for it."""
    source: Sentence
    """Where it is known from."""

    @model_validator(mode="after")
    def _of_something(self) -> MethodEntry:
        if not (self.arrangements or self.rigs or self.proofs or self.actions):
            raise ValueError("it names no arrangements, rigs, proofs or actions, so is never told")
        return self


class Instrument(Entry):
    """An instrument a shop may have or lack. Rules ask for it by `bench: {has: NAME}`."""

    instrument: Name
    """The instrument's name."""
    says: Sentence
    """What it is, in words."""
    usual: bool = True
    """Whether every bench has it unless its bench file says otherwise."""
