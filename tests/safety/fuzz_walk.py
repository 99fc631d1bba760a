"""Random walks with people as they are, every step shown to the witness before it is done.

People answer, are unsure, know things already, can't do this, lack that, take words back, leave and
come back, stop, measure a store that is still charged or can't be reached, carry out something else
than was asked, and go on after a verdict. Whatever they do, the walk must keep the law.

All is seeded: `walked(unit, seed)` is the same walk each time.
"""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from engine import library
from engine.model.records import Mains, Model
from engine.model.records import document as model_document
from engine.walk import entry, events, job, record, undo
from engine.walk.ending import conclude
from engine.walk.state import Outset, Walk
from kb.language.loader import as_shipped
from kb.trouble import TroubleError
from tests.safety.charged_models import charged_model
from tests.safety.random_planner import RandomPlanner
from tests.safety.witness_law import Breach, Document
from tests.safety.witness_walk import Witness, kind_of

MOST_STEPS = 40
MAINS = (Mains(230.0, 50.0), Mains(120.0, 60.0))

Key = tuple[str, int, str, str | None]
"""A shipped unit: topology, place in `MAINS`, depth, complaint."""

Answers = tuple[tuple[str, str], ...]
"""What was answered at the entry check, by question."""


@dataclass(frozen=True, slots=True, eq=False)
class Unit:
    """A unit to walk: its model, the document the witness reads, and what it is called."""

    name: str
    model: Model
    document: Document


@dataclass(slots=True)
class Account:
    """What happened on walks: how often each thing, and the breaches with where they stood."""

    counts: Counter[str] = field(default_factory=Counter)
    kinds: Counter[str] = field(default_factory=Counter)
    examples: dict[str, str] = field(default_factory=dict)
    walks_with: Counter[str] = field(default_factory=Counter)

    def add(self, other: Account) -> None:
        """Take in the account of other walks."""
        self.counts += other.counts
        self.kinds += other.kinds
        self.walks_with += other.walks_with
        self.examples = other.examples | self.examples


@lru_cache(maxsize=16)
def shipped(topology: str, mains: int, depth: str, complaint: str | None) -> Unit:
    """A shipped unit, deduced once and kept by the library; `mains` counts in `MAINS`."""
    model = library.model(topology, mains=MAINS[mains], depth=depth, complaint=complaint)
    volts = f"{MAINS[mains].volts:g}"
    name = f"{topology} {volts} {depth} {complaint or '-'}"
    return Unit(name, model, model_document(model))


def shipped_keys() -> list[Key]:
    """Every shipped topology at both mains and depths, with and without each complaint."""
    complaints = (None, *sorted(as_shipped().complaints))
    return [
        (topology.id, mains, depth, complaint)
        for topology in library.topologies()
        for mains in range(len(MAINS))
        for depth in ("stage", "part")
        for complaint in complaints
    ]


def handmade(seed: int) -> Unit:
    """A random unit that holds charge."""
    return Unit(f"handmade {seed}", *charged_model(seed))


@lru_cache(maxsize=256)
def outset_of(unit: Unit, answers: Answers = ()) -> tuple[Outset, frozenset[str]]:
    """What a walk of the unit starts from, and the arrangements the entry check bars."""
    model = unit.model
    admission = entry.admit(model, dict(answers))
    outset = Outset(
        model,
        withdrawn=entry.barred_tests(model, admission),
        entry=admission.answers,
        cold_first=entry.cold_checks(model, admission),
    )
    return outset, entry.barred_supplies(model, admission)


def walked(unit: Unit, seed: int, *, heedless: bool = False) -> Account:
    """One random walk of the unit, watched."""
    return _Driver(unit, seed, heedless).driven()


class _Stop(Exception):
    """The person stops here."""


class _Driver:
    """One person with one unit."""

    def __init__(self, unit: Unit, seed: int, heedless: bool) -> None:
        self.unit, self.seed, self.chance = unit, seed, random.Random(seed)
        self.planner = RandomPlanner(seed, self.chance.randint(1, 5), heedless)
        self.account = Account()
        self.trace: list[str] = []
        faults = unit.model.faults
        self.fault = self.chance.choices(faults, [fault.prior for fault in faults])[0].id
        outset, barred = outset_of(unit, self._entry())
        self.witness = Witness(unit.document, barred)
        self.walk = job.begin(outset, self.planner)

    def _entry(self) -> Answers:
        """Answers of the entry check, mostly harmless; never one that turns the unit away."""
        told = {}
        for question in self.unit.model.entry:
            ways = {a: f for a, f in question.answers.items() if f not in ("scrap", "refuse")}
            plain = [a for a, follows in ways.items() if follows == "go-on"]
            told[question.id] = self.chance.choice(list(ways) if self._now(0.15) else plain)
        return tuple(told.items())

    def _now(self, share: float) -> bool:
        return self.chance.random() < share

    def driven(self) -> Account:
        """Walks until the person has had enough; the account of it."""
        self.account.counts["walks"] += 1
        try:
            for _ in range(MOST_STEPS):
                self._step()
        except _Stop:
            pass
        except Exception as fall:  # a walk that falls over leaves a person with an open unit
            self._tell(Breach("falls-over", type(fall).__name__, str(fall)))
        for kind in list(self.account.kinds):
            self.account.walks_with[kind] += 1
        return self.account

    def _step(self) -> None:
        ahead = job.pending(self.walk)
        kind = kind_of(ahead)
        self.account.counts["steps"] += 1
        self.account.counts[f"{kind}s"] += 1
        ending = conclude(self.walk) if kind == "verdict" else None
        for breach in self.witness.sees(ahead, ending):
            self._tell(breach)
        before = self.walk
        {
            "setting": self._carry_out,
            "question": self._reply,
            "halt": self._at_halt,
            "verdict": self._after_verdict,
        }[kind](ahead)
        if kind == "verdict" and self.walk is not before:
            self.witness.goes_on_after_verdict()

    def _tell(self, breach: Breach) -> None:
        self.account.kinds[breach.kind] += 1
        where = f"{self.unit.name}, seed {self.seed}: {breach.place}: {breach.says}"
        self.account.examples.setdefault(breach.kind, f"{where}\n      after {self._lately()}")

    def _lately(self) -> str:
        return " > ".join(self.trace[-6:]) or "nothing"

    # ---- acts ----

    def _take(self, event: Any, *, meant: bool = True) -> bool:
        """Whether the walk takes the event; one that it asked for itself must be taken."""
        try:
            walk = job.take(self.walk, event)
        except TroubleError as refusal:
            self.account.counts["refusals"] += 1
            if meant:
                says = f"{event}: {refusal}".replace("\n", " ")
                self._tell(Breach("asks-and-refuses", type(event).__name__, says))
                raise _Stop from refusal
            return False
        self.trace.append(_short(event))
        self.walk = walk
        self.witness.reads(walk.events)
        return True

    def _any_of(self, *acts: tuple[float, Callable[[], None]]) -> None:
        """One of these acts, by their weights."""
        weights = [weight for weight, _ in acts]
        self.chance.choices([act for _, act in acts], weights)[0]()

    def _carry_out(self, setting: Any) -> None:
        self._any_of(
            (80, lambda: self._arrive(setting)),
            (8, lambda: self._arrive(setting, spoil=True)),
            (3, lambda: self._forge(setting)),
            (4, lambda: self._lack(setting.bench.supply, setting.bench.rig, setting.opened)),
            (3, self._know),
            (2, lambda: self._cannot(setting.test)),
            (4, self._undo),
            (3, self._come_back),
            (0.5, self._give_up),
        )

    def _reply(self, question: Any) -> None:
        test = self.unit.model.test(question.test)
        self._any_of(
            (70, lambda: self._answer(test.id)),
            (8, self._know),
            (8, lambda: self._cannot(test.id)),
            (4, lambda: self._lack(test.supply, test.rig, test.opened)),
            (8, self._undo),
            (3, self._come_back),
            (2, lambda: self._forge(None)),
            (0.5, self._give_up),
        )

    def _at_halt(self, halt: Any) -> None:
        self._any_of(
            (3, self._give_up), (1, self._know), (1, self._undo), (1, self._come_back),
            (1, lambda: self._forge(None)),
        )  # fmt: skip

    def _after_verdict(self, ahead: None) -> None:
        if self._now(0.45):
            raise _Stop
        self.account.counts["beyond a verdict"] += 1
        self._any_of(
            (4, self._unmended), (2, self._know), (2, self._undo), (1, self._come_back),
            (1, lambda: self._cannot(self.chance.choice(self.unit.model.tests).id)),
        )  # fmt: skip

    def _give_up(self) -> None:
        self.account.counts["stops"] += 1
        raise _Stop

    def _arrive(self, setting: Any, *, spoil: bool = False) -> None:
        """The set-up is carried out; `spoil`: a store is still charged, or can't be reached."""
        event = setting.event if not hasattr(setting, "arrival") else None
        if event is None:
            volts = {store.part: self._volts(store, spoil) for store in setting.make_safe}
            spoilt = any(v is None or abs(v) >= 30 for v in volts.values())
            self.account.counts["stores not low"] += spoilt
            event = setting.arrival(volts)
        # A store that is over its limit does not make the step done: it must be refused.
        charged = {store.part: store.below for store in setting.make_safe}
        over = event.measured if hasattr(event, "measured") else ()
        high = any(m.volts is not None and abs(m.volts) >= charged[m.part] for m in over)
        if not self._take(event, meant=not high):
            return
        if high:
            self._tell(Breach("takes-a-charged-store", type(event).__name__, str(event)))
        self.witness.arrives(event, setting)

    def _volts(self, store: Any, spoil: bool) -> float | None:
        if not spoil or self._now(0.3):
            return self.chance.choice([0.0, 0.4, 12.0, -3.0, store.below - 0.5])
        return self.chance.choice([None, None, store.below + 1, 310.0, -90.0])

    def _forge(self, setting: Any) -> None:
        """Something else than what was asked for is said to be carried out."""
        model, bench = self.unit.model, self.walk.bench
        opened = set(bench.opened) | {o.id for o in model.openings if self._now(0.3)}
        supply = self.chance.choice([bench.supply, *(a.id for a in model.supply.arrangements)])
        rig = self.chance.choice([bench.rig, *(r.id for r in model.rigs)])
        if setting is not None and self._now(0.5):
            opened, supply, rig = set(setting.bench.opened), setting.bench.supply, setting.bench.rig
        event = events.Arrived(tuple(sorted(opened)), supply, rig)
        self.account.counts["forged arrivals"] += 1
        if self._take(event, meant=False):
            # A walk that takes it is told it was done as it stands there, nothing measured.
            self.account.counts["forged arrivals taken"] += 1
            honest = setting is not None and not hasattr(event, "measured")
            self.witness.arrives(event, setting if honest else None)

    def _answer(self, test: str) -> None:
        """An answer that no fault shows, even misread, may be refused: the person says another."""
        self._take(events.Answered(*self._finding(test)), meant=False)

    def _know(self) -> None:
        left = [t.id for t in self.unit.model.tests if t.id not in self.walk.done]
        if left:
            self._take(events.Known(*self._finding(self.chance.choice(left))), meant=False)

    def _finding(self, test_id: str) -> tuple[str, str, None, tuple[tuple[str, float], ...]]:
        """What the test shows on this unit, or anything; now and then between two outcomes."""
        test = self.unit.model.test(test_id)
        row: Mapping[str, float] = self.unit.model.row(test_id, self.fault)
        outcome = self.chance.choices(list(row), list(row.values()))[0]
        names = [o.id for o in test.outcomes]
        if self._now(0.25):
            outcome = self.chance.choice(names)
        others = [name for name in names if name != outcome]
        if not others or not self._now(0.12):
            return test_id, outcome, None, ()
        share = self.chance.choice([0.5, 0.6, 0.9])
        return test_id, outcome, None, ((outcome, share), (self.chance.choice(others), 1 - share))

    def _cannot(self, test: str) -> None:
        self._take(events.CannotDo(test), meant=False)

    def _lack(self, supply: str, rig: str, opened: Any) -> None:
        things = [("supply", supply), ("rig", rig), *(("opening", name) for name in opened)]
        self._take(events.Lacking(*self.chance.choice(things)), meant=False)

    def _undo(self) -> None:
        """Words are taken back, once or several times; no hand is."""
        for _ in range(self.chance.choice([1, 1, 2, 4])):
            if undo.can_undo(self.walk):
                self.walk = undo.undo(self.walk)
                self.trace.append("undo")
                self.account.counts["undos"] += 1
        self.witness.reads(self.walk.events)

    def _unmended(self) -> None:
        """The repair is done and the unit is as it was; unplugged first, where that is asked."""
        verdict = self.walk.plan.nodes[self.walk.node]
        unplug = getattr(_mending(), "unplugged", lambda walk: None)(self.walk)
        if unplug is not None and self._take(unplug, meant=False):
            self.witness.arrives(unplug, None)
        self._take(events.Unmended(getattr(verdict, "remedy", "")), meant=False)
        self.account.counts["not mended"] += 1

    def _come_back(self) -> None:
        """The walk is saved, the bench left, the walk reopened."""
        saved = record.reopen(json.loads(json.dumps(record.document(self.walk))), "walk.json")
        self.walk: Walk = job.replay(self.walk.outset, saved.events, self.planner)
        self.trace.append("resume")
        self.account.counts["resumes"] += 1
        away = getattr(events, "Away", None)
        if away is not None:
            self._take(away())
        self.witness.leaves()


def _mending() -> Any:
    """The engine's module of repairs that did not help; an empty one where it has gone."""
    try:
        from engine.walk import mending
    except ImportError:
        return None
    return mending


def _short(event: Any) -> str:
    """An event in a few words."""
    words = [str(getattr(event, name)) for name in ("test", "outcome", "thing", "remedy", "opened",
             "supply", "rig", "measured") if getattr(event, name, None)]  # fmt: skip
    return f"{type(event).__name__} {' '.join(words)}".strip()
