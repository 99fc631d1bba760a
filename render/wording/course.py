"""The chart as its lines run: order, parents, odds of arriving, and how the bench stands where."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from render.drawing.bench_marks import Bench, BenchMark, gravest
from render.wording.script import Document

Stand = tuple[frozenset[str], str, str]
"""How the bench stands: openings made, supply arrangement, rig."""


@dataclass(frozen=True, slots=True)
class Course:
    """The drawn nodes of a chart, followed once from the root.

    `order` is topological; `heads` are the steps by their first node, for set-ups run on into the
    test or verdict they prepare.
    """

    root: str
    nodes: Mapping[str, Document]
    order: tuple[str, ...]
    parents: Mapping[str, tuple[str, ...]]
    reaches: Mapping[str, float]
    stands: Mapping[str, frozenset[Stand]]
    heads: Mapping[str, tuple[str, ...]]

    @staticmethod
    def of(root: str, nodes: Mapping[str, Document], start: Document) -> Course:
        """The course of those nodes from the root on; the bench begins as `start` says."""
        order = _topological(root, nodes)
        parents = _parents(order, nodes)
        first = (frozenset(start["opened"]), str(start["supply"]), str(start["rig"]))
        return Course(
            root,
            nodes,
            order,
            parents,
            _reaches(order, nodes),
            _stands(root, order, nodes, first),
            _heads(root, order, nodes, parents),
        )

    def children(self, node_id: str) -> list[str]:
        """Where a node leads, each place once; what is only measured again leads nowhere."""
        return _children(node_id, self.nodes)

    def again(self, node_id: str) -> bool:
        """Whether a node only sends back to measure again."""
        return _again(node_id, self.nodes)

    def reading_order(self) -> tuple[str, ...]:
        """From the root, the likeliest branch first, all of it before the next."""
        order: dict[str, None] = {}
        stack = [self.root]
        while stack:
            node_id = stack.pop()
            if node_id not in order:
                order[node_id] = None
                stack.extend(sorted(self.children(node_id), key=lambda c: self.reaches[c]))
        return tuple(order)

    def mark(self, node_id: str, bench: Bench) -> BenchMark:
        """The bench's mark at a node: after a set-up, and as one comes to anything else."""
        node = self.nodes[node_id]
        return gravest(
            bench.mark(node["supply"], opened | set(node["open"]))
            if node["kind"] == "setup"
            else bench.mark(supply, opened)
            for opened, supply, _ in self.stands[node_id]
        )

    def begins(self, node_id: str, bench: Bench) -> bool:
        """Whether the bench's mark at a node is another than on some way to it."""
        mark = self.mark(node_id, bench)
        came = {bench.mark(supply, opened) for opened, supply, _ in self.stands[node_id]}
        return node_id == self.root or came != {mark}


def numbered(
    order: Iterable[str], nodes: Mapping[str, Document], before: Collection[str] = ()
) -> dict[str, str]:
    """Numbers of the tests, and of the verdicts with a V before, in that order; they go on from the
    numbers that stand on the sheets `before`."""
    numbers: dict[str, str] = {}
    verdicts = len({number for number in before if number.startswith("V")})
    tests = len(set(before)) - verdicts
    for node_id in order:
        kind = nodes[node_id]["kind"]
        if kind == "test":
            tests += 1
            numbers[node_id] = str(tests)
        elif kind == "verdict":
            verdicts += 1
            numbers[node_id] = f"V{verdicts}"
    return numbers


def _children(node_id: str, nodes: Mapping[str, Document]) -> list[str]:
    node = nodes[node_id]
    if node["kind"] in ("setup", "confirm"):
        return [node["next"]]
    if node["kind"] == "test":
        return [c for c in dict.fromkeys(node["branches"].values()) if not _again(c, nodes)]
    return []


def _again(node_id: str, nodes: Mapping[str, Document]) -> bool:
    return bool(nodes[node_id]["kind"] == "recheck")


def _topological(root: str, nodes: Mapping[str, Document]) -> tuple[str, ...]:
    order: list[str] = []
    seen: set[str] = set()
    stack: list[tuple[str, bool]] = [(root, False)]
    while stack:
        node_id, done = stack.pop()
        if done:
            order.append(node_id)
        elif node_id not in seen:
            seen.add(node_id)
            stack.append((node_id, True))
            stack.extend((child, False) for child in _children(node_id, nodes))
    return tuple(order[::-1])


def _parents(order: Iterable[str], nodes: Mapping[str, Document]) -> Mapping[str, tuple[str, ...]]:
    parents: dict[str, list[str]] = {node_id: [] for node_id in order}
    for node_id in order:
        for child in _children(node_id, nodes):
            parents[child].append(node_id)
    return {node_id: tuple(found) for node_id, found in parents.items()}


def _reaches(order: tuple[str, ...], nodes: Mapping[str, Document]) -> dict[str, float]:
    """Odds of arriving under a node: its verdicts' reaches, each counted once a node."""
    below: dict[str, frozenset[str]] = {}
    for node_id in reversed(order):
        mine = frozenset([node_id]) if nodes[node_id]["kind"] == "verdict" else frozenset()
        below[node_id] = mine.union(*(below[child] for child in _children(node_id, nodes)))
    return {
        node_id: sum(float(nodes[v].get("reach", 0.0)) for v in verdicts)
        for node_id, verdicts in below.items()
    }


def _stands(
    root: str, order: Iterable[str], nodes: Mapping[str, Document], start: Stand
) -> dict[str, frozenset[Stand]]:
    """How the bench may stand as one comes to each node."""
    stands: dict[str, set[Stand]] = defaultdict(set)
    stands[root].add(start)
    for node_id in order:
        node = nodes[node_id]
        for opened, supply, rig in list(stands[node_id]):
            after = (opened, supply, rig)
            if node["kind"] == "setup":
                after = (opened | set(node["open"]), node["supply"], node["rig"])
            for child in _children(node_id, nodes):
                stands[child].add(after)
    return {node_id: frozenset(found) for node_id, found in stands.items()}


def _heads(
    root: str,
    order: Iterable[str],
    nodes: Mapping[str, Document],
    parents: Mapping[str, tuple[str, ...]],
) -> dict[str, tuple[str, ...]]:
    home: dict[str, str] = {}
    heads: dict[str, list[str]] = {}
    for node_id in order:
        before = parents[node_id]
        runs_on = len(before) == 1 and nodes[before[0]]["kind"] in ("setup", "confirm")
        home[node_id] = home[before[0]] if runs_on and node_id != root else node_id
        heads.setdefault(home[node_id], []).append(node_id)
    return {head: tuple(members) for head, members in heads.items()}
