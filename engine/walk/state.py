"""The records of a walk: outset, steps, where it stands, what is asked next. All frozen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from engine.evidence.joint import Joint, Take
from engine.evidence.witness import witness as witness_of
from engine.model import shorts
from engine.model.plan import Plan, Planner, State, Verdict
from engine.model.records import Model, Store, sha256
from engine.walk.events import Arrived, Event, Measured

if TYPE_CHECKING:
    from engine.evidence import Witness


@dataclass(frozen=True, slots=True)
class Outset:
    """What a walk starts from: the model, tests withdrawn beforehand, the entry check's answers.

    `cold_first` are tests to be done, if they can be, before the unit meets mains or hvdc.
    `options` is what the command line was told, kept so that a saved walk can go on;
    `model_sha256` follows from the model. `witness`, where there is one, weighs readings by the
    unit's circuit; without it a reading counts as its band. `told_once` are tests of which there
    is one reading and no more, as where answers were written down beforehand.
    `minutes_before` were spent on the unit in a walk that led to this one.
    """

    model: Model
    withdrawn: frozenset[str] = frozenset()
    entry: tuple[tuple[str, str], ...] = ()
    options: tuple[tuple[str, str], ...] = ()
    cold_first: frozenset[str] = frozenset()
    witness: Witness | None = field(default=None, compare=False, repr=False)
    told_once: frozenset[str] = frozenset()
    minutes_before: float = 0.0
    model_sha256: str = field(init=False)
    joint: Joint = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        # Hashing a model takes longer than an answer; a walk is saved after every one.
        object.__setattr__(self, "model_sha256", sha256(self.model))
        object.__setattr__(self, "joint", Joint(self.witness or witness_of(self.model)))


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the record. `kind` is setup, test, known, cannot, lacking, not-fitted, fitted,
    of-kind, traced, repair or away.

    `bench` and `belief` are those after the step; `minutes` is what it took. Where a reading was
    weighed by the unit's circuit, `factors` is what it says of each fault and `slips` what part of
    that is misreading; both are empty otherwise. `thing` is what is lacking, the part that is
    there or not, the stage that is traced, or the remedy that did not help; `answer` is an outcome
    of a test, or a part's kind. `make_safe` are the stores that were due in a setup,
    `measured` what was found there. `differs` stands at the one step after which the
    unit's design was likelier none of those sampled: the odds of that (`engine.walk.unlike`).
    """

    kind: str
    minutes: float
    bench: State
    belief: Mapping[str, float]
    test: str | None = None
    answer: str | None = None
    reading: str | None = None
    shares: tuple[tuple[str, float], ...] = ()
    factors: Mapping[str, float] = field(default_factory=dict)
    slips: Mapping[str, float] = field(default_factory=dict)
    thing: str | None = None
    opened: tuple[str, ...] = ()
    make_safe: tuple[Store, ...] = ()
    measured: tuple[Measured, ...] = ()
    surprise: bool = False
    replanned: bool = False
    differs: float | None = None


@dataclass(frozen=True, slots=True)
class Walk:
    """Where a walk stands. Minutes are bench minutes of tests, setups and repairs so far.

    `again` is the test to be done once more before the plan goes on, `afresh` what the first plan
    was expected to cost. Of the stores of charge, `low` are those measured below their limit since
    they could last be charged, `unreachable` those that were exposed and could not be measured; all
    others are unknown. `unsettled`: the unit may have been energised out of sight, so it is to be
    unplugged and measured before anything else. `shut` are openings that can't be made. `drawn` is
    the outset's model with the stages traced that somebody has a drawing of, None while there are
    none; `own_joint` weighs readings by all that was learnt of how the unit is built, None while
    that is no more than at the outset. `forecast` is the model that `plan` was made on, where the
    designs left show otherwise than the rules tell (`engine.walk.outlook`); None: the walk's own.
    `differs`: the unit was said to be unlike those known.
    """

    outset: Outset
    events: tuple[Event, ...]
    steps: tuple[Step, ...]
    bench: State
    minutes: float
    belief: Mapping[str, float]
    suspects: frozenset[str]
    withdrawn: frozenset[str]
    done: frozenset[str]
    plan: Plan
    node: str
    planner: Planner = field(compare=False, repr=False)
    before: Walk | None = field(default=None, compare=False, repr=False)
    again: str | None = None
    afresh: float = 0.0
    low: frozenset[str] = frozenset()
    unreachable: frozenset[str] = frozenset()
    unsettled: bool = False
    shut: frozenset[str] = frozenset()
    drawn: Model | None = field(default=None, compare=False, repr=False)
    own_joint: Joint | None = field(default=None, compare=False, repr=False)
    forecast: Model | None = field(default=None, compare=False, repr=False)
    differs: bool = False

    @property
    def model(self) -> Model:
        """The model this walk is about."""
        return self.outset.model if self.drawn is None else self.drawn

    @property
    def outlook(self) -> Model:
        """The model that the plan was made on: by its rows branches are taken and priced."""
        return self.model if self.forecast is None else self.forecast

    @property
    def joint(self) -> Joint:
        """What readings are weighed by: fault and design, by all that is known of the unit now."""
        return self.outset.joint if self.own_joint is None else self.own_joint

    @property
    def dead_bench(self) -> State:
        """The bench as it stands, unplugged."""
        return State(self.bench.opened, self.model.dead_supply, self.bench.rig)

    @property
    def low_stores(self) -> frozenset[str]:
        """The stores of charge that are known to be low now; none on a bench that was left."""
        return frozenset() if self.unsettled else self.low

    @property
    def unavailable(self) -> frozenset[str]:
        """The tests that can't be done: for want of something, or since a short was found."""
        latest = {step.test: step for step in self.steps if step.test and step.answer}
        answers = [
            (test, outcome)
            for test, step in latest.items()
            for outcome in (step.answer or "", *(name for name, _ in step.shares))
        ]
        return self.withdrawn | shorts.barred_tests(self.model, answers)

    @property
    def answers(self) -> tuple[tuple[str, str], ...]:
        """Every answer so far, pairs of test and outcome."""
        return tuple(
            (step.test, step.answer)
            for step in self.steps
            if step.kind in ("test", "known") and step.test and step.answer
        )

    @property
    def history(self) -> Mapping[str, tuple[Take, ...]]:
        """All readings so far by test, those of one test in order."""
        takes: dict[str, tuple[Take, ...]] = {}
        for step in self.steps:
            if step.test and step.answer:
                shares = step.shares or ((step.answer, 1.0),)
                takes[step.test] = (*takes.get(step.test, ()), Take(step.reading or "", shares))
        return takes

    @property
    def is_tested(self) -> bool:
        """Whether any test has been done or told."""
        return any(step.kind in ("test", "known") for step in self.steps)

    @property
    def is_ended(self) -> bool:
        """Whether the walk has reached its verdict."""
        return self.again is None and isinstance(self.plan.nodes[self.node], Verdict)


@dataclass(frozen=True, slots=True)
class Due:
    """The test that comes next and the bench it is to be done on."""

    test: str
    state: State


@dataclass(frozen=True, slots=True)
class Setting:
    """A setup step to be carried out and confirmed before the pending test.

    `bench` is how the bench stands after it, `rig_before` the rig worn until then; `make_safe` are
    the stores to be measured in it, after `opened` and before the rig. `test` is what it is for,
    empty where it only makes the bench safe. `returns` marks a bench that was left: whatever was
    done to it, it is unplugged and measured first.
    """

    bench: State
    opened: tuple[str, ...]
    minutes: float
    make_safe: tuple[Store, ...]
    test: str
    rig_before: str = ""
    returns: bool = False

    @property
    def event(self) -> Arrived:
        """The event of a job told in writing: every store that was due is supposed to be low."""
        readings = tuple(Measured(store.part, supposed=True) for store in self.make_safe)
        return self._arrival(readings)

    def arrival(self, volts: Mapping[str, float | None]) -> Arrived:
        """The event of having carried it out, with the volts read at each store that was due; None
        where it can't be reached: the hands then stop before the rig. KeyError if one is left out.
        """
        return self._arrival(tuple(Measured(s.part, volts[s.part]) for s in self.make_safe))

    def _arrival(self, stores: tuple[Measured, ...]) -> Arrived:
        is_halted = any(store.out_of_reach for store in stores)
        rig = self.rig_before or self.bench.rig if is_halted else self.bench.rig
        return Arrived(tuple(sorted(self.bench.opened)), self.bench.supply, rig, stores)


@dataclass(frozen=True, slots=True)
class Halt:
    """No way on: these stores can't be measured and no opening would show them. The unit is left
    alone, labelled charged."""

    stores: tuple[Store, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """A test whose bench is ready: do it and answer."""

    test: str
