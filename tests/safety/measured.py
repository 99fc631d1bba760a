"""What was measured on the way to a verdict, as a stranger tells it from knowledge and documents.

Which test is a part's own check is read off the knowledge (`speaks-for`), not off what the model
says that a remedy requires. Whether a reading frees a part of a short is read off the model's odds.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from engine import library
from engine.assembly import shop
from engine.deduce.deduction import Reasoner
from engine.model.records import Mains, Model
from kb.language.loader import as_shipped
from tests.safety.witness_law import Breach, Document

Finding = tuple[str, str]
"""A test and what it showed."""

COLD = ("none", "elv")
SELDOM, MOSTLY = 0.05, 0.5
"""A reading frees a part where its short shows it this seldom at most, and a unit without it this
often at least."""


@dataclass(frozen=True, slots=True)
class Knowing:
    """Of one unit: the package of each part, each part's own checks, and which parts are fuses.

    `own` holds package, test and the one answer that counts, empty where all do.
    """

    package: Mapping[str, str]
    own: frozenset[tuple[str, str, str]]
    fuses: frozenset[str]
    places: Mapping[str, str]


@cache
def knowing(topology: str, mains: Mains) -> Knowing:
    """What the knowledge says of a shipped unit, on the usual bench."""
    knowledge = as_shipped()
    bench = shop.USUAL.bench(knowledge, topology, mains, None)
    deduction = library.deduce(_reasoner(), topology, bench)
    return Knowing(
        package={p.text("name"): p.text("package") for p in deduction.of("part")},
        own=frozenset(
            (s.text("part"), s.text("test"), str(dict(s.fields).get("outcome", "")))
            for s in deduction.of("speaks-for")
        ),
        fuses=frozenset(
            t.text("of") for t in deduction.of("trait") if dict(t.fields).get("is") == "fuses"
        ),
        places={p.text("name"): p.text("place") for p in deduction.of("part")},
    )


@cache
def _reasoner() -> Reasoner:
    return Reasoner(as_shipped())


class Measured:
    """The laws of one unit's verdicts: measure before you unsolder, an open fuse is a messenger."""

    def __init__(self, model: Model, known: Knowing) -> None:
        self.model, self.known = model, known
        self.remedies = {remedy.id: remedy for remedy in model.remedies}
        self.tests = {test.id: test for test in model.tests}
        self.faults = {fault.id: frozenset(p.part for p in fault.parts) for fault in model.faults}
        self.energy = {a.id: a.energy for a in model.supply.arrangements}
        self.feared = self._feared()

    def _feared(self) -> dict[str, dict[str, list[str]]]:
        """fuse -> part whose short could have opened it -> the faults that are just that."""
        found: dict[str, dict[str, list[str]]] = {fuse: {} for fuse in self.known.fuses}
        for fault, parts in self.faults.items():
            for fuse in self.known.fuses & parts if len(parts) == 2 else ():
                (other,) = parts - {fuse}
                found[fuse].setdefault(other, []).append(fault)
        return found

    def named(self, remedy_id: str) -> frozenset[str]:
        """The packages that a repair names: those it cures that stand in its name."""
        remedy = self.remedies[remedy_id]
        if remedy.kind != "repair":
            return frozenset()
        packages = {
            self.known.package[part] for fault in remedy.cures for part in self.faults[fault]
        }
        return frozenset(packages.intersection(remedy_id.split("-")))

    def lone_fuse(self, remedy_id: str) -> str:
        """The fuse that a repair renews alone, or nothing."""
        remedy = self.remedies[remedy_id]
        cured = {self.faults[fault] for fault in remedy.cures}
        lone = [fuse for fuse in self.known.fuses if cured == {frozenset({fuse})}]
        return lone[0] if remedy.kind == "repair" and lone else ""

    def checks(self, package: str) -> frozenset[str]:
        """The tests of the model that are the package's own checks, by some answer at least."""
        return frozenset(
            test for p, test, answer in self.known.own
            if p == package and test in self.tests and self._has(test, answer)
        )  # fmt: skip

    def _has(self, test: str, answer: str) -> bool:
        return not answer or answer in {o.id for o in self.tests[test].outcomes}

    def shown(self, finding: Finding) -> frozenset[str]:
        """What an answer shows: packages measured, and parts read free of a short."""
        test, outcome = finding
        measured = {p for p, t, o in self.known.own if t == test and o in ("", outcome)}
        return frozenset(measured) | {f"free {part}" for part in self._freed(test, outcome)}

    def _freed(self, test: str, outcome: str) -> Iterator[str]:
        if self.energy[self.tests[test].supply] not in COLD:
            return
        for fuse, feared in self.feared.items():
            alone = [fault for fault, parts in self.faults.items() if parts == {fuse}]
            usual = all(self._odds(test, fault, outcome) >= MOSTLY for fault in alone)
            for part, shorted in feared.items():
                if usual and all(self._odds(test, f, outcome) <= SELDOM for f in shorted):
                    yield part

    def _odds(self, test: str, fault: str, outcome: str) -> float:
        return self.model.row(test, fault).get(outcome, 0.0)

    def lacks(self, remedy_id: str, shown: Collection[str]) -> frozenset[str]:
        """What should have been shown before this repair is named."""
        fuse = self.lone_fuse(remedy_id)
        wanted = {part for part in self.named(remedy_id) if self.checks(part)}
        wanted |= {f"free {part}" for part in self.feared.get(fuse, ())}
        return frozenset(wanted.difference(shown))


def chart_breaches(law: Measured, chart: Document) -> tuple[Breach, ...]:
    """Everything on any path of a chart that these laws forbid.

    For each node what every way there has shown, and whether any way there showed a short.
    """
    nodes, met, short = chart["nodes"], dict[str, frozenset[str]](), set[str]()
    for name in _in_order(nodes, chart["root"]):
        here = met.setdefault(name, frozenset())
        node = nodes[name]
        for finding, follower in _lines(node):
            shown = here | (law.shown(finding) if finding else frozenset())
            met[follower] = met[follower] & shown if follower in met else shown
            if name in short or (finding and _is_short(law, finding)):
                short.add(follower)
    return tuple(b for name in met for b in _judged(law, nodes[name], name, met[name], short))


def _judged(
    law: Measured, node: Document, name: str, shown: frozenset[str], short: Collection[str]
) -> Iterator[Breach]:
    supply = node.get("supply") if node["kind"] == "setup" else None
    if node["kind"] == "test":
        test = law.tests[node["test"]]
        supply = test.supply
        if test.mends and law.lacks(test.mends, shown):
            yield Breach("tried-unmeasured", name, f"{test.id}: {law.lacks(test.mends, shown)}")
    if supply is not None and name in short and law.energy[supply] not in COLD:
        yield Breach("short-energised", name, f"{supply} after a short was found")
    if node["kind"] == "verdict":
        remedy = node["remedy"]
        if law.lacks(remedy, shown):
            yield Breach("named-unmeasured", name, f"{remedy}: {sorted(law.lacks(remedy, shown))}")
        if remedy.startswith(("swap-", "take-")):
            yield Breach("no-spare", name, f"{remedy}, and there is none")


def _is_short(law: Measured, finding: Finding) -> bool:
    test, outcome = finding
    return law.tests[test].outcome(outcome).short


def _lines(node: Document) -> Iterator[tuple[Finding | None, str]]:
    if node["kind"] == "setup":
        yield None, node["next"]
    for outcome, follower in node.get("branches", {}).items():
        yield (node["test"], outcome), follower


def _in_order(nodes: Mapping[str, Document], root: str) -> list[str]:
    """Names reachable from the root, each after all that lead to it."""
    done: dict[str, None] = {}
    waiting = [(root, False)]
    while waiting:
        name, left = waiting.pop()
        if left:
            done.setdefault(name)
        elif name not in done:
            waiting.append((name, True))
            waiting.extend((follower, False) for _, follower in _lines(nodes[name]))
    return list(reversed(done))


def all_shown(law: Measured, findings: Iterable[Finding]) -> frozenset[str]:
    """What these answers show between them."""
    return frozenset[str]().union(*(law.shown(finding) for finding in findings))
