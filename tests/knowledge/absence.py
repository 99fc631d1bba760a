"""What changes in the models when one rule is absent.

Everything is deduced once with all rules, keeping what each run of a step was given, every firing
in it and what each supposition settled. A rule never negates what rules of its own step conclude
(`kb.language.lint` sees to that), so without one rule no firing is new: what follows then is what
the firings of the others give among themselves (`Record.without`). Only what is given other facts
is run anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from engine.assembly.builder import build
from engine.deduce import grounding
from engine.deduce.chaining import Chainer
from engine.deduce.composition import Bench
from engine.deduce.deduction import Deduction, Exploration, Reasoner
from engine.deduce.facts import Cause, Fact, Findings
from engine.deduce.suppose import Settlement, Supposal, Trial, Unit
from engine.model.records import document
from kb.language import loader
from kb.language.knowledge import Knowledge
from kb.language.schema import Rule, Topology
from kb.trouble import TroubleError
from tests.knowledge import feeds, services
from tests.knowledge.shop import folder

Document = dict[str, Any]
NO_ISOLATION = frozenset({"isolated-limited"})
NO_SOURCE = frozenset({"bench-low"})
TOPOLOGIES = ("buck-lamp", "enabled-lamp", "light-controlled-lamp")
# Shipped, too; what they share with those above is tried there, their own rules on one bench.
DRIVERLESS = ("capacitor-dropper-lamp", "linear-lamp")
# No shipped unit has an earthed part: two of our own, by their traits, for the rules about those.
EARTHED = {"earthed-lamp": ("earthed",), "earthed-lamp-on-a-lead": ("earthed", "corded")}
# No shop has spares unless it says so: the boards of a unit in stock, and a second such unit.
SPARES = {
    "lamp-with-its-boards": frozenset({"driver", "leds"}),
    "lamp-with-its-donor": frozenset({"unit"}),
}
# Every shipped light control has a capacitor at its rail: one without, for the rule about that.
BARE = "lamp-without-rail-capacitor"
# Nothing shipped supplies something else: a small unit under another duty, for the rule about that.
SUPPLY = "drive-that-supplies"
Place = tuple[str, tuple[int, int], frozenset[str]]
# What a rule may matter for, the quickest first: most matter for the first they fire in.
BENCHES: tuple[Place, ...] = (
    *((name, (230, 50), frozenset()) for name in TOPOLOGIES),
    *((name, (230, 50), NO_ISOLATION) for name in TOPOLOGIES),
    *((name, (230, 50), NO_SOURCE) for name in TOPOLOGIES),
    *((name, (120, 60), frozenset()) for name in TOPOLOGIES),
    *((name, (230, 50), frozenset()) for name in (*EARTHED, *SPARES, BARE)),
    *((name, (230, 50), frozenset()) for name in DRIVERLESS),
    # no shipped unit is fed through a transformer, or does else than give light
    *((name, (230, 50), frozenset()) for name in (*feeds.UNITS, *services.UNITS, SUPPLY)),
)
DEPTHS = ("part", "stage")
# Units that a rule was seen to matter for, of rules that fire in many and matter for few: it is
# tried there first, and everywhere else after it.
LIKELIEST = {
    "rating-against-the-peak": "capacitor-dropper-lamp",
    "reservoir-stands-at-its-node": "fan-drive",
    "output-of-a-supply-is-parted": SUPPLY,
}


@cache
def knowledge() -> Knowledge:
    """The shipped knowledge, and the units with an earthed part or with spares."""
    with TemporaryDirectory() as aside:
        shipped = loader.read((folder(Path(aside), **feeds.FILES, **services.FILES),))
    lamp = shipped.topologies["buck-lamp"]
    ours = {
        name: lamp.model_copy(update={"topology": name, "traits": (*lamp.traits, *traits)})
        for name, traits in (EARTHED | dict.fromkeys(SPARES, ())).items()
    }
    drive = shipped.topologies["fan-drive"]
    ours[SUPPLY] = drive.model_copy(update={"topology": SUPPLY, "does": "supply"})
    ours[BARE] = _without_part(shipped.topologies["light-controlled-lamp"], "control", "C2")
    return replace(shipped, topologies={**shipped.topologies, **ours})


def _without_part(lamp: Topology, stage: str, part: str) -> Topology:
    """The lamp without one of its parts, under the name that `BARE` gives it."""
    there = lamp.stages[stage]
    parts = {name: fact for name, fact in there.parts.items() if name != part}
    stages = {**lamp.stages, stage: there.model_copy(update={"parts": parts})}
    return lamp.model_copy(update={"topology": BARE, "stages": stages})


@cache
def supposing_kinds() -> frozenset[str]:
    """The kinds of fact that rules of the step `suppose` ask for."""
    rules = [rule for rule in knowledge().rules.values() if rule.step == "suppose"]
    asked = {kind for rule in rules for clause in (*rule.when, *rule.unless) for kind in clause}
    return frozenset(asked | {"part"})


def _matters_there(structure: tuple[Fact, ...]) -> tuple[Fact, ...]:
    return tuple(fact for fact in structure if fact.kind in supposing_kinds())


@dataclass(frozen=True, slots=True)
class Record:
    """One run of a step: what it found, and each firing in order with the facts it concluded."""

    findings: Findings
    firings: tuple[tuple[Cause, tuple[Fact, ...]], ...]

    def without(self, rule: str) -> Findings:
        """What follows without a rule: given are all facts that no rule concluded."""
        causes: dict[Fact, Cause] = {}
        facts = [fact for fact in self.findings.facts if fact not in self.findings.causes]
        stands = set(facts)
        waiting = [firing for firing in self.firings if firing[0].rule != rule]
        fired: set[str] = set()
        while waiting:
            later = []
            for cause, conclusions in waiting:
                if not stands.issuperset(cause.facts):
                    later.append((cause, conclusions))
                    continue
                fired.add(cause.rule)
                for fact in conclusions:
                    if fact not in stands:
                        stands.add(fact)
                        facts.append(fact)
                        causes[fact] = cause
            if len(later) == len(waiting):
                break
            waiting = later
        return Findings(tuple(facts), causes, frozenset(fired), self.findings.standing)


class Recording(Chainer):
    """A chainer of all rules that keeps a record of every run, by the facts given."""

    def __init__(self, instances: Any, places: Any, standing: tuple[Fact, ...] = ()) -> None:
        super().__init__(instances, places, standing)
        self.records: dict[tuple[Fact, ...], Record] = {}
        self._log: list[tuple[Cause, tuple[Fact, ...]]] = []
        self._logs: dict[int, tuple[Any, list[tuple[Cause, tuple[Fact, ...]]]]] = {}

    def run(self, facts: Iterable[Fact]) -> Findings:
        """As a chainer does, once for the same facts."""
        given = tuple(facts)
        if given not in self.records:
            findings = super().run(given)
            _, log = self._logs[id(findings.firings)]
            self.records[given] = Record(findings, tuple(log))
        return self.records[given].findings

    def lacking(self, rule: str) -> Chainer:
        """A plain chainer of all rules but one."""
        others = [instance for instance in self._instances if instance.rule.id != rule]
        return Chainer(others, self._places, self._standing)

    def _chain(self, facts: Any, memory: Any) -> Any:
        self._log = []
        outcome = super()._chain(facts, memory)
        self._logs[id(outcome.firings)] = (outcome, self._log)  # kept, so that its id stays its own
        return outcome

    def _conclude(self, number: int, matches: tuple[int, ...], run: Any) -> list[int]:
        new = super()._conclude(number, matches, run)
        conclusion = run.memory.conclusions[number, matches]
        self._log.append((conclusion.cause, tuple(run.memory.facts[n] for n in conclusion.facts)))
        return new


class Replaying:
    """A chainer without one rule, by the records of the one with all; a real one is compiled for
    facts of which there is no record."""

    def __init__(self, recording: Recording, rule: str) -> None:
        self._recording, self._rule = recording, rule
        self._real: Chainer | None = None

    def run(self, facts: Iterable[Fact]) -> Findings:
        """What a chainer without the rule finds."""
        given = tuple(facts)
        record = self._recording.records.get(given)
        if record is not None:
            is_idle = self._rule not in record.findings.firings
            return record.findings if is_idle else record.without(self._rule)
        if self._real is None:
            self._real = self._recording.lacking(self._rule)
        return self._real.run(given)


class RecordingUnit(Unit):
    """A unit whose chainers keep records."""

    def _chainer_of(self, instances: Any) -> Chainer:
        return Recording(instances, self._places, self._structure)


@dataclass(slots=True)
class Remembered:
    """A unit that keeps what each supposition settled, and can do without one rule."""

    unit: RecordingUnit
    settled: dict[tuple[Any, ...], Settlement] = field(default_factory=dict)

    def suppose(self, supposal: Supposal, trial: Trial, sought: frozenset[str]) -> Settlement:
        key = (supposal, trial, sought)
        if key not in self.settled:
            self.settled[key] = self.unit.suppose(supposal, trial, sought)
        return self.settled[key]


class Whole(Reasoner):
    """Reasons with all rules, and keeps every supposition by the structure it was made in."""

    def __init__(self) -> None:
        super().__init__(knowledge())
        self.remembered: dict[tuple[Fact, ...], Remembered] = {}

    def chainer(self, step: str) -> Recording:
        """The compiled rules of a step."""
        chainer = self._chainers[step]
        assert isinstance(chainer, Recording)
        return chainer

    def _chainer(self, step: str) -> Chainer:
        return Recording(map(grounding.whole, self._rules[step]), self._places)

    def _unit(self, structure: tuple[Fact, ...]) -> Any:
        structure = _matters_there(structure)
        if structure not in self.remembered:
            unit = RecordingUnit(self.knowledge, self._rules["suppose"], self._places, structure)
            self.remembered[structure] = Remembered(unit)
        return self.remembered[structure]


class Without(Reasoner):
    """Reasons without one rule; runs again only what is given other facts than with all rules."""

    def __init__(self, rule: str) -> None:
        self.rule = rule
        self.step = knowledge().rules[rule].step
        super().__init__(knowledge(), frozenset({rule}))

    def _chainer(self, step: str) -> Any:
        """The other steps lack nothing: they are those of all rules, compiled once."""
        if step != self.step:
            return whole().chainer(step)
        return Replaying(whole().chainer(step), self.rule)

    def structure(self, topology: str, bench: Bench) -> Findings:
        """What is offered without the rule."""
        return self._structure(topology, bench)[1]

    def _structure(self, topology: str, bench: Bench) -> tuple[Findings, Findings]:
        if self.step in ("suppose", "conclude"):  # no earlier step has it
            return whole().survey(topology, bench)
        return super()._structure(topology, bench)

    def _unit(self, structure: tuple[Fact, ...]) -> Any:
        structure = _matters_there(structure)
        kept = whole().remembered.get(structure)
        return Again(self.rule, kept) if kept else super()._unit(structure)


class Again:
    """What stood with all rules, but for suppositions in which the absent rule fired."""

    def __init__(self, rule: str, kept: Remembered) -> None:
        self._rule, self._settled = rule, kept.settled
        self._replaying = ReplayingUnit(kept.unit, rule)

    def suppose(self, supposal: Supposal, trial: Trial, sought: frozenset[str]) -> Settlement:
        before = self._settled.get((supposal, trial, sought))
        if before is not None and self._rule not in before.findings.firings:
            return before
        return self._replaying.suppose(supposal, trial, sought)


class ReplayingUnit(Unit):
    """A unit that supposes by the records of another, in which one more rule holds."""

    def __init__(self, unit: RecordingUnit, rule: str) -> None:
        vars(self).update(vars(unit))
        self._recorded, self._rule = unit, rule
        self._replaying: dict[int, Replaying] = {}

    def _chainer(self, goals: frozenset[str] | None) -> Any:
        recording = self._recorded._chainer(goals)
        assert isinstance(recording, Recording)
        return self._replaying.setdefault(id(recording), Replaying(recording, self._rule))


@cache
def whole() -> Whole:
    """The reasoner with all rules."""
    return Whole()


def recordings(step: str) -> list[Recording]:
    """All chainers of a step that have a record."""
    if step != "suppose":
        return [whole().chainer(step)]
    chainers = (c for kept in whole().remembered.values() for c in kept.unit._chainers.values())
    return [chainer for chainer in chainers if isinstance(chainer, Recording) and chainer.records]


@cache
def explored(place: Place) -> Exploration:
    """What all rules find out about a unit on a bench."""
    return whole().explore(place[0], _bench(place))


@cache
def concluded(place: Place, complaint: str | None) -> Deduction:
    """What all rules conclude."""
    return whole().conclude(place[0], _bench(place, complaint), explored(place))


@cache
def documented(place: Place, complaint: str | None, depth: str) -> Document:
    """The model that all rules make."""
    return _bare(_built(concluded(place, complaint), place, complaint, depth))


def _built(deduction: Deduction, place: Place, complaint: str | None, depth: str) -> Document:
    return document(build(deduction, place[0], _bench(place, complaint), depth))


def _bench(place: Place, complaint: str | None = None) -> Bench:
    topology, (volts, hertz), without = place
    spares = SPARES.get(topology, frozenset())
    return Bench(volts, hertz, complaint, without, spares=spares)


def _bare(plain: Document) -> Document:
    """The model without the derivations that travel in it: they would tell any rule's absence."""
    bare = dict(plain)
    for section in ("faults", "remedies", "proofs", "tests"):
        bare[section] = [{**entry, "because": None} for entry in plain[section]]
    return bare


def matters(rule: str, benches: tuple[Place, ...] = BENCHES) -> str | None:
    """Where the model changes without a rule, in words; None if nowhere."""
    step = knowledge().rules[rule].step
    find = _conclusions if step == "conclude" else _structures
    return next(find(rule, benches), None)


def _complaints(rule: str) -> tuple[str | None, ...]:
    """Each complaint and none, those first that the rule waits for."""
    names = _complaint_words()[rule]
    return tuple(sorted((None, *knowledge().complaints), key=lambda one: repr(one) not in names))


@cache
def _complaint_words() -> dict[str, str]:
    """By rule what its conditions say of complaints, or those of the rules without which it does
    not get what it asks for; empty where it waits for no complaint."""
    rules = knowledge().rules
    words = {name: _own_words(rule) for name, rule in rules.items()}
    makers: dict[str, set[str]] = {}
    for name, rule in rules.items():
        for kind in (kind for clause in rule.then for kind in clause):
            makers.setdefault(kind, set()).add(name)
    count = -1
    while count != (count := sum(map(bool, words.values()))):
        by_kind = {
            kind: "".join(sorted({words[name] for name in names}))
            for kind, names in makers.items() if all(words[name] for name in names)
        }  # fmt: skip
        for name, rule in rules.items():
            asks = (kind for clause in rule.when for kind in clause)
            words[name] = words[name] or "".join(by_kind.get(kind, "") for kind in asks)
    return words


def _own_words(rule: Rule) -> str:
    clauses = [clause["complaint"].values() for clause in rule.when if "complaint" in clause]
    return str([list(values) for values in clauses]) if clauses else ""


def _cases(rule: str, benches: tuple[Place, ...]) -> Iterator[tuple[str | None, Place]]:
    """Every complaint at every place, and at once where most rules matter: under the complaints
    that they name and under none at every place, then at one place under all others. Concluding
    takes long, so that the order counts, though all that is left is gone through, too."""
    complaints = _complaints(rule)
    first = complaints[: complaints.index(None) + 1]
    yield from product(first, benches)
    for place in benches:
        yield from ((complaint, place) for complaint in complaints[len(first):])


def _conclusions(rule: str, benches: tuple[Place, ...]) -> Iterator[str]:
    without = Without(rule)
    for complaint, place in _cases(rule, benches):
        if may_fire(rule, place) and rule in concluded(place, complaint).once.firings:
            yield from _differences(without, place, complaint, explored(place))


def _structures(rule: str, benches: tuple[Place, ...]) -> Iterator[str]:
    without = Without(rule)
    for place in sorted(benches, key=lambda place: place[0] != LIKELIEST.get(rule)):
        topology, bench = place[0], _bench(place)
        if not may_fire(rule, place) or rule not in explored(place).firings:
            continue
        try:
            if knowledge().rules[rule].step in ("survey", "offer"):
                yield from _tests_gone(without.structure(topology, bench), place)
            exploration = without.explore(topology, bench)
        except (TroubleError, StopIteration, KeyError) as error:
            yield f"{topology}: no model at all: {error}"
            return
        yield from _answers_changed(exploration, place)
        if exploration.in_use != explored(place).in_use:
            yield from _differences_by_complaint(without, place, exploration)
        yield from _differences(without, place, None, exploration)


@cache
def may_fire(rule: str, place: Place) -> bool:
    """Whether a rule could fire in a unit on a bench."""
    return whole().may_fire(knowledge().rules[rule], place[0], _bench(place))


def _tests_gone(offer: Findings, place: Place) -> Iterator[str]:
    """Tests that the model has with all rules, and that are not even offered without one."""
    offered = {test.text("name") for test in offer.of("test")}
    for test in documented(place, None, "part")["tests"]:
        if test["id"] not in offered:
            yield f"{place[0]}: the test {test['id']}"


def _answers_changed(exploration: Exploration, place: Place) -> Iterator[str]:
    """Cells that show another answer, not just another value behind the same one."""
    before = explored(place).values
    for test, shows in _outcomes(place).items():
        for hypothesis in exploration.hypotheses:
            cell = (test, hypothesis.id)
            one, other = before.get(cell), exploration.values.get(cell)
            if one and other and shows.get(one) != shows.get(other):
                yield f"{place[0]}: {test} under {hypothesis.id}"


@cache
def _outcomes(place: Place) -> dict[str, dict[str, str]]:
    """The answer that each value of what a test looks at shows as."""
    return {
        test.text("name"): {
            value: answer["outcome"] for answer in test.detail["answers"] for value in answer["for"]
        }
        for test in concluded(place, None).of("test")
        if test.text("name") in {told["id"] for told in documented(place, None, "part")["tests"]}
    }


def _differences_by_complaint(
    without: Without, place: Place, exploration: Exploration
) -> Iterator[str]:
    for complaint in _complaints(without.rule):
        yield from _differences(without, place, complaint, exploration)


def _differences(
    without: Without, place: Place, complaint: str | None, exploration: Exploration
) -> Iterator[str]:
    topology, bench = place[0], _bench(place, complaint)
    deduction = None
    for depth in DEPTHS:
        try:
            # what is concluded is the same at every depth
            deduction = deduction or without.conclude(topology, bench, exploration)
            other = _bare(_built(deduction, place, complaint, depth))
        except (TroubleError, KeyError) as error:
            yield f"{topology} at {depth}: no model at all: {error}"
            return
        before = documented(place, complaint, depth)
        for section, told in before.items():
            if other[section] != told:
                yield f"{topology} {complaint or ''} at {depth}: {section}"
                return


def forget() -> None:
    """Forget what was deduced, for other knowledge to be tried."""
    kinds = (
        supposing_kinds, whole, explored, concluded, documented, _outcomes, may_fire,
        _complaint_words,
    )  # fmt: skip
    for kept in kinds:
        kept.cache_clear()
