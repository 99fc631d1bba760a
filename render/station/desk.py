"""Taking a unit in: which kinds there are, what the owner's words may mean, the case begun."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from engine import library
from engine.cases.records import Intake
from engine.cases.shop import Shop
from engine.intake.suggestion import listener
from engine.model.records import Model, sha256
from kb.language import benchfile, loader
from render.cli import learnt
from render.cli.briefing import Brief
from render.cli.options import Depth, Mains
from render.station.turns import AmissError, Form
from render.wording.odds import percent

_MOST_UNIT, MOST_TYPED = 120, 500
_ONCE = 256
"""Takings-in that are remembered, so that a form sent twice begins one case."""
TEXTS = ("unit", "words", "topology", "mains", "complaint")


@dataclass(frozen=True, slots=True)
class Likely:
    """A complaint that the owner's words may mean."""

    complaint: str
    says: str
    odds: str
    because: tuple[str, ...]


class Desk:
    """Where units are taken in: `kb` is the shop's own knowledge, `mains` what it is on."""

    def __init__(self, kb: Path | None, mains: Mains, seconds: float) -> None:
        self.kb, self.mains, self.seconds = kb, mains, seconds
        self._folders = (kb,) if kb is not None else ()
        self._once: OrderedDict[str, int] = OrderedDict()
        self._guard = threading.Lock()

    def offers(self, form: Form) -> dict[str, Any]:
        """What the first page offers, filled in as far as the form is."""
        knowledge = loader.read(self._folders)
        kinds: dict[str, Any] = {**knowledge.arrangements, **knowledge.instruments}
        unusual = benchfile.unusual(knowledge)
        fields = {name: form.one(name) for name in TEXTS}
        fields["mains"] = fields["mains"] or self.mains.value
        return {
            "units": library.topologies(self._folders),
            "unopened": library.unopened(self._folders), "mains": [one.value for one in Mains],
            "fields": fields,
            "lackable": [
                (name, kinds[name].says)
                for name in benchfile.lackable(knowledge) if name not in unusual
            ],
        }  # fmt: skip

    def meanings(self, form: Form) -> dict[str, Any]:
        """What the owner's words may mean. AmissError where no kind of unit is named."""
        self.check_topology(form.one("topology"))
        complaints = loader.read(self._folders).complaints
        hits = listener().hear(form.one("words")[:MOST_TYPED])
        elsewhere = [hit.says for hit in hits if hit.complaint not in complaints]
        likely = self.likely(form.one("words"))
        names = {one.complaint for one in likely}
        return {
            "fields": {name: form.one(name) for name in TEXTS}, "without": form.all("without"),
            "likely": likely, "elsewhere": elsewhere[0] if elsewhere and not likely else "",
            "others": [(n, entry.says) for n, entry in complaints.items() if n not in names],
        }  # fmt: skip

    def likely(self, words: str) -> list[Likely]:
        """The complaints of units here that the owner's words may mean, three at most."""
        complaints = loader.read(self._folders).complaints
        return [
            Likely(hit.complaint, hit.says, percent(hit.odds), hit.because)
            for hit in listener().hear(words[:MOST_TYPED]) if hit.complaint in complaints
        ]  # fmt: skip

    def begin(self, shop: Shop, form: Form) -> tuple[Brief, str]:
        """The brief of a case, and the name of the form it came by. AmissError, TroubleError."""
        topology = self.check_topology(form.one("topology"))
        try:
            mains = Mains(form.one("mains") or self.mains.value)
        except ValueError as wrong:
            raise AmissError(mains="Choose one of these mains.") from wrong
        brief = Brief(
            topology=topology, mains=mains, depth=Depth.PART,
            complaint=form.one("complaint") or None, kb=self.kb,
            without=tuple(dict.fromkeys(form.all("without"))), model=None, seconds=self.seconds,
            unit=" ".join(form.one("unit").split())[:_MOST_UNIT],
            words=" ".join(form.one("words").split())[:MOST_TYPED],
        )  # fmt: skip
        return learnt.learning(brief, shop), form.one("once")

    def keep(self, shop: Shop, brief: Brief, model: Model, once: str) -> int:
        """Begin the case, or give the one that the same form began before: its number."""
        with self._guard:
            if once in self._once:
                return self._once[once]
            intake = Intake(
                topology=model.topology, mains=(model.mains.volts, model.mains.hertz),
                depth=model.depth, complaint=model.complaint, unit=brief.unit, words=brief.words,
                options=brief.options, knowledge=model.knowledge, model_sha256=sha256(model),
            )  # fmt: skip
            number, _ = shop.begin(intake)
            if once:
                self._once[once] = number
                while len(self._once) > _ONCE:
                    self._once.popitem(last=False)
            return number

    def check_topology(self, name: str) -> str:
        """The kind of unit of that name. AmissError for none."""
        units = (*library.topologies(self._folders), *library.unopened(self._folders))
        if name not in {note.id for note in units}:
            raise AmissError(topology="Say which kind of unit it is.")
        return name


def as_typed(form: Form, most: int = MOST_TYPED) -> Form:
    """The form with none of its texts longer than it may be."""
    return replace(
        form, fields={name: tuple(t[:most] for t in texts) for name, texts in
                      form.fields.items()}
    )  # fmt: skip
