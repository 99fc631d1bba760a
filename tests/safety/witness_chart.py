"""Walks every path of a chart document and tells where it sends hands to what may be charged.

Written from the law alone, without a look at how charts are drawn up or audited. Charts share
nodes, so this is a fixpoint: for each node and each way the bench can stand there (openings,
supply, rig, stores measured, a short found), the cautions that were told in full on *every* path to
it. Then each node is judged once for each of these.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from tests.safety.witness_law import (
    HANDS_ON_REMEDIES,
    OPENING_REMEDIES,
    Breach,
    Document,
    Law,
    named,
)

Cautions = frozenset[str]


@dataclass(frozen=True, slots=True)
class Stand:
    """How the bench stands at a node: what is opened, fed, fitted, measured since it could charge;
    whether a short was found."""

    opened: frozenset[str]
    supply: str
    rig: str
    measured: frozenset[str]
    short: bool = False


@dataclass(frozen=True, slots=True)
class Arrival:
    """A way of coming to a node, and the cautions told in full on it that still stand."""

    node: str
    stand: Stand
    standing: Cautions


def breaches(model: Document, chart: Document) -> tuple[Breach, ...]:
    """All breaches of the law on any path of the chart, each told once."""
    reading = _Reading(model, chart)
    found: dict[Breach, None] = {}
    for arrival in reading.arrivals():
        found.update(dict.fromkeys(reading.judged(arrival)))
    return tuple(found)


class _Reading:
    def __init__(self, model: Document, chart: Document) -> None:
        self.law = Law.of(model)
        self.nodes: dict[str, Document] = dict(chart["nodes"])
        self.grouped = frozenset(chart.get("grouped", {}).get("verdict", ()))
        self.root = chart["root"]
        self.detours: dict[tuple[str, str], list[str]] = {}
        for number, step in enumerate(chart.get("confirm", ())):
            self._lay(step, f"confirm {number}: ")

    def _lay(self, step: Document, mark: str) -> None:
        """The nodes of a confirm step among the others, under names of their own."""
        own = step["nodes"]
        name = {inner: mark + inner for inner in own}
        for inner, node in own.items():
            node = dict(node)
            if "next" in node:
                node["next"] = name.get(node["next"], node["next"])
            if "branches" in node:
                node["branches"] = {o: name.get(n, n) for o, n in node["branches"].items()}
            self.nodes[name[inner]] = node
        line = (step["at"], step["outcome"])
        self.detours.setdefault(line, []).append(name.get(step["root"], step["root"]))

    def arrivals(self) -> list[Arrival]:
        """Every way of coming to every node, until no more is found."""
        opened, supply, rig = self.law.start
        first = Stand(opened, supply, rig, frozenset())
        known: dict[tuple[str, Stand], Cautions] = {(self.root, first): frozenset()}
        waiting = [(self.root, first)]
        while waiting:
            node, stand = waiting.pop()
            for after in self._onward(Arrival(node, stand, known[node, stand])):
                key, told = (after.node, after.stand), after.standing
                if key in known and known[key] <= told:
                    continue
                known[key] = known[key] & told if key in known else told
                waiting.append(key)
        return [Arrival(node, stand, told) for (node, stand), told in known.items()]

    def _onward(self, at: Arrival) -> Iterator[Arrival]:
        node, stand = self.nodes[at.node], at.stand
        told = self._standing(at) | frozenset(node.get("cautions", ()))
        match node["kind"]:
            case "setup":
                yield Arrival(node["next"], self._set_up(node, stand), told)
            case "test":
                for outcome, next_node in node["branches"].items():
                    short = stand.short or (node["test"], outcome) in self.law.shorts
                    for onward in (next_node, *self.detours.get((at.node, outcome), ())):
                        yield Arrival(onward, replace(stand, short=short), told)

    def _standing(self, at: Arrival) -> Cautions:
        """The cautions told before that still stand once the node's changes are made.

        A change of the supply arrangement ends them all; a rig that comes off ends its own, but
        for those that the arrangement has as well.
        """
        node, stand, warned = self.nodes[at.node], at.stand, self.law.cautions
        if node["kind"] != "setup":
            return at.standing
        if node["supply"] != stand.supply:
            return frozenset()
        if node["rig"] == stand.rig:
            return at.standing
        return at.standing - (warned["rig"][stand.rig] - warned["supply"][stand.supply])

    def _set_up(self, node: Document, stand: Stand) -> Stand:
        law = self.law
        opened = stand.opened | frozenset(node["open"])
        measured = frozenset() if law.charging(stand.supply) else stand.measured
        if law.dead(node["supply"]):
            measured |= frozenset(s["part"] for s in node["make_safe"]) & law.exposed(opened)
        if law.charging(node["supply"]):
            measured = frozenset()
        return Stand(opened, node["supply"], node["rig"], measured, stand.short)

    def judged(self, at: Arrival) -> Iterator[Breach]:
        """What is wrong with coming to the node in this way."""
        node = self.nodes[at.node]
        told = frozenset(node.get("standing", ()))
        if told - self._standing(at):
            lost = named(told - self._standing(at))
            yield Breach("standing-wrong", at.node, f"{lost}: not told on every path to here")
        match node["kind"]:
            case "setup":
                yield from self._judged_set_up(at, node)
            case "test":
                yield from self._judged_test(at, node)
            case "verdict":
                yield from self._judged_verdict(at, node)

    def _judged_set_up(self, at: Arrival, node: Document) -> Iterator[Breach]:
        law, stand, after = self.law, at.stand, self._set_up(node, at.stand)
        fed, feed = not law.dead(stand.supply), not law.dead(after.supply)
        if fed and feed and stand.supply != after.supply:
            says = f"{stand.supply} to {after.supply} without unplugging"
            yield Breach("energised-to-energised", at.node, says)
        hands = law.touched(stand.rig, after.rig)
        inner = [o for o in node["open"] if o in law.inner]
        if feed and (hands or inner):
            says = f"hands in at {after.supply}"
            yield Breach("hands-on-energised", at.node, says)
        yield from self._judged_openings(at, node)
        yield from self._asked(at.node, node["make_safe"], after.opened, after.supply)
        due = law.exposed(after.opened) - after.measured
        if not feed and due:
            says = f"{named(due)} in reach on {after.supply}, not measured"
            yield Breach("due-not-measured", at.node, says)
        if not fed and feed and law.exposed(stand.opened) - stand.measured:
            says = f"{named(law.exposed(stand.opened) - stand.measured)} left unmeasured"
            yield Breach("left-unmeasured", at.node, says)
        if hands and not feed and due:
            yield Breach("rig-unmeasured", at.node, f"rig by hand beside {named(due)}")
        yield from self._judged_feed(at.node, after)
        yield from self._warned(at, node, self._demanded_by_set_up(node, stand))

    def _judged_openings(self, at: Arrival, node: Document) -> Iterator[Breach]:
        """Each opening in turn: nothing in reach may be unmeasured as it is made."""
        law, opened = self.law, set(at.stand.opened)
        measured = frozenset() if law.charging(at.stand.supply) else at.stand.measured
        for opening in node["open"]:
            due = law.exposed(opened) - measured
            if due and opening in law.inner:
                says = f"{opening} is opened past {named(due)}, not measured"
                yield Breach("opened-past", at.node, says)
            opened.add(opening)

    def _judged_feed(self, place: str, stand: Stand) -> Iterator[Breach]:
        law = self.law
        if stand.supply in law.closed_only and law.inside(stand.opened):
            says = f"opened unit on {stand.supply}"
            yield Breach("opened-on-closed-only", place, says)
        if stand.short and law.charging(stand.supply):
            yield Breach("short-energised", place, f"{stand.supply} after a short was found")

    def _judged_test(self, at: Arrival, node: Document) -> Iterator[Breach]:
        law, stand, test = self.law, at.stand, self.law.tests[node["test"]]
        fits = test["supply"] == stand.supply and test["rig"] == stand.rig
        if not fits or set(test["opened"]) - stand.opened:
            yield Breach("bench-wrong", at.node, f"{test['id']} is not done on this bench")
        if test["hands_on"] and law.charging(stand.supply):
            says = f"{test['id']} by hand on {stand.supply}"
            yield Breach("hands-on-energised", at.node, says)
        due = law.exposed(stand.opened) - stand.measured
        if due and not law.charging(stand.supply):
            if test["hands_on"]:
                says = f"{test['id']} by hand beside {named(due)}, not measured"
                yield Breach("test-unmeasured", at.node, says)
            elif law.dead(stand.supply):
                yield Breach("due-not-measured", at.node, f"{named(due)} in reach, not measured")
        yield from self._judged_feed(at.node, stand)
        yield from self._warned(at, node, law.cautions["test"][test["id"]])
        said = frozenset(node["cautions"]) | (self._standing(at) & _claimed(node))
        lost = set(test["hazards"]) - {law.hazards.get(caution, caution) for caution in said}
        if lost:
            yield Breach("hazard-unsaid", at.node, f"{test['id']}: {named(lost)}")

    def _judged_verdict(self, at: Arrival, node: Document) -> Iterator[Breach]:
        law, stand, remedy = self.law, at.stand, self.law.remedies[node["remedy"]]
        hands, kind = remedy["kind"] in HANDS_ON_REMEDIES, remedy["kind"]
        asked = node.get("make_safe", ())
        yield from self._asked(at.node, asked, stand.opened, None)
        measured = frozenset() if law.charging(stand.supply) else stand.measured
        measured |= {store["part"] for store in asked}
        due = law.exposed(stand.opened) - measured
        if hands and due:
            says = f"{kind} beside {named(due)}, not measured"
            yield Breach("verdict-unmeasured", at.node, says)
        later = {store["part"]: store for store in node.get("opening_up", ())}
        unsaid = set(law.stores) - law.exposed(stand.opened) - set(later)
        if kind in OPENING_REMEDIES and unsaid:
            says = f"{named(unsaid)}: exposed by the {kind}, not spoken of"
            yield Breach("opening-up-lacks", at.node, says)
        yield from self._judged_later(at, later)
        extra = self.grouped if hands else frozenset()
        yield from self._warned(at, node, law.cautions["remedy"][remedy["id"]] - extra)

    def _judged_later(self, at: Arrival, later: Mapping[str, Document]) -> Iterator[Breach]:
        law = self.law
        for part, store in later.items():
            if part not in law.stores:
                yield Breach("asked-unknown", at.node, f"{part} holds nothing that is asked for")
            elif store["below"] > law.stores[part].below:
                yield Breach("limit-raised", at.node, f"{part} below {store['below']}")
            elif part in law.exposed(at.stand.opened):
                continue
            elif store.get("opening") not in law.exposers(part):
                says = f"{part} is not exposed by {store.get('opening')}"
                yield Breach("opening-up-wrong", at.node, says)

    def _asked(
        self, place: str, asked: Iterable[Document], opened: frozenset[str], supply: str | None
    ) -> Iterator[Breach]:
        law, exposed = self.law, self.law.exposed(opened)
        for store in asked:
            part = store["part"]
            if part not in law.stores:
                yield Breach("asked-unknown", place, f"{part} holds nothing that is asked for")
                continue
            if store["below"] > law.stores[part].below:
                yield Breach("limit-raised", place, f"{part} below {store['below']}")
            if store["point"] != law.stores[part].point:
                yield Breach("asked-elsewhere", place, f"{part} at {store['point']}")
            if part not in exposed:
                yield Breach("asked-unexposed", place, f"{part} can't be reached here")
            if supply is not None and not law.dead(supply):
                yield Breach("asked-energised", place, f"{part} on {supply}")

    def _demanded_by_set_up(self, node: Document, stand: Stand) -> Cautions:
        """Cautions of what is opened, of rigs put on or taken off by hand, of a new feed."""
        law, warned = self.law, self.law.cautions
        demanded: set[str] = set()
        for opening in node["open"]:
            demanded |= warned["opening"][opening]
        if node["rig"] != stand.rig:
            demanded |= warned["rig"][node["rig"]]
            if stand.rig in law.hands_on_rigs:
                demanded |= warned["rig"][stand.rig]
        unit_opened = law.inside(node["open"]) and not law.inside(stand.opened)
        if node["supply"] != stand.supply or unit_opened:
            demanded |= warned["supply"][node["supply"]]
        return frozenset(demanded)

    def _warned(self, at: Arrival, node: Document, demanded: Cautions) -> Iterator[Breach]:
        lost = demanded - frozenset(node["cautions"]) - (self._standing(at) & _claimed(node))
        if lost:
            yield Breach("caution-unsaid", at.node, named(lost))


def _claimed(node: Mapping[str, Any]) -> Cautions:
    return frozenset(node.get("standing", ()))
