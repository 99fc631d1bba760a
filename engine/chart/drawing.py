"""The chart: a plan with its set-up steps, make-safe lists and cautions put in, ready to draw.

`draw_up` turns a plan into the record of the document `nextprobe-chart/1`
(`engine.documents.chart`), `document` prints it.
A set-up node depends on where one comes from, so a plan node reached from two states has one test
node and two set-up nodes before it. Nodes are named n1, n2 ... in reading order.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, cast

from engine.chart import cautioning
from engine.chart.cautioning import HANDS_KINDS, Region, region
from engine.chart.traversal import Arrival, arrivals
from engine.documents.chart import (
    FORMAT,
    Chart,
    ChartNode,
    GroupedCautions,
    RecheckNode,
    SetupNode,
    TestNode,
    VerdictNode,
)
from engine.documents.record import ComingPoint, Depth, FaultOdds, MainsRecord, SafePoint
from engine.model import makesafe
from engine.model.plan import Ask, Plan, Recheck, State, Verdict
from engine.model.records import Model, Store, sha256
from engine.model.setup import Step, start, steps

_NOWHERE: Region = ("", False)


@dataclass(frozen=True, slots=True)
class Outset:
    """Where a chart begins: the bench, the stores known to be low there, and the cautions that
    stand there. By default the model's start, with nothing known of a unit that came in."""

    state: State
    low: frozenset[str] = frozenset()
    cautions: frozenset[str] = frozenset()


def draw_up(model: Model, plan: Plan, outset: Outset | None = None) -> Chart:
    """The chart of a plan that begins at `outset`."""
    begin = outset or Outset(start(model))
    drawing = _Drawing(model, plan, begin)
    root = drawing.way(begin.state, plan.root, begin.low)
    nodes, group = drawing.with_cautions(root, begin)
    proof = plan.proof
    return Chart(
        format=FORMAT,
        topology=model.topology,
        says=model.says,
        mains=MainsRecord.of(model.mains),
        depth=cast(Depth, model.depth),
        complaint=model.complaint,
        knowledge=model.knowledge,
        model_sha256=sha256(model),
        expected_minutes=proof.expected_minutes,
        expected_cost=proof.expected_cost,
        lower_bound=proof.lower_bound,
        proved_optimal=proof.proved_optimal,
        nodes_expanded=proof.nodes_expanded,
        fault_classes=proof.fault_classes,
        tests_left=proof.tests_left,
        closed_by=proof.closed_by,
        grouped=GroupedCautions(verdict=group),
        root=root,
        nodes=nodes,
    )


_Charges = tuple[tuple[SafePoint, ...], tuple[ComingPoint, ...]]


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
    finished: list[str] = field(default_factory=list)
    arrivals: dict[str, list[Arrival]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.arrivals = arrivals(self.model, self.plan, self.begin.state)

    def way(self, before: State, target: str, low_stores: frozenset[str] | None = None) -> str:
        """The chart node to go to from `before`: set-ups first where the plan node needs any."""
        node = self.plan.nodes[target]
        if isinstance(node, Verdict):
            return self._end(before, target, node)
        if not isinstance(node, Ask):
            return self._place(target)
        low = makesafe.known_at(self.model, before) if low_stores is None else low_stores
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
            kind="setup",
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
            own = TestNode(
                kind="test", test=node.test, cautions=test.cautions, branches=branches
            )
            self.nodes[name] = own.model_copy(update={"compare": True}) if test.compare else own
            here = region(self.model, node.state)
            self._keep(name, here, here)
        else:
            assert isinstance(node, Recheck)
            self.nodes[name] = RecheckNode(kind="recheck", says=node.says)
            self._keep(name, None, _NOWHERE)
        return name

    def _end(self, before: State, target: str, node: Verdict) -> str:
        """The verdict for those who come from `before`: one node for all who find the same stores
        due and ahead, since nobody is to be asked for a store that another way has shown."""
        charges = self._charges(before, target, node)
        key = ("end", target, charges)
        if key in self.names:
            return self.names[key]
        name = self._name(key)
        alike = [
            arrival for arrival in self.arrivals[target]
            if self._charges(arrival.state, target, node) == charges
        ]  # fmt: skip
        self.nodes[name] = self._verdict(node, alike, charges)
        regions = {region(self.model, arrival.state) for arrival in alike}
        supply, openings = regions.pop()
        alone = not regions and supply == self.model.dead_supply
        self._keep(name, None, (supply, openings) if alone else _NOWHERE)
        return name

    def _verdict(self, node: Verdict, ways: Sequence[Arrival], charges: _Charges) -> VerdictNode:
        weights = [
            (fault, math.fsum(way.weights.get(fault, 0.0) for way in ways))
            for fault, _ in node.weights
        ]
        reach = math.fsum(weight for _, weight in weights)
        likely = sorted((pair for pair in weights if pair[1] > 0), key=lambda pair: -pair[1])
        remedy = self.model.remedy(node.remedy)
        return VerdictNode(
            kind="verdict",
            remedy=node.remedy,
            faults=tuple(FaultOdds(id=fault, p=weight / reach) for fault, weight in likely),
            reach=reach,
            cautions=remedy.cautions,
            make_safe=charges[0],
            opening_up=charges[1],
        )

    def _charges(self, state: State, target: str, node: Verdict) -> _Charges:
        """The stores due at a verdict come to from `state`, and those that a repair comes upon."""
        model = self.model
        reaches_in = model.remedy(node.remedy).kind in HANDS_KINDS
        low = makesafe.known_at(model, state)
        if state == self.begin.state and target == self.plan.root:
            low = self.begin.low
        due: tuple[Store, ...] = ()
        if reaches_in or makesafe.is_opened(model, state.opened):
            due = makesafe.stores_due(model, low, replace(state, supply=model.dead_supply))
        ahead = makesafe.on_the_way_in(model, low, state.opened) if reaches_in else ()
        return _points(due), tuple(ComingPoint.behind(store, opening) for store, opening in ahead)

    def _keep(self, name: str, entry: Region | None, left: Region) -> None:
        self.regions[name] = (entry, left)
        self.finished.append(name)

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
            for name in reversed(self.finished)  # each after all that lead to it
        }
        cautions_at = cautioning.cautions_of(places, root, begin.cautions)
        nodes: dict[str, ChartNode] = {}
        for name in self.names.values():
            node = self.nodes[name]
            if isinstance(node, RecheckNode):
                nodes[name] = node
            else:
                cautions = cautions_at[name]
                nodes[name] = node.model_copy(
                    update={"cautions": cautions.full, "standing": cautions.standing}
                )
        return nodes, group

    def _caution_place(self, name: str, group: tuple[str, ...]) -> cautioning.Place:
        node, (entry, left) = self.nodes[name], self.regions[name]
        demands = () if isinstance(node, RecheckNode) else node.cautions
        if isinstance(node, VerdictNode) and self.model.remedy(node.remedy).kind in HANDS_KINDS:
            demands = tuple(caution for caution in demands if caution not in group)
        ends = self.ends.get(name, frozenset())
        return cautioning.Place(entry, left, demands, tuple(_following(node)), ends)


def _following(node: ChartNode) -> Iterator[str]:
    if isinstance(node, SetupNode):
        yield node.next
    elif isinstance(node, TestNode):
        yield from dict.fromkeys(node.branches.values())


def _points(due: Iterable[Store]) -> tuple[SafePoint, ...]:
    return tuple(SafePoint.of(store) for store in due)


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
    return chart.plain()
