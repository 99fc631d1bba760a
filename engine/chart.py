"""The chart: a plan with its set-up steps, make-safe lists and cautions put in, ready to draw.

`draw_up` turns a plan into the nodes of the document `nextprobe-chart/1`, `document` prints them.
A set-up node depends on where one comes from, so a plan node reached from two states has one test
node and two set-up nodes before it. Nodes are named n1, n2 ... in reading order.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from engine.model import Mains, Model, sha256
from engine.plan import Ask, Plan, Proof, Recheck, State, Verdict
from engine.setup import Step, start, steps

FORMAT = "nextprobe-chart/1"
CHARGED = ("mains", "hvdc")


@dataclass(frozen=True, slots=True)
class SafePoint:
    """A store to measure before hands go in: at `point`, go on when under `below` volts."""

    part: str
    point: str
    below: float


@dataclass(frozen=True, slots=True)
class SetupNode:
    """Make openings, change the supply arrangement, fit a rig; then go on to `next`."""

    open: tuple[str, ...]
    supply: str
    rig: str
    minutes: float
    cautions: tuple[str, ...]
    make_safe: tuple[SafePoint, ...]
    next: str


@dataclass(frozen=True, slots=True)
class TestNode:
    """Do a test and follow the branch of what it shows; every outcome has one."""

    test: str
    cautions: tuple[str, ...]
    branches: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class VerdictNode:
    """Apply the remedy. `faults` are (id, odds given one got here), `reach` the odds of that.

    `make_safe` lists the stores to prove empty where one may come here from mains or hvdc.
    """

    remedy: str
    faults: tuple[tuple[str, float], ...]
    reach: float
    cautions: tuple[str, ...]
    make_safe: tuple[SafePoint, ...] = ()


@dataclass(frozen=True, slots=True)
class RecheckNode:
    """Something was misread, or what is wrong is not listed."""

    says: str


ChartNode = SetupNode | TestNode | VerdictNode | RecheckNode


@dataclass(frozen=True, slots=True)
class Chart:
    """All that a printed chart tells about the plan; `nodes` is in reading order."""

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


def draw_up(model: Model, plan: Plan, state: State | None = None) -> Chart:
    """The chart of a plan that begins in `state` (default: the model's start)."""
    drawing = _Drawing(model, plan)
    root = drawing.way(state or start(model), plan.root)
    return Chart(
        topology=model.topology,
        mains=model.mains,
        depth=model.depth,
        complaint=model.complaint,
        model_sha256=sha256(model),
        proof=plan.proof,
        root=root,
        nodes=drawing.in_order(),
        knowledge=model.knowledge,
        says=model.says,
    )


class _Drawing:
    """Names chart nodes as they are met, each set-up before its test, branches in outcome order."""

    def __init__(self, model: Model, plan: Plan) -> None:
        self.model = model
        self.plan = plan
        self.nodes: dict[str, ChartNode] = {}
        self.names: dict[tuple[object, ...], str] = {}
        self.charged = _reached_charged(model, plan)

    def way(self, before: State, target: str) -> str:
        """The chart node to go to from `before`: set-ups first where the plan node needs any."""
        node = self.plan.nodes[target]
        if not isinstance(node, Ask):
            return self._place(target)
        return self._set_up(before, steps(self.model, before, node.state), target)

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
            make_safe=_make_safe(self.model, before.supply, step.supply),
            next=follows,
        )
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
        elif isinstance(node, Verdict):
            self.nodes[name] = self._verdict(target, node)
        else:
            assert isinstance(node, Recheck)
            self.nodes[name] = RecheckNode(node.says)
        return name

    def _verdict(self, target: str, node: Verdict) -> VerdictNode:
        reach = sum(weight for _, weight in node.weights)
        likely = sorted(node.weights, key=lambda pair: -pair[1])
        return VerdictNode(
            remedy=node.remedy,
            faults=tuple((fault, weight / reach) for fault, weight in likely),
            reach=reach,
            cautions=self.model.remedy(node.remedy).cautions,
            make_safe=_stores(self.model) if target in self.charged else (),
        )

    def _name(self, key: tuple[object, ...]) -> str:
        self.names[key] = f"n{len(self.names) + 1}"
        return self.names[key]

    def in_order(self) -> dict[str, ChartNode]:
        """The nodes, first met first."""
        return {name: self.nodes[name] for name in self.names.values()}


def _reached_charged(model: Model, plan: Plan) -> set[str]:
    """Plan nodes that one may come to straight from mains or hvdc."""
    return {
        child
        for node in plan.nodes.values()
        if isinstance(node, Ask) and model.arrangement(node.state.supply).energy in CHARGED
        for child in node.branches.values()
    }


def _make_safe(model: Model, supply: str, wanted: str) -> tuple[SafePoint, ...]:
    if wanted != model.dead_supply or model.arrangement(supply).energy not in CHARGED:
        return ()
    return _stores(model)


def _stores(model: Model) -> tuple[SafePoint, ...]:
    return tuple(
        SafePoint(store.part, store.point, store.below)
        for store in model.stores
        if store.max_volts > store.below
    )


def _setup_cautions(model: Model, before: State, step: Step) -> tuple[str, ...]:
    """Cautions of what this step opens, of the arrangement it goes to and of a rig it fits.

    Covering the sensor of a closed unit that is unplugged anyway needs none of the arrangement's:
    a warning where nothing can hurt dulls the next one.
    """
    found: list[str] = []
    for opening in step.opened:
        found.extend(model.opening(opening).cautions)
    if step.opened or step.supply != before.supply:
        found.extend(model.arrangement(step.supply).cautions)
    if step.rig != before.rig:
        found.extend(model.rig(before.rig).cautions)  # taking off can burn as fitting can
        found.extend(model.rig(step.rig).cautions)
    return tuple(dict.fromkeys(found))


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
                "make_safe": _safe_points(node.make_safe),
                "next": node.next,
            }
        case TestNode():
            return {
                "kind": "test",
                "test": node.test,
                "cautions": list(node.cautions),
                "branches": dict(node.branches),
            }
        case VerdictNode():
            return {
                "kind": "verdict",
                "remedy": node.remedy,
                "faults": [{"id": fault, "p": odds} for fault, odds in node.faults],
                "reach": node.reach,
                "cautions": list(node.cautions),
                "make_safe": _safe_points(node.make_safe),
            }
        case RecheckNode():
            return {"kind": "recheck", "says": node.says}


def _safe_points(points: tuple[SafePoint, ...]) -> list[dict[str, Any]]:
    return [{"part": p.part, "point": p.point, "below": p.below, "unit": "V"} for p in points]
