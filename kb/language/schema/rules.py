"""Rules, and the words they are made of: facts, quantities, places, scenes, numbers, doubts."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from kb.language.schema.entry import Entry, Name, Sentence, Text

Clause = dict[Name, dict[Name, Any]]


def _single(clauses: tuple[Clause, ...]) -> tuple[Clause, ...]:
    for clause in clauses:
        if len(clause) != 1:
            raise ValueError("each line names one kind of fact, such as `- part: {...}`")
    return clauses


class Rule(Entry):
    """A trade rule: where these facts stand, and none of `unless`, those follow."""

    id: Name
    """Its name; it reads as the headline of its sentence."""
    says: Sentence
    """The rule as a tradesman would say it, for the person who asks why."""
    step: Name
    """`survey`, `offer`, `suppose` or `conclude`. The file may give it once for all its rules."""
    when: Annotated[tuple[Clause, ...], Field(min_length=1)]
    """Conditions that must all hold, each of one kind of fact or one quantity."""
    unless: tuple[Clause, ...] = ()
    """Conditions of which none may hold. They may name only what stands before the step begins."""
    then: Annotated[tuple[Clause, ...], Field(min_length=1)]
    """What follows: facts, or claims about quantities."""
    source: Sentence
    """Where the rule and its numbers are known from."""

    @field_validator("when", "unless", "then")
    @classmethod
    def _one_fact_each(cls, clauses: tuple[Clause, ...]) -> tuple[Clause, ...]:
        return _single(clauses)


class Narrowing(Entry):
    """A change to one rule that is there, without a copy of it: asked for more, in some units only,
    answered otherwise, or followed from other conditions too.

    A rule of safety can be extended, never narrowed (KB109).
    """

    narrowing: Name
    """Its name."""
    rule: Name
    """The rule that it changes."""
    says: Sentence
    """What is different, as a tradesman would say it."""
    units: tuple[Name, ...] = ()
    """The topologies in which it holds; elsewhere the rule stands as it was. Without any, it holds
    everywhere."""
    when: tuple[Clause, ...] = ()
    """Conditions on top of the rule's own; its variables can be used."""
    unless: tuple[Clause, ...] = ()
    """Conditions of which none may hold, on top of the rule's own."""
    instead: tuple[Clause, ...] = ()
    """What follows instead of all that the rule concludes."""
    also_when: tuple[Clause, ...] = ()
    """Other conditions from which the same follows; they bind the variables that it uses."""
    source: Sentence
    """Where that is known from."""

    @field_validator("when", "unless", "instead", "also_when")
    @classmethod
    def _one_fact_each(cls, clauses: tuple[Clause, ...]) -> tuple[Clause, ...]:
        return _single(clauses)


class FactKind(Entry):
    """A kind of fact that rules may name, with its fields."""

    fact: Name
    """The name by which rules know it."""
    says: Sentence
    """What it means, in words."""
    fields: dict[Name, Sentence]
    """Its fields, each with what it holds: a text, unless it is listed under `numbers` or
    `truths`."""
    numbers: tuple[Name, ...] = ()
    """Those of its fields that hold a number."""
    truths: tuple[Name, ...] = ()
    """Those of its fields that hold true or false."""
    optional: tuple[Name, ...] = ()
    """Those of its fields that a fact may lack. A rule that concludes it gives all others, and no
    condition on a field is met by a fact that lacks it."""

    @model_validator(mode="after")
    def _of_its_fields(self) -> FactKind:
        listed = (*self.numbers, *self.truths, *self.optional)
        if strange := [name for name in listed if name not in self.fields]:
            raise ValueError(f"{strange[0]} is listed, but is none of the fields")
        if both := set(self.numbers) & set(self.truths):
            raise ValueError(f"{min(both)} holds either a number or a truth")
        return self

    @property
    def needs(self) -> tuple[str, ...]:
        """The fields that a fact of this kind always has, in order."""
        return tuple(name for name in self.fields if name not in self.optional)


class Quantity(Entry):
    """Something looked at or measured; of several claims about it the gravest value holds."""

    quantity: Name
    """The name by which rules know it."""
    says: Sentence
    """What it is, in words."""
    values: dict[Name, Sentence]
    """Its values in words, from the gravest to the sound one."""
    otherwise: Name
    """The value that holds where no rule claims any."""


class PlaceWord(Entry):
    """A place a part can have in a stage."""

    place: Name
    """The name of the place."""
    says: Sentence
    """What stands there, in words."""
    lies: Literal["in-line", "across", "beside"]
    """`in-line`: power runs through the part, from one node to the next. `across`: it hangs
    between the line and its return. `beside`: neither; rules know it by its place."""
    blocks: bool = False
    """Whether a charge behind the part can't be met in front of it: a rectifier, a switch, a
    transformer."""
    isolates: bool = False
    """Whether what is behind the part has no conductor in common with the mains."""


class SceneWord(Entry):
    """What surrounds the unit while it is tried."""

    scene: Name
    """The scene's name."""
    says: Sentence
    """What it is, in words."""
    values: tuple[Name, ...]
    """Its values. The first stands unless a test, a rig or the owner's use says otherwise."""


class DoctrineNumber(Entry):
    """A number the whole trade is judged by, such as the minutes a wrong verdict costs.

    Those of safety have bounds from standards; knowledge of your own can be stricter only.
    """

    number: Name
    """The number's name."""
    value: float
    """The number itself."""
    says: Sentence
    """What it counts, in words."""
    source: Sentence
    """Where it is known from."""


class Doubt(Entry):
    """Something that can't be right about how a unit is built; `nextprobe check` remarks on it."""

    doubt: Name
    """Its name."""
    says: Sentence
    """What is wrong, in words."""
    at: str
    """Which part it concerns, or `unit`."""
    when: Annotated[tuple[Clause, ...], Field(min_length=1)]
    """Conditions as in a rule."""
    unless: tuple[Clause, ...] = ()
    """Conditions as in a rule, of which none may hold."""
    over: tuple[str, str] | None = None
    """Two numbers, variables or expressions after `= `: it is a doubt only where the first is over
    the second."""
    source: Sentence
    """Where that is known from."""


class DutyWord(Entry):
    """What a unit does for its owner, with the words in which it is asked for.

    A topology names it under `does`. Rules look at it by the fact `duty`.
    """

    duty: Name
    """Its name, for `does` in a topology."""
    says: Sentence
    """What the unit does, in words."""
    looks_at: Name
    """The quantity that tells how well it does it: `light`, `service`, or one of your own."""
    verb: Text
    """As in `does it light?`."""
    works: Name
    """As in `it lights`; also the answer."""
    idle: Name
    """The answer where it does not: `dark`, `still`."""
    stays: Sentence
    """That in words: `stays dark`."""
    races: Name
    """The answer where it does far too much: `glares`."""
    noun: Sentence
    """What is watched: `the light`."""
    rest: Sentence
    """What is good if it does so with a part bridged: `driver and LEDs`."""
    live: Sentence
    """What is live of it on opened mains, a whole sentence."""
    load: Sentence
    """What a new board must be made for, beside the mains."""
    tries: Sentence
    """What is tried of it once it is repaired."""
    source: Sentence
    """Where that is known from."""
