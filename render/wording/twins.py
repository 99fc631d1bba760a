"""Equal sub-plans of a chart drawn once: the same checks in the same order with the same ends.

Two ways through a plan may go on alike though the odds on them differ: a document keeps both, each
with odds of its own, a sheet draws one and sends both there. Its verdicts bear the odds of all who
come to it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from engine.chart import ways
from engine.chart.traversal import topological
from render.drawing.bench_marks import Bench
from render.wording.documents import advice_of, joint_verdict
from render.wording.script import Document

_KINDS = ("setup", "test")
# What differs between twins: odds, where they lead (told by the twins below), minutes of a way on.
_OWN = frozenset({"reach", "faults", "branches", "next", "instead", "going_on"})


def twins_merged(
    root: str, nodes: Mapping[str, Document], start: Document, bench: Bench
) -> tuple[dict[str, Document], dict[str, str]]:
    """The nodes to draw, and for each that is folded into a twin the twin's name.

    Twins say and demand the same, come to with the same supply, rig and mark of the bench, and lead
    to twins by the same outcomes; the one most units come to stays. Bare verdicts are left to
    `sisters_merged`: a circle in place of one saves no paper. `start` is the model document's.
    """
    order = topological(root, lambda name: ways.below(nodes[name]))
    group = _Groups()
    stands = {
        name: frozenset((s.supply, s.rig, bench.mark(s.supply, s.opened).word) for s in here)
        for name, here in ways.benches(nodes, order, ways.start_state(start)).items()
    }
    for twins in _classes(nodes, order, stands):
        for other in twins[1:]:
            group.join(twins[0], other)
            for one, two in zip(ways.below(nodes[twins[0]]), ways.below(nodes[other]), strict=True):
                group.join(one, two)
    reaches = _reaches(nodes, order)
    members: dict[str, list[str]] = defaultdict(list)
    for name in order:
        members[group.of(name)].append(name)
    stays = {
        head: max(kin, key=lambda name: reaches[name]) for head, kin in members.items()
    }
    symbols: dict[str, Document] = {}
    for name, node in nodes.items():
        if name not in reaches or stays[group.of(name)] == name:
            kin = [name] if name not in reaches else members[group.of(name)]
            is_joint = node["kind"] == "verdict" and len(kin) > 1
            symbol = joint_verdict([nodes[k] for k in kin]) if is_joint else node
            ahead = {to: stays.get(group.of(to), to) for to in ways.below(node)}
            symbols[name] = _leading(symbol, ahead)
    twin_of = {n: stays[group.of(n)] for n in order if stays[group.of(n)] != n}
    return symbols, twin_of


def _leading(node: Document, stays: Mapping[str, str]) -> Document:
    """The node with its lines led to the twins that stay."""
    if "next" in node:
        return {**node, "next": stays[node["next"]]}
    if "branches" in node:
        return {**node, "branches": {o: stays[to] for o, to in node["branches"].items()}}
    return node


def _classes(
    nodes: Mapping[str, Document], order: tuple[str, ...], stands: Mapping[str, frozenset[object]]
) -> Iterator[list[str]]:
    """Tests and set-ups that are twins of each other, several at a time."""
    classes: dict[tuple[object, ...], int] = {}
    class_of: dict[str, int] = {}
    names: dict[int, list[str]] = defaultdict(list)
    for name in reversed(order):
        node = nodes[name]
        below = tuple(class_of[to] for to in ways.below(node))
        key = (_words(node), stands[name], tuple(node.get("branches", ())), below)
        class_of[name] = classes.setdefault(key, len(classes))
        if node["kind"] in _KINDS:
            names[class_of[name]].append(name)
    yield from (twins for twins in names.values() if len(twins) > 1)


def _words(node: Document) -> str:
    """All that the node says but what is its own: what to do where it can't be done counts by what
    it is, and going on by its advice."""
    own = {key: value for key, value in node.items() if key not in _OWN}
    instead = node.get("instead") or {}
    own["way on"] = (instead.get("test"), instead.get("remedy"), *advice_of(node))
    return repr(sorted(own.items()))


def _reaches(nodes: Mapping[str, Document], order: tuple[str, ...]) -> dict[str, float]:
    """Odds of ending below each node, each verdict counted once; above those of a twin's copy."""
    ends: dict[str, frozenset[str]] = {}
    for name in reversed(order):
        own = frozenset({name} if nodes[name]["kind"] == "verdict" else ())
        ends[name] = own.union(*(ends[to] for to in ways.below(nodes[name])))
    return {name: sum(float(nodes[v].get("reach", 0.0)) for v in ends[name]) for name in order}


class _Groups:
    """Names that stand for one symbol: disjoint sets (Tarjan 1975), each named by a member."""

    def __init__(self) -> None:
        self._above: dict[str, str] = {}

    def of(self, name: str) -> str:
        """The member that names the set."""
        while self._above.get(name, name) != name:
            name = self._above[name]
        return name

    def join(self, one: str, other: str) -> None:
        """Make the two sets one."""
        self._above[self.of(other)] = self.of(one)
