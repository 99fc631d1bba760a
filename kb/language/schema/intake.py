"""What a unit comes in with: complaints, the questions of the entry check, and cautions."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from kb.language.schema.entry import Entry, Name, Sentence, Text


class CautionEntry(Entry):
    """A caution for one hazard, told at every step where rules conclude that hazard.

    Your own folder can add cautions, never replace one. A hazard needs a caution that holds for
    every unit (KB608).
    """

    id: Name
    """The caution's name."""
    hazard: Name
    """The hazard it is for."""
    signal: Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
    """DANGER: not avoided, it will kill or seriously injure. WARNING: it could. CAUTION: it could
    injure slightly or moderately. NOTICE: it is not about injury."""
    says: Sentence
    """The words of warning."""
    without_leds: str = ""
    """The words for a unit that has no LEDs, where those of `says` speak of them."""
    only_for: str = ""
    """A trait of the unit without which the caution would be untrue, such as `non-isolated`."""
    source: Sentence
    """Where that is known from."""


class ComplaintEntry(Entry):
    """A complaint the intake desk knows."""

    complaint: Name
    """The complaint's name, for `--complaint`."""
    says: Sentence
    """What the owner reports, in words."""
    second_start: bool = False
    """Whether it stands for all complaints after which no unit is just plugged in: every chart
    for another complaint then has a second START for it."""


class EntryCheck(Entry):
    """A question put before anything is opened or plugged in.

    With `complaints` or `after` it is put only where one of them holds; with neither, always. One
    that is due and not answered keeps the unit from everything energised.
    """

    question: Name
    """The question's name."""
    asks: Sentence
    """The question itself."""
    answers: dict[Text, Literal["go-on", "cold-first", "cold-only", "scrap", "refuse"]]
    """Its answers, and where each leads: `go-on`; `cold-first`, cold checks and then the limiter
    only; `cold-only`, nothing is energised; `scrap`; `refuse`."""
    why: Sentence
    """Why it is asked."""
    complaints: tuple[Name, ...] = ()
    """It is put where the owner's complaint is one of these."""
    after: dict[Name, Annotated[tuple[Text, ...], Field(min_length=1)]] = {}
    """It is put where one of these other questions got one of the answers listed, such as
    `after: {bang-smell-trip: ["breaker or RCD tripped"]}`."""
    complains: dict[Text, Name] = {}
    """Answers that are a complaint in themselves, taken where the owner named none or only a
    symptom: a bang decides how the job begins."""
    source: Sentence
    """Where that is known from."""

    @model_validator(mode="after")
    def _complaints_of_answers(self) -> EntryCheck:
        for answer in self.complains:
            if answer not in self.answers:
                raise ValueError(f'complains names "{answer}", which is none of the answers')
        return self
