"""Where charge can stay in a unit, how much, and where hands come to meet it.

A node of the power path is one with its neighbours past every part in line that does not block: a
joint, a fuse, a choke. All that stands at such an island shows whatever charge any part across it
keeps, so a capacitor shows at each opening that anything at its island lies behind, and from
outside where the unit's own contacts belong to it. What is behind a part that isolates has no
conductor in common with the mains, if nothing on the mains side does more than let power in.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from engine.deduce.facts import Fact, fact
from kb.language import bounds
from kb.language.schema import PartKind, PlaceWord, Topology
from kb.quantities import FARAD, read_quantity

CONTACTS = "supply contacts"
_ENDS = frozenset({"node", "start", "end"})


@dataclass(frozen=True, slots=True)
class Island:
    """The name of some nodes that are one for direct current, and all that stands at them."""

    nodes: frozenset[str]
    openings: tuple[str, ...]
    points: tuple[str, ...]
    stages: tuple[str, ...]


class Exposure:
    """What can be charged in a composed unit; `facts` are those of its structure."""

    def __init__(
        self,
        topology: Topology,
        words: Mapping[str, PlaceWord],
        kinds: Mapping[str, PartKind],
        facts: Iterable[Fact],
        peak_volts: float,
    ) -> None:
        self._topology, self._words, self._kinds = topology, words, kinds
        self._most = float(round(peak_volts * bounds.OVER_NOMINAL))
        self._of: defaultdict[str, list[Fact]] = defaultdict(list)
        for item in facts:
            self._of[item.kind].append(item)
        self._head = self._of["head"][0].text("node")
        self._parts = {part.text("name"): part for part in self._of["part"]}
        self._island_of = self._islands()

    def facts(self) -> Iterator[Fact]:
        """`shows` for every node and part, `holds` for every part that can keep a charge."""
        for node in self._island_of:
            for opening in self._island_of[node].openings:
                yield fact("shows", of=node, behind=opening)
        for name in self._parts:
            for opening in self._exposing_openings(name):
                yield fact("shows", of=name, behind=opening)
        for name, part in self._parts.items():
            most = self._charge(name, part)
            if most > 0:
                yield fact("holds", part=name, volts=most, point=self._point(name))

    @property
    def is_isolated(self) -> bool:
        """Whether a part in line parts the unit from the mains, and nothing goes round it."""
        mains_side = self._mains_side()
        ways = [way for way in self._of["way"] if way.text("start") in mains_side]
        blocking = [way for way in ways if self._words[way.text("place")].blocks]
        return bool(blocking) and all(self._parts_from_mains(way) for way in blocking)

    def _parts_from_mains(self, way: Fact) -> bool:
        kind = self._kinds[self._parts[way.text("part")].text("kind")]
        return self._words[way.text("place")].isolates and "isolates" in kind.traits

    def _mains_side(self) -> frozenset[str]:
        return self._island_of[self._head].nodes

    def _islands(self) -> dict[str, Island]:
        """Each node's island."""
        group = {leads.text("node"): {leads.text("node")} for leads in self._nodes()}
        for way in self._of["way"]:
            if not self._words[way.text("place")].blocks:
                union = group[way.text("start")] | group[way.text("end")]
                for node in union:
                    group[node] = union
        islands = {frozenset(nodes): self._island(frozenset(nodes)) for nodes in group.values()}
        return {node: islands[frozenset(nodes)] for node, nodes in group.items()}

    def _nodes(self) -> Iterator[Fact]:
        yield from self._of["head"]
        for way in self._of["way"]:
            yield from (fact("node", node=way.text(end)) for end in ("start", "end"))

    def _island(self, nodes: frozenset[str]) -> Island:
        at = [
            self._parts[lies.text("part")] for lies in (*self._of["hangs"], *self._of["way"])
            if self._meets(lies, nodes)
        ]  # fmt: skip
        standing = {part.text("stage") for part in at}
        standing |= {
            taking.text("stage") for taking in self._of["enters"]
            if self._meets(taking, nodes) and not self._all_outside(taking.text("stage"))
        }  # fmt: skip
        stages = [stage for stage in self._of["stage"] if stage.text("name") in standing]
        points = [point for point in self._of["point"] if self._meets(point, nodes)]
        openings = {item.text("behind") for item in (*at, *stages, *points)}
        if self._head in nodes:
            openings.add("")
        return Island(
            nodes, self._in_order(openings), tuple(point.text("name") for point in points),
            tuple(stage.text("name") for stage in stages),
        )  # fmt: skip

    @staticmethod
    def _meets(item: Fact, nodes: frozenset[str]) -> bool:
        return any(name in _ENDS and value in nodes for name, value in item.fields)

    def _all_outside(self, stage: str) -> bool:
        """A stage of causes outside the unit stands at no node of it."""
        parts = self._topology.stages[stage].parts.values()
        return all(self._outside(part.kind) for part in parts)

    def _outside(self, kind: str) -> bool:
        return "outside" in self._kinds[kind].traits

    def _in_order(self, openings: Iterable[str]) -> tuple[str, ...]:
        order = ("", *self._topology.openings)
        return tuple(sorted(set(openings), key=order.index))

    def _node(self, name: str) -> str:
        """The node that a part hangs at or leads to; empty for one beside the power path."""
        for hanging in self._of["hangs"]:
            if hanging.text("part") == name:
                return hanging.text("node")
        for way in self._of["way"]:
            if way.text("part") == name:
                return way.text("end")
        return ""

    def _exposing_openings(self, name: str) -> tuple[str, ...]:
        """The openings that each show a part's terminals."""
        part = self._parts[name]
        if part.text("place") and self._outside(part.text("kind")):
            return ("",)
        openings = {part.text("behind")}
        nodes = [self._node(name)]
        nodes += [way.text("start") for way in self._of["way"] if way.text("part") == name]
        for node in nodes:
            if node:
                openings.update(self._island_of[node].openings)
        return self._in_order(openings)

    def _charge(self, name: str, part: Fact) -> float:
        """The most volts it can keep; 0 for a part that keeps none."""
        if not self._stores(name, part):
            return 0.0
        rating = part.number("volts")
        if self._node(name) in self._mains_side():
            return self._most
        if self.is_isolated:
            low = self._secondary_peak()
            return max(rating, low) if low > 0 else max(rating, self._most)
        return rating if rating > bounds.MOST_ELV_VOLTS else self._most

    def _stores(self, name: str, part: Fact) -> bool:
        unit = self._unit(part)
        lies = self._words[part.text("place")].lies
        if lies == "beside":
            return unit == FARAD and not 0 < part.number("volts") <= bounds.MOST_ELV_VOLTS
        if lies == "in-line" and unit != FARAD:
            return False
        farads = part.number("value") * part.number("count") if unit == FARAD else 0.0
        small = 0 < farads <= bounds.LEAST_STORING_FARADS * 1.000001
        if small and self._node(name) in self._mains_side():
            return False
        return unit in (FARAD, "")

    def _unit(self, part: Fact) -> str:
        """The unit of its marking, which tells a capacitor whatever its kind is called."""
        if marking := part.text("marking"):
            return read_quantity(marking).unit
        unit = self._kinds[part.text("kind")].unit
        return read_quantity(f"1 {unit}").unit if unit else ""

    def _secondary_peak(self) -> float:
        """Peak behind the isolating parts as they are marked, over nominal; 0 if not all say."""
        markings = [
            self._parts[way.text("part")].number("value")
            for way in self._of["way"] if self._words[way.text("place")].isolates
        ]  # fmt: skip
        if not markings or min(markings) <= 0:
            return 0.0
        return max(markings) * math.sqrt(2) * bounds.OVER_NOMINAL

    def _point(self, name: str) -> str:
        """Where it is measured, in words that hold at the first opening that shows it."""
        first = self._exposing_openings(name)[0]
        if first == self._parts[name].text("behind"):
            return name
        island = self._island_of[self._node(name)]
        if self._head in island.nodes:
            return f"{CONTACTS} ({name})"
        own = frozenset({self._node(name)})
        at = [point.text("name") for point in self._of["point"] if self._meets(point, own)]
        if at or island.points:
            return f"{(*at, *island.points)[0]} ({name})"
        stage = next(
            stage for stage in self._of["stage"]
            if stage.text("name") in island.stages and stage.text("behind") == first
        )  # fmt: skip
        return f"where the {stage.text('says')} takes its power ({name})"
