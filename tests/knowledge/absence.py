"""What changes in the models when one rule is absent.

Everything is deduced once with all rules, keeping what each supposition settled. Without a rule,
only those suppositions are run again in which it fired; the rest stand as they were.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from engine.assembly.builder import build
from engine.deduce.chaining import Chainer
from engine.deduce.composition import Bench
from engine.deduce.deduction import Deduction, Exploration, Reasoner
from engine.deduce.facts import Fact, Findings
from engine.deduce.suppose import Settlement, Supposal, Trial, Unit
from engine.model.records import document
from kb.language import loader
from kb.language.knowledge import Knowledge
from kb.language.schema import Topology
from kb.trouble import TroubleError
from tests.knowledge import feeds, services
from tests.knowledge.shop import folder

Document = dict[str, Any]
NO_ISOLATION = frozenset({"isolated-limited"})
NO_SOURCE = frozenset({"bench-low"})
TOPOLOGIES = ("buck-lamp", "enabled-lamp", "light-controlled-lamp")
# No shipped unit has an earthed part: two of our own, by their traits, for the rules about those.
EARTHED = {"earthed-lamp": ("earthed",), "earthed-lamp-on-a-lead": ("earthed", "corded")}
# No shop has spares unless it says so: the boards of a unit in stock, and a second such unit.
SPARES = {
    "lamp-with-its-boards": frozenset({"driver", "leds"}),
    "lamp-with-its-donor": frozenset({"unit"}),
}
# Every shipped light control has a capacitor at its rail: one without, for the rule about that.
BARE = "lamp-without-rail-capacitor"
Place = tuple[str, tuple[int, int], frozenset[str]]
# What a rule may matter for, the quickest first: most matter for the first they fire in.
BENCHES: tuple[Place, ...] = (
    *((name, (230, 50), frozenset()) for name in TOPOLOGIES),
    *((name, (230, 50), NO_ISOLATION) for name in TOPOLOGIES),
    *((name, (230, 50), NO_SOURCE) for name in TOPOLOGIES),
    *((name, (120, 60), frozenset()) for name in TOPOLOGIES),
    *((name, (230, 50), frozenset()) for name in (*EARTHED, *SPARES, BARE)),
    # no shipped unit is fed weakly or through a transformer, or does else than give light
    *((name, (230, 50), frozenset()) for name in (*feeds.UNITS, *services.UNITS)),
)
DEPTHS = ("part", "stage")


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


@dataclass(slots=True)
class Remembered:
    """A unit that keeps what each supposition settled, and can do without one rule."""

    unit: Unit
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

    def chainer(self, step: str) -> Chainer:
        """The compiled rules of a step."""
        return self._chainers[step]

    def _unit(self, structure: tuple[Fact, ...]) -> Any:
        structure = _matters_there(structure)
        if structure not in self.remembered:
            self.remembered[structure] = Remembered(super()._unit(structure))
        return self.remembered[structure]


class Without(Reasoner):
    """Reasons without one rule; runs again only the suppositions in which that rule fired."""

    def __init__(self, rule: str) -> None:
        self.rule = rule
        self.step = knowledge().rules[rule].step
        super().__init__(knowledge(), frozenset({rule}))

    def _chainer(self, step: str) -> Chainer:
        """The other steps lack nothing: they are those of all rules, compiled once."""
        return super()._chainer(step) if step == self.step else whole().chainer(step)

    def structure(self, topology: str, bench: Bench) -> Findings:
        """What is offered without the rule."""
        return self._structure(topology, bench)[1]

    def _structure(self, topology: str, bench: Bench) -> tuple[Findings, Findings]:
        if self.step in ("suppose", "conclude"):  # no earlier step has it
            return whole().survey(topology, bench)
        return super()._structure(topology, bench)

    def _unit(self, structure: tuple[Fact, ...]) -> Any:
        structure = _matters_there(structure)
        unit = super()._unit
        kept = whole().remembered.get(structure)
        return Again(self.rule, kept, lambda: unit(structure)) if kept else unit(structure)


@dataclass(slots=True)
class Again:
    """What stood with all rules, but for suppositions in which the absent rule fired."""

    rule: str
    kept: Remembered
    make: Any
    unit: Unit | None = None

    def suppose(self, supposal: Supposal, trial: Trial, sought: frozenset[str]) -> Settlement:
        before = self.kept.settled.get((supposal, trial, sought))
        if before is not None and self.rule not in before.findings.firings:
            return before
        if self.unit is None:
            self.unit = self.make()
        return self.unit.suppose(supposal, trial, sought)


@cache
def whole() -> Whole:
    """The reasoner with all rules."""
    return Whole()


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
    """Each complaint and none, those first that the rule names: it waits for them."""
    clauses = (clause.get("complaint", {}).values() for clause in knowledge().rules[rule].when)
    names = str([list(values) for values in clauses])
    return tuple(sorted((None, *knowledge().complaints), key=lambda one: repr(one) not in names))


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
        if rule in concluded(place, complaint).once.firings:
            yield from _differences(without, place, complaint, explored(place))


def _structures(rule: str, benches: tuple[Place, ...]) -> Iterator[str]:
    without = Without(rule)
    for place in benches:
        topology, bench = place[0], _bench(place)
        if rule not in explored(place).firings:
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
    for depth in DEPTHS:
        try:
            deduction = without.conclude(topology, bench, exploration)
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
    for kept in (supposing_kinds, whole, explored, concluded, documented, _outcomes):
        kept.cache_clear()
