"""One person at one case: takes an event, saves it, gives the next question.

Terminal and page share this. Whatever is acknowledged is on the disk; where another program has
gone on with the case meanwhile, nothing is written over and a `TroubleError` says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from engine.cases.records import Case, Intake, Standing
from engine.cases.shop import Shop
from engine.model.records import Model
from engine.walk import job, record, undo
from engine.walk.entry import Admission
from engine.walk.events import Event
from engine.walk.job import Halt, Question, Setting, Walk

Events = tuple[Mapping[str, Any], ...]


class Sitting:
    """A case of a shop at the version that this sitting knows, and its walk once it is begun."""

    def __init__(self, shop: Shop, number: int, version: int, events: Events = ()) -> None:
        self.shop = shop
        self.number = number
        self.version = version
        self._events = events
        self._walk: Walk | None = None

    @classmethod
    def begin(cls, shop: Shop, intake: Intake) -> Sitting:
        """A new case. TroubleError where it can't be kept."""
        return cls(shop, *shop.begin(intake))

    @classmethod
    def go_on(cls, shop: Shop, case: Case) -> Sitting:
        """A case as it was read from the shop."""
        return cls(shop, case.number, case.version, case.standing.events)

    @property
    def walk(self) -> Walk:
        """The walk as it stands; a sitting has one once `keep` was given it."""
        assert self._walk is not None
        return self._walk

    @property
    def ahead(self) -> Setting | Question | Halt | None:
        """What comes next: a set-up, a question, a stop; None at the verdict."""
        return job.pending(self.walk)

    def take(self, event: Event) -> Setting | Question | Halt | None:
        """Take one more event, keep it, and give what comes next. TroubleError for an event that
        can't be, or a case that can't be written (CS105 to CS113); the walk is then as before."""
        self.keep(job.take(self.walk, event))
        return self.ahead

    def undo(self) -> Setting | Question | Halt | None:
        """Take the last answer back and keep that. TroubleError as `take`."""
        self.keep(undo.undo(self.walk))
        return self.ahead

    def keep(self, walk: Walk) -> None:
        """Keep how a walk stands. TroubleError CS112 where another program has written since."""
        self._save(record.document(walk))
        self._walk = walk

    def keep_entry(
        self, model: Model, answers: Mapping[str, str], options: Mapping[str, str]
    ) -> None:
        """Keep the entry check's answers so far; events of a walk that is gone on with stay."""
        self._save({**record.taken_in(model, answers, options), "events": self._events})

    def turn_away(self, model: Model, admission: Admission, options: Mapping[str, str]) -> None:
        """Keep that the entry check ended the job."""
        self._save({**record.turned_away(model, admission, options), "events": self._events})

    def turn_out(self, topology: str) -> None:
        """Keep what the unit turned out to be. TroubleError as `keep`."""
        self.version = self.shop.turn_out(self.number, self.version, topology)

    def _save(self, document: Mapping[str, Any]) -> None:
        standing = _standing(document)
        self.version = self.shop.keep(self.number, self.version, standing)
        self._events = standing.events


def _standing(document: Mapping[str, Any]) -> Standing:
    """What of a walk document a case keeps; the steps follow from the events."""
    return Standing(
        events=tuple(document["events"]),
        **{key: document[key] for key in _FIELDS},
    )


_FIELDS = ("entry", "options", "complaint", "knowledge", "model_sha256", "minutes", "verdict")
