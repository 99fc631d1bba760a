"""The chart: a plan with its set-up steps, make-safe lists and cautions put in, ready to draw.

`draw_up` turns a plan into the nodes of the document `nextprobe-chart/1`, `document` prints them.
A set-up node depends on where one comes from, so a plan node reached from two states has one test
node and two set-up nodes before it. Nodes are named n1, n2 ... in reading order.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from engine.chart import cautioning
from engine.chart.cautioning import HANDS_KINDS, Region, region
from engine.chart.traversal import Arrival, arrivals
from engine.model import makesafe
from engine.model.plan import Ask, Plan, Proof, Recheck, State, Verdict
from engine.model.records import Mains, Model, Store, sha256
from engine.model.setup import Step, start, steps

FORMAT = "nextprobe-chart/1"
_NOWHERE: Region = ("", False)


@dataclass(frozen=True, slots=True)
class SafePoint:
    """A store to measure before hands go in: at `point`, go on when under `below` volts.

    `opening` is set where a repair comes upon it: the opening that shows it.
    """

    part: str
    point: str
    below: float
    opening: str = ""


@dataclass(frozen=True, slots=True)
class SetupNode:
    """Change the supply, make openings, measure what is due, fit a rig; then go on to `next`."""

    open: tuple[str, ...]
    supply: str
    rig: str
    minutes: float
    cautions: tuple[str, ...]
    make_safe: tuple[SafePoint, ...]
    next: str
    standing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TestNode:
    """Do a test and follow the branch of what it shows; every outcome has one."""

    test: str
    cautions: tuple[str, ...]
    branches: Mapping[str, str]
    standing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class VerdictNode:
    """Apply the remedy. `faults` are (id, odds given one got here), `reach` the odds of that.

    `make_safe` lists the stores that are due at once, `opening_up` those that a repair comes upon.
    """

    remedy: str
    faults: tuple[tuple[str, float], ...]
    reach: float
    cautions: tuple[str, ...]
    make_safe: tuple[SafePoint, ...] = ()
    opening_up: tuple[SafePoint, ...] = ()
    standing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RecheckNode:
    """Something was misread, or what is wrong is not listed."""

    says: str


ChartNode = SetupNode | TestNode | VerdictNode | RecheckNode


@dataclass(frozen=True, slots=True)
class Chart:
    """All that a printed chart tells about the plan; `nodes` is in reading order.

    `grouped` are the cautions of every repair, told once beside the verdicts.
    """

    topology: str
    mains: Mains
    depth: str
    complaint: str | None
    model_sha256: str
    proof: Proof
    root: str
    nodes: Mapping[str, ChartNode]
    knowledge: str = ""
    says: str = ""
    grouped: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Outset:
    """Where a chart begins: the bench, the stores known to be low there, and the cautions that
    stand there. By default the model's start, with nothing known of a unit that came in."""

    state: State
    known: frozenset[str] = frozenset()
    held: frozenset[str] = frozenset()


def draw_up(model: Model, plan: Plan, outset: Outset | None = None) -> Chart:
    """The chart of a plan that begins at `outset`."""
    begin = outset or Outset(start(model))
    drawing = _Drawing(model, plan, begin)
    root = drawing.way(begin.state, plan.root, begin.known)
    nodes, group = drawing.with_cautions(root, begin)
    return Chart(
        topology=model.topology,
        mains=model.mains,
        depth=model.depth,
        complaint=model.complaint,
        model_sha256=sha256(model),
        proof=plan.proof,
        root=root,
        nodes=nodes,
        knowledge=model.knowledge,
        says=model.says,
        grouped=group,
    )


_Stores = tuple[tuple[SafePoint, ...], tuple[SafePoint, ...]]


@dataclass(slots=True)
class _Drawing:
    """Names chart nodes as they are met, each set-up before its test, branches in outcome order."""

    model: Model
    plan: Plan
    begin: Outset
    nodes: dict[str, ChartNode] = field(default_factory=dict)
    names: dict[tuple[object, ...], str] = field(default_factory=dict)
    regions: dict[str, tuple[Region | None, Region]] = field(default_factory=dict)
    ends: dict[str, frozenset[str]] = field(default_factory=dict)
    order: list[str] = field(default_factory=list)
    arrivals: dict[str, list[Arrival]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.arrivals = arrivals(self.model, self.plan, self.begin.state)

    def way(self, before: State, target: str, begin_low: frozenset[str] | None = None) -> str:
        """The chart node to go to from `before`: set-ups first where the plan node needs any."""
        node = self.plan.nodes[target]
        if isinstance(node, Verdict):
            return self._end(before, target, node)
        if not isinstance(node, Ask):
            return self._place(target)
        low = makesafe.known_at(self.model, before) if begin_low is None else begin_low
        return self._set_up(before, steps(self.model, before, node.state, low), target)

    def _set_up(self, before: State, left: tuple[Step, ...], target: str) -> str:
        if not left:
            return self._place(target)
        step = left[0]
        key = ("setup", before, left, target)
        if key in self.names:
            return self.names[key]
        name = self._name(key)
        after = State(before.opened | frozenset(step.opened), step.supply, step.rig)
        follows = self._set_up(after, left[1:], target)
        self.nodes[name] = SetupNode(
            open=step.opened,
            supply=step.supply,
            rig=step.rig,
            minutes=step.minutes,
            cautions=_setup_cautions(self.model, before, step),
            make_safe=_points(step.measure),
            next=follows,
        )
        self._keep(name, region(self.model, before), region(self.model, after))
        self.ends[name] = cautioning.ending(self.model, before, after)
        return name

    def _place(self, target: str) -> str:
        key = ("plan", target)
        if key in self.names:
            return self.names[key]
        name = self._name(key)
        node = self.plan.nodes[target]
        if isinstance(node, Ask):
            test = self.model.test(node.test)
            branches = {
                outcome.id: self.way(node.state, node.branches[outcome.id])
                for outcome in test.outcomes
            }
            self.nodes[name] = TestNode(node.test, test.cautions, branches)
            here = region(self.model, node.state)
            self._keep(name, here, here)
        else:
            assert isinstance(node, Recheck)
            self.nodes[name] = RecheckNode(node.says)
            self._keep(name, None, _NOWHERE)
        return name

    def _end(self, before: State, target: str, node: Verdict) -> str:
        """The verdict for those who come from `before`: one node for all who find the same stores
        due and ahead, since nobody is to be asked for a store that another way has shown."""
        stores = self._stores(before, target, node)
        key = ("end", target, stores)
        if key in self.names:
            return self.names[key]
        name = self._name(key)
        alike = [
            arrival for arrival in self.arrivals[target]
            if self._stores(arrival.state, target, node) == stores
        ]  # fmt: skip
        self.nodes[name] = self._verdict(node, alike, stores)
        places = {region(self.model, arrival.state) for arrival in alike}
        supply, is_open = places.pop()
        alone = not places and supply == self.model.dead_supply
        self._keep(name, None, (supply, is_open) if alone else _NOWHERE)
        return name

    def _verdict(self, node: Verdict, ways: Sequence[Arrival], stores: _Stores) -> VerdictNode:
        weights = [
            (fault, math.fsum(way.weights.get(fault, 0.0) for way in ways))
            for fault, _ in node.weights
        ]
        reach = math.fsum(weight for _, weight in weights)
        likely = sorted((pair for pair in weights if pair[1] > 0), key=lambda pair: -pair[1])
        remedy = self.model.remedy(node.remedy)
        return VerdictNode(
            remedy=node.remedy,
            faults=tuple((fault, weight / reach) for fault, weight in likely),
            reach=reach,
            cautions=remedy.cautions,
            make_safe=stores[0],
            opening_up=stores[1],
        )

    def _stores(self, state: State, target: str, node: Verdict) -> _Stores:
        """The stores due at a verdict come to from `state`, and those that a repair comes upon."""
        model = self.model
        reaches_in = model.remedy(node.remedy).kind in HANDS_KINDS
        low = makesafe.known_at(model, state)
        if state == self.begin.state and target == self.plan.root:
            low = self.begin.known
        due: tuple[Store, ...] = ()
        if reaches_in or makesafe.is_opened(model, state.opened):
            due = makesafe.stores_due(model, low, replace(state, supply=model.dead_supply))
        ahead = makesafe.on_the_way_in(model, low, state.opened) if reaches_in else ()
        return _points(due), tuple(
            replace(_point(store), opening=opening) for store, opening in ahead
        )

    def _keep(self, name: str, before: Region | None, left: Region) -> None:
        self.regions[name] = (before, left)
        self.order.append(name)

    def _name(self, key: tuple[object, ...]) -> str:
        self.names[key] = f"n{len(self.names) + 1}"
        return self.names[key]

    def with_cautions(
        self, root: str, begin: Outset
    ) -> tuple[dict[str, ChartNode], tuple[str, ...]]:
        """The nodes, first met first, each with what it tells in full and what stands; and the
        cautions of every repair."""
        verdicts = [n.remedy for n in self.nodes.values() if isinstance(n, VerdictNode)]
        group = cautioning.group_cautions(self.model, verdicts)
        places = {
            name: self._caution_place(name, group)
            for name in reversed(self.order)  # each after all that lead to it
        }
        cautions_at = cautioning.cautions_of(places, root, begin.held)
        nodes: dict[str, ChartNode] = {}
        for name in self.names.values():
            node = self.nodes[name]
            if isinstance(node, RecheckNode):
                nodes[name] = node
            else:
                cautions = cautions_at[name]
                nodes[name] = replace(node, cautions=cautions.full, standing=cautions.standing)
        return nodes, group

    def _caution_place(self, name: str, group: tuple[str, ...]) -> cautioning.Place:
        node, (before, left) = self.nodes[name], self.regions[name]
        demands = () if isinstance(node, RecheckNode) else node.cautions
        if isinstance(node, VerdictNode) and self.model.remedy(node.remedy).kind in HANDS_KINDS:
            demands = tuple(caution for caution in demands if caution not in group)
        ends = self.ends.get(name, frozenset())
        return cautioning.Place(before, left, demands, tuple(_following(node)), ends)


def _following(node: ChartNode) -> Iterator[str]:
    if isinstance(node, SetupNode):
        yield node.next
    elif isinstance(node, TestNode):
        yield from dict.fromkeys(node.branches.values())


def _point(store: Store) -> SafePoint:
    return SafePoint(store.part, store.point, store.below)


def _points(due: Iterable[Store]) -> tuple[SafePoint, ...]:
    return tuple(_point(store) for store in due)


def _setup_cautions(model: Model, before: State, step: Step) -> tuple[str, ...]:
    """Cautions of what this step opens, of the arrangement it goes to and of a rig it fits.

    Covering the sensor of a closed unit that is unplugged anyway needs none of the arrangement's:
    a warning where nothing can hurt dulls the next one.
    """
    cautions: list[str] = []
    for opening in step.opened:
        cautions.extend(model.opening(opening).cautions)
    if step.opened or step.supply != before.supply or step.measure:
        cautions.extend(model.arrangement(step.supply).cautions)
    if step.rig != before.rig:
        cautions.extend(model.rig(before.rig).cautions)  # taking off can burn as fitting can
        cautions.extend(model.rig(step.rig).cautions)
    return tuple(dict.fromkeys(cautions))


def document(chart: Chart) -> dict[str, Any]:
    """The chart as the JSON-ready document `nextprobe-chart/1`."""
    proof = chart.proof
    return {
        "format": FORMAT,
        "topology": chart.topology,
        "says": chart.says,
        "mains": {"volts": chart.mains.volts, "hertz": chart.mains.hertz},
        "depth": chart.depth,
        "complaint": chart.complaint,
        "knowledge": chart.knowledge,
        "model_sha256": chart.model_sha256,
        "expected_minutes": proof.expected_minutes,
        "expected_cost": proof.expected_cost,
        "lower_bound": proof.lower_bound,
        "proved_optimal": proof.proved_optimal,
        "nodes_expanded": proof.nodes_expanded,
        "fault_classes": proof.fault_classes,
        "tests_left": proof.tests_left,
        "closed_by": proof.closed_by,
        "grouped": {"verdict": list(chart.grouped)},
        "root": chart.root,
        "nodes": {name: _node_document(node) for name, node in chart.nodes.items()},
    }


def _node_document(node: ChartNode) -> dict[str, Any]:
    match node:
        case SetupNode():
            return {
                "kind": "setup",
                "open": list(node.open),
                "supply": node.supply,
                "rig": node.rig,
                "minutes": node.minutes,
                "cautions": list(node.cautions),
                "standing": list(node.standing),
                "make_safe": _safe_points(node.make_safe),
                "next": node.next,
            }
        case TestNode():
            return {
                "kind": "test",
                "test": node.test,
                "cautions": list(node.cautions),
                "standing": list(node.standing),
                "branches": dict(node.branches),
            }
        case VerdictNode():
            return {
                "kind": "verdict",
                "remedy": node.remedy,
                "faults": [{"id": fault, "p": odds} for fault, odds in node.faults],
                "reach": node.reach,
                "cautions": list(node.cautions),
                "standing": list(node.standing),
                "make_safe": _safe_points(node.make_safe),
                "opening_up": [
                    {**point, "opening": at.opening}
                    for point, at in zip(
                        _safe_points(node.opening_up), node.opening_up, strict=True
                    )
                ],
            }
        case RecheckNode():
            return {"kind": "recheck", "says": node.says}


def _safe_points(points: tuple[SafePoint, ...]) -> list[dict[str, Any]]:
    return [{"part": p.part, "point": p.point, "below": p.below, "unit": "V"} for p in points]
