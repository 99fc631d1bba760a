"""Units as the rules see them: each topology deduced on every bench that can show something new."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from engine import library
from engine.assembly.builder import build
from engine.deduce.composition import DONOR, Bench
from engine.deduce.deduction import Deduction, Reasoner
from engine.model.records import Model
from engine.studies.review.scope import Scope
from kb.language.schema import Rule
from kb.trouble import Trouble, TroubleError

BENCHES = (Bench(230.0, 50.0), Bench(120.0, 60.0))
Tell = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Unit:
    """A topology on one bench: what the rules imply, and the model to the part."""

    topology: str
    bench: Bench
    deduction: Deduction = field(repr=False)
    model: Model = field(repr=False)

    @property
    def mains(self) -> str:
        """The mains in words."""
        return f"{self.bench.volts:g} V {self.bench.hertz:g} Hz"


@dataclass(slots=True)
class Workshop:
    """Deduces the units of a review, and remembers which rules fired in any of them."""

    scope: Scope
    tell: Tell
    firings: set[str] = field(default_factory=set)
    troubles: list[Trouble] = field(default_factory=list)
    reasoner: Reasoner = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self.reasoner = Reasoner(self.scope.knowledge)

    def misbuilt(self) -> tuple[Trouble, ...]:
        """What is wrong with how units are put together, told before any fault is supposed: that
        takes a minute a unit, and nobody waits that long for a misspelt place."""
        found: list[Trouble] = []
        for name in self.scope.topologies():
            for bench in BENCHES:
                try:
                    self.reasoner.survey(name, bench)
                except TroubleError as error:
                    found.extend(error.troubles)
                    break
        return tuple(found)

    def units(self) -> tuple[Unit, ...]:
        """Every topology at every mains; one that can't be built leaves its troubles."""
        built_units = []
        names = self.scope.topologies()
        for number, name in enumerate(names, 1):
            for bench in BENCHES:
                says = f"{name} at {bench.volts:g} V ({number} of {len(names)})"
                self.tell(f"deducing {says}")
                try:
                    built_units.append(self._unit(name, bench))
                except TroubleError as error:
                    self.troubles.extend(error.troubles)
                    break
        self._fire_rest(tuple(built_units))
        return tuple(built_units)

    def _unit(self, name: str, bench: Bench) -> Unit:
        deduction = library.deduce(self.reasoner, name, bench, self.scope.folder)
        self.firings |= deduction.firings
        return Unit(name, bench, deduction, build(deduction, name, bench, "part"))

    def silent_rules(self) -> tuple[Rule, ...]:
        """The rules under review that fired nowhere so far."""
        return tuple(
            rule for rule in self.scope.knowledge.rules.values()
            if rule.id not in self.firings and self.scope.has("rules", rule.id)
        )  # fmt: skip

    def _fire_rest(self, units: tuple[Unit, ...]) -> None:
        """Try the complaints and the lacks that rules not yet fired ask for."""
        for unit in units:
            for bench in tuple(_other_benches(self.silent_rules(), unit.bench, self.scope)):
                if bench not in _other_benches(self.silent_rules(), unit.bench, self.scope):
                    continue  # all that waited for it have fired meanwhile
                self.tell(f"trying what {unit.topology} rarely meets")
                try:
                    # supposing every fault takes seconds; how the unit is built often says already
                    # that nothing that waits can fire
                    silent = self.silent_rules()
                    if not any(self.reasoner.may_fire(r, unit.topology, bench) for r in silent):
                        continue
                    other = library.deduce(self.reasoner, unit.topology, bench, self.scope.folder)
                except TroubleError:  # told already for the plain bench, or the lack's own affair
                    continue
                self.firings |= other.firings


def _other_benches(rules: tuple[Rule, ...], bench: Bench, scope: Scope) -> Iterator[Bench]:
    """Benches with a complaint or spares, or without something, that these rules could wait for."""
    complaints: dict[str, None] = {}
    lacking: dict[str, None] = {}
    knowledge = scope.knowledge
    for rule in rules:
        for clause in rule.when:
            for kind, fields in clause.items():
                if kind == "complaint":
                    complaints.update(dict.fromkeys(_names(fields.get("is"))))
        for clause in (*rule.when, *rule.unless):
            for kind, fields in clause.items():
                if kind == "bench":
                    lacking.update(dict.fromkeys(_names(fields.get("has"))))
                if kind == "arrangement":
                    lacking.update(dict.fromkeys(_names(fields.get("name"))))
                if kind in ("arrangement", "limiter"):
                    lacking.update(
                        dict.fromkeys(n for n, a in knowledge.arrangements.items() if a.isolated)
                    )
    if any("spare" in clause for rule in rules for clause in rule.when):
        boards = frozenset(b for t in knowledge.topologies.values() for b in t.boards)
        yield from (replace(bench, spares=spares) for spares in (boards, frozenset({DONOR})))
    yield from (replace(bench, complaint=c) for c in complaints if c in knowledge.complaints)
    things = {*knowledge.instruments, *knowledge.arrangements}
    yield from (replace(bench, without=frozenset({thing})) for thing in lacking if thing in things)


def _names(pattern: object) -> tuple[str, ...]:
    if isinstance(pattern, Mapping):
        names = pattern.get("any", pattern.get("not", ()))
        return tuple(names) if isinstance(names, (list, tuple)) else (str(names),)
    return (pattern,) if isinstance(pattern, str) and not pattern.startswith("$") else ()
