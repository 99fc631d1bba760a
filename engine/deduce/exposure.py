"""Where charge can stay in a unit, how much, and where hands come to meet it.

A node of the power path is one with its neighbours past every part in line that does not block: a
joint, a fuse, a choke. All that stands at such an island shows whatever charge any part across it
keeps, so a capacitor shows at each opening that anything at its island lies behind, and from
outside where the unit's own contacts belong to it. What is behind a part that isolates has no
conductor in common with the mains, if nothing on the mains side does more than let power in.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from engine.deduce import anatomy
from engine.deduce.facts import Fact, fact, views_of
from kb.language import bounds
from kb.language.schema import PartKind, PlaceWord, Topology
from kb.quantities import FARAD, read_quantity

CONTACTS = "supply contacts"
_AtNodes = (
    anatomy.Head | anatomy.Way | anatomy.Hanging | anatomy.Entrance | anatomy.TestPoint
)
"""What stands at nodes of the power path."""


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
        facts = tuple(facts)
        self._head = next(views_of(anatomy.Head, facts)).node
        self._parts = {part.name: part for part in views_of(anatomy.Part, facts)}
        self._ways = tuple(views_of(anatomy.Way, facts))
        self._hangings = tuple(views_of(anatomy.Hanging, facts))
        self._entrances = tuple(views_of(anatomy.Entrance, facts))
        self._stages = tuple(views_of(anatomy.Stage, facts))
        self._points = tuple(views_of(anatomy.TestPoint, facts))
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
        blocking = self._blocking()
        return bool(blocking) and all(self._parts_from_mains(way) for way in blocking)

    @property
    def borders(self) -> tuple[str, ...]:
        """The parts in line that end the mains side, in the order of the power."""
        return tuple(way.part for way in self._blocking())

    def _blocking(self) -> list[anatomy.Way]:
        mains_side = self._mains_side()
        return [
            way for way in self._ways
            if way.start in mains_side and self._words[way.place].blocks
        ]  # fmt: skip

    def _parts_from_mains(self, way: anatomy.Way) -> bool:
        kind = self._kinds[self._parts[way.part].part_kind]
        return self._words[way.place].isolates and "isolates" in kind.traits

    def _mains_side(self) -> frozenset[str]:
        return self._island_of[self._head].nodes

    def _islands(self) -> dict[str, Island]:
        """Each node's island."""
        group = {node: {node} for node in self._nodes()}
        for way in self._ways:
            if not self._words[way.place].blocks:
                union = group[way.start] | group[way.end]
                for node in union:
                    group[node] = union
        islands = {frozenset(nodes): self._island(frozenset(nodes)) for nodes in group.values()}
        return {node: islands[frozenset(nodes)] for node, nodes in group.items()}

    def _nodes(self) -> Iterator[str]:
        yield self._head
        for way in self._ways:
            yield from way.ends

    def _island(self, nodes: frozenset[str]) -> Island:
        at = [
            *(self._parts[lies.part] for lies in self._hangings if self._meets(lies, nodes)),
            *(self._parts[lies.part] for lies in self._ways if self._meets(lies, nodes)),
        ]  # fmt: skip
        standing = {part.stage for part in at}
        standing |= {
            taking.stage for taking in self._entrances
            if self._meets(taking, nodes) and not self._all_outside(taking.stage)
        }  # fmt: skip
        stages = [stage for stage in self._stages if stage.name in standing]
        points = [point for point in self._points if self._meets(point, nodes)]
        openings = {part.behind for part in at} | {stage.behind for stage in stages}
        openings |= {point.behind for point in points}
        if self._head in nodes:
            openings.add("")
        return Island(
            nodes, self._in_order(openings), tuple(point.name for point in points),
            tuple(stage.name for stage in stages),
        )  # fmt: skip

    @staticmethod
    def _meets(item: _AtNodes, nodes: frozenset[str]) -> bool:
        return not nodes.isdisjoint(item.ends)

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
        for hanging in self._hangings:
            if hanging.part == name:
                return hanging.node
        for way in self._ways:
            if way.part == name:
                return way.end
        return ""

    def _exposing_openings(self, name: str) -> tuple[str, ...]:
        """The openings that each show a part's terminals."""
        part = self._parts[name]
        if part.place and self._outside(part.part_kind):
            return ("",)
        openings = {part.behind}
        nodes = [self._node(name)]
        nodes += [way.start for way in self._ways if way.part == name]
        for node in nodes:
            if node:
                openings.update(self._island_of[node].openings)
        return self._in_order(openings)

    def _charge(self, name: str, part: anatomy.Part) -> float:
        """The most volts it can keep; 0 for a part that keeps none.

        What nobody says of its rating bounds nothing: it counts as the most that can stand there.
        """
        if not self._stores(name, part):
            return 0.0
        rating = part.volts
        if self._node(name) in self._mains_side():
            return self._most
        if self.is_isolated:
            low = self._secondary_peak()
            least = self._most if low is None else low
            return least if rating is None else max(rating, least)
        return self._most if rating is None or rating <= bounds.MOST_ELV_VOLTS else rating

    def _stores(self, name: str, part: anatomy.Part) -> bool:
        unit = self._unit(part)
        lies = self._words[part.place].lies
        if lies == "beside":
            is_low = part.volts is not None and 0 < part.volts <= bounds.MOST_ELV_VOLTS
            return unit == FARAD and not is_low
        if lies == "in-line" and unit != FARAD:
            return False
        farads = None if part.value is None or unit != FARAD else part.value * part.count
        small = farads is not None and 0 < farads <= bounds.LEAST_STORING_FARADS * 1.000001
        if small and self._node(name) in self._mains_side():
            return False
        return unit in (FARAD, "")

    def _unit(self, part: anatomy.Part) -> str:
        """The unit of its marking, which tells a capacitor whatever its kind is called."""
        if part.marking:
            return read_quantity(part.marking).unit
        unit = self._kinds[part.part_kind].unit
        return read_quantity(f"1 {unit}").unit if unit else ""

    def _secondary_peak(self) -> float | None:
        """Peak behind the isolating parts as they are marked, over nominal; None if not all say."""
        markings = [
            self._parts[way.part].value for way in self._ways if self._words[way.place].isolates
        ]
        volts = [marking for marking in markings if marking is not None and marking > 0]
        if not volts or len(volts) < len(markings):
            return None
        return max(volts) * math.sqrt(2) * bounds.OVER_NOMINAL

    def _point(self, name: str) -> str:
        """Where it is measured, in words that hold at the first opening that shows it."""
        first = self._exposing_openings(name)[0]
        if first == self._parts[name].behind:
            return name
        island = self._island_of[self._node(name)]
        if self._head in island.nodes:
            return f"{CONTACTS} ({name})"
        own = frozenset({self._node(name)})
        at = [point.name for point in self._points if self._meets(point, own)]
        if at or island.points:
            return f"{(*at, *island.points)[0]} ({name})"
        stage = next(
            stage for stage in self._stages
            if stage.name in island.stages and stage.behind == first
        )  # fmt: skip
        return f"where the {stage.says} takes its power ({name})"
