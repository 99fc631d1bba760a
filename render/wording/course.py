"""The chart as its lines run: order, parents, odds of arriving, and how the bench stands where."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

from engine.chart import ways
from engine.chart.traversal import in_reading_order, topological
from engine.model.plan import State
from render.drawing.bench_marks import Bench, BenchMark, gravest
from render.wording.script import Document


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
    stands: Mapping[str, frozenset[State]]
    heads: Mapping[str, tuple[str, ...]]

    @staticmethod
    def of(root: str, nodes: Mapping[str, Document], start: Document) -> Course:
        """The course of those nodes from the root on; the bench begins as `start` says."""
        # The last branch first, so that of equal places the first one's come first.
        order = topological(root, lambda name: tuple(reversed(_children(name, nodes))))
        parents = _parents(order, nodes)
        return Course(
            root,
            nodes,
            order,
            parents,
            _reaches(order, nodes),
            ways.benches(nodes, order, ways.start_state(start)),
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
        return likeliest_first(self.root, self.children, self.reaches)

    def mark(self, node_id: str, bench: Bench) -> BenchMark:
        """The bench's mark at a node: after a set-up, and as one comes to anything else."""
        return mark_at(self.nodes[node_id], self.stands[node_id], bench)

    def begins(self, node_id: str, bench: Bench) -> bool:
        """Whether the bench's mark at a node is another than on some way to it."""
        mark = self.mark(node_id, bench)
        came = {bench.mark(s.supply, s.opened) for s in self.stands[node_id]}
        return node_id == self.root or came != {mark}


def likeliest_first(
    root: str, below: Callable[[str], Iterable[str]], odds: Mapping[str, float]
) -> tuple[str, ...]:
    """The steps from the root, the likeliest branch first, all of it before the next: of two that
    are as likely the later one. `below` gives those that a step leads to, each once."""
    return in_reading_order(root, lambda name: sorted(below(name), key=odds.__getitem__))


def mark_at(node: Document, stands: frozenset[State], bench: Bench) -> BenchMark:
    """The bench's mark at a node that one comes to with it standing in those ways: after a set-up,
    and as one comes to anything else; the gravest where they differ."""
    after = ways.states_after(node, stands)
    return gravest(bench.mark(state.supply, state.opened) for state in after)


def numbers_of(
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


def _parents(order: Iterable[str], nodes: Mapping[str, Document]) -> Mapping[str, tuple[str, ...]]:
    parents: dict[str, list[str]] = {node_id: [] for node_id in order}
    for node_id in order:
        for child in _children(node_id, nodes):
            parents[child].append(node_id)
    return {node_id: tuple(names) for node_id, names in parents.items()}


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
