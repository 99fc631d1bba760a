"""The walks that are under way: one for each case, in memory as long as it is the shop's newest.

Every request asks the shop at which version the case is. Where the walk in memory is at another, as
after a restart, or where a terminal or another server went on with the case, it is told anew from
what the shop keeps; the bench then counts as one that was left.
"""

from __future__ import annotations

import contextlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

from engine.cases.records import Case
from engine.cases.shop import Shop
from engine.cases.sitting import Sitting
from engine.model.notes import EntryQuestion
from engine.model.plan import Planner
from engine.model.records import Model
from engine.walk import entry, fitting, job
from engine.walk.acquaintance import reacquaint
from engine.walk.entry import Admission
from engine.walk.events import Event, Lacking
from engine.walk.job import Walk
from render.cli import casework, foresight, learnt, outset, turnout
from render.cli.briefing import Brief
from render.cli.onward import Onward
from render.terminal.takeback import Remarks

MOST = 48
"""Walks in memory: more benches than a shop has. Of those above, the one used last longest ago is
told anew when it is next asked for."""


@dataclass(frozen=True, slots=True)
class Check:
    """A case whose entry check is under way, or ended it: `question` is None then."""

    case: Case
    brief: Brief
    model: Model
    admission: Admission
    question: EntryQuestion | None
    place: int
    count: int

    @property
    def step(self) -> str:
        """What a form of it names."""
        return f"entry {self.question.id}" if self.question else "refused"


@dataclass(slots=True)
class Seat:
    """A case whose walk is under way: every change of it is kept before it counts."""

    case: Case
    brief: Brief
    planner: Planner
    sitting: Sitting
    walk: Walk
    onward: Onward
    turning_out: Callable[[Walk], str | None] = lambda walk: None
    """The topology that a unit which nobody had opened turned out to be."""
    remarks: Remarks = field(default_factory=Remarks)
    cleared: Walk | None = None
    """The verdict before whose repair the stores of charge were measured at this server."""

    @property
    def step(self) -> str:
        """What a form of the step that is due names, so that one of another step is told apart."""
        if (topology := self.turning_out(self.walk)) is not None:
            return f"turned-out {topology}"
        match job.pending(self.walk):
            case job.Question() as question:
                return f"test {question.test}"
            case job.Setting() as setting:
                parts = [store.part for store in setting.make_safe]
                bench = setting.bench
                return " ".join(("setup", bench.supply, bench.rig, *setting.opened, *parts))
            case job.Halt():
                return "halt"
            case None:
                return "verdict"

    def take(self, event: Event) -> None:
        """One more event. TroubleError where it can't be, or can't be kept."""
        self.keep(job.take(self.walk, event))

    def do_without(self, event: Event) -> None:
        """What can't be done or had; where less can be had, planned on a model made for that."""
        anew = None
        if isinstance(event, Lacking):
            anew = outset.without_supply(self.brief, self.walk, event, self.planner)
        self.keep(anew or job.take(self.walk, event))

    def mark(self, text: str) -> None:
        """A marking read off the unit, how it is built, or what a good one reads."""
        before = self.walk
        if fitting.is_build(text):
            after = job.take(before, fitting.build_event(before, text))
        else:
            marks = text.split()
            after = outset.acquaint(self.brief, before, marks, self.planner) or reacquaint(
                before, marks, {}
            )
        self.keep(after)
        self.remarks.note(text, before, after)

    def take_back(self) -> bool:
        """Take back the last thing said; False where there is nothing left."""
        back, says = self.remarks.take_back(self.walk)
        if says:
            self.keep(back)
        return bool(says)

    def keep(self, walk: Walk) -> None:
        """Keep how the walk stands, then go by it. TroubleError CS105 to CS113; the walk is then as
        before."""
        self.sitting.keep(walk)
        self.walk = walk


@dataclass(frozen=True, slots=True)
class Archive:
    """A case that is closed."""

    case: Case
    step: str = "closed"


Place = Check | Seat | Archive


class Seats:
    """The walks of one server, for a shop; `seconds` is the longest time to plan."""

    def __init__(self, shop: Shop, seconds: float) -> None:
        self.shop, self.seconds = shop, seconds
        self._seats: OrderedDict[int, Seat] = OrderedDict()
        # A case always has the same lock; that two may share one costs a moment's waiting.
        self._locks = tuple(threading.Lock() for _ in range(MOST))
        self._guard = threading.Lock()
        self._plans = foresight.KeptPlans()
        # Deducing a model takes seconds and all of a core: those who ask for the same wait for it.
        self._deducing = threading.Lock()

    @contextlib.contextmanager
    def at(self, number: int, who: str) -> Iterator[Place]:
        """A case as it stands now, for one person at a time. TroubleError CS111 for none."""
        with self._locks[number % MOST]:
            yield self._place(replace(self.shop, who=who), number)

    def leave(self, number: int) -> None:
        """Forget a walk: whoever goes on with it comes to a bench that was left."""
        with self._guard:
            self._seats.pop(number, None)

    def turn_out(self, seat: Seat) -> None:
        """Go on with a unit in the topology that it turned out to be, and keep that; nothing where
        that is not known. TroubleError as `Seat.keep`.

        Questions of the entry check that only the topology has are asked first: the case then is
        told anew from what is kept."""
        brief = turnout.turned_out(seat.brief, seat.walk)
        if brief is None:
            return
        model = self.model_of(brief)
        admission = entry.admit(model, outset.entry_of(brief))
        planner = self._planner(brief)
        walk = self._opening(brief, model, admission, planner)
        seat.sitting.turn_out(model.topology)
        seat.sitting.keep(walk)
        self._sit(Seat(seat.case, replace(brief, origin=None), planner, seat.sitting, walk,
                       Onward(brief)))  # fmt: skip
        if admission.unanswered or not admission.is_admitted:
            self.leave(seat.case.number)

    def model_of(self, brief: Brief) -> Model:
        """The model of a brief. TroubleError as `outset.model_of`."""
        with self._deducing:
            return outset.model_of(brief)

    def _place(self, shop: Shop, number: int) -> Place:
        case = shop.case(number)
        if case.state == "closed":
            self.leave(number)
            return Archive(case)
        with self._guard:
            seat = self._seats.get(number)
            if seat is not None:
                self._seats.move_to_end(number)
        if seat is not None and seat.sitting.version == case.version:
            seat.case = case
            seat.sitting.shop = shop
            return seat
        return self._anew(shop, case)

    def _anew(self, shop: Shop, case: Case) -> Place:
        brief = casework.brief_of(case, shop, self.seconds)
        if case.standing.options.get("priors") == learnt.BOTH:
            brief = learnt.learning(brief, shop)
        check = self._check(case, brief)
        if check.question is not None or not check.admission.is_admitted:
            return check
        return self._seat(shop, case, check)

    def _check(self, case: Case, brief: Brief) -> Check:
        """Where the entry check stands by the answers kept; they may bring out a complaint, and
        with that further questions."""
        model = self.model_of(brief)
        answers = case.standing.entry
        admission = entry.admit(model, answers)
        if admission.is_admitted and not admission.unanswered:
            complaint = outset.complaint_of(brief, model, admission)
            if complaint is not None and complaint != brief.complaint:
                brief = replace(brief, complaint=complaint)
                model = self.model_of(brief)
                admission = entry.admit(model, answers)
        left = admission.unanswered if admission.is_admitted else ()
        return Check(
            case, brief, model, admission, left[0] if left else None,
            len(answers) + 1, len(answers) + len(left),
        )  # fmt: skip

    def _seat(self, shop: Shop, case: Case, check: Check) -> Seat:
        # A walk that has no event yet was not left either.
        brief = check.brief if case.standing.events else replace(check.brief, saved=None)
        planner = self._planner(brief)
        walk = self._opening(brief, check.model, check.admission, planner)
        sitting = Sitting.go_on(shop, case)
        turning_out = turnout.turning_out(brief)
        return self._sit(Seat(case, brief, planner, sitting, walk, Onward(brief), turning_out))

    def _planner(self, brief: Brief) -> Planner:
        return self._plans.kept(foresight.patient(brief.seconds, brief.kb, brief.model))

    def _opening(
        self, brief: Brief, model: Model, admission: Admission, planner: Planner
    ) -> Walk:
        """The walk after the entry check; nobody waits for another's plan."""
        anew = bool(entry.barred_supplies(model, admission))  # one that must stay cold is deduced
        with self._deducing if anew else contextlib.nullcontext():
            return outset.opening_walk(brief, model, admission, planner)

    def _sit(self, seat: Seat) -> Seat:
        number = seat.case.number
        with self._guard:
            self._seats[number] = seat
            self._seats.move_to_end(number)
            while len(self._seats) > MOST:
                self._seats.popitem(last=False)
        return seat
