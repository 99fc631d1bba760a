"""Composes a topology's file and the kinds it names into facts.

The power path becomes a ladder of nodes: each part in line leads from one node to the next, each
part across hangs at a node. Stages follow one another in the order of the file unless `fed_by`
says otherwise; a stage that controls another taps its feed without carrying power on.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from engine.deduce.exposure import Exposure
from engine.deduce.facts import Fact, Scalar, fact
from engine.deduce.whereabouts import Unit
from engine.deduce.whereabouts import facts as whereabouts
from kb.language.knowledge import Knowledge
from kb.language.nearest import mend
from kb.language.schema import PartFact, PartKind, StageFact, Topology
from kb.quantities import FARAD, as_marked, in_base, read_as, read_quantity, show
from kb.trouble import Trouble, TroubleError

NON_ISOLATED = "non-isolated"
DONOR = "unit"
_CAPACITOR = "capacitor"
_LIKE = {"F": "4.7 uF", "H": "2.2 mH", "V": "5.1 V", "ohm": "4.7 kohm"}


@dataclass(frozen=True, slots=True)
class Bench:
    """What the facts need beside the topology: mains, complaint, what the shop lacks, markings.

    `without` is all that is lacking, the usual bench included (`kb.language.benchfile.lacking`);
    empty, the bench has everything. `markings` are read off this very unit, by part: they stand in
    place of the topology's values. `spares` are boards of this unit in stock, `unit` a donor unit;
    `traced` its stages whose wiring is known.
    """

    volts: float
    hertz: float
    complaint: str | None = None
    without: frozenset[str] = frozenset()
    markings: tuple[tuple[str, str], ...] = ()
    spares: frozenset[str] = frozenset()
    traced: frozenset[str] = frozenset()

    @property
    def values(self) -> dict[str, str]:
        """The markings by part."""
        return dict(self.markings)


def compose(knowledge: Knowledge, topology: Topology, bench: Bench) -> tuple[Fact, ...]:
    """The facts of a unit. TroubleError if stages or parts don't fit together.

    A part that nothing is marked on has neither `value` nor `marking`, one without a rating has no
    `volts`; all other fields of a kind are always there.
    """
    composer = _Composer(knowledge, topology, bench)
    composer.review()
    facts = tuple(composer.facts())
    exposure = Exposure(
        topology, knowledge.place_words, knowledge.parts, facts, bench.volts * math.sqrt(2)
    )
    finds = whereabouts(Unit(knowledge, topology, bench.volts, bench.values, bench.traced))
    return (*facts, *_joined_to_mains(topology, exposure), *exposure.facts(), *finds)


def _joined_to_mains(topology: Topology, exposure: Exposure) -> Iterator[Fact]:
    """A unit counts as non-isolated unless its structure shows otherwise, whatever it says."""
    if NON_ISOLATED not in topology.traits and not exposure.is_isolated:
        yield fact("trait", of="unit", **{"is": NON_ISOLATED})


class _Composer:
    def __init__(self, knowledge: Knowledge, topology: Topology, bench: Bench) -> None:
        self.knowledge = knowledge
        self.topology = topology
        self.bench = bench
        self.enters: dict[str, str] = {}
        self.leaves: dict[str, str] = {}

    def trouble(self, code: str, what: str, mend: str, *path: str) -> TroubleError:
        """A trouble at the word of the topology's file that `path` leads to."""
        place = self.knowledge.place("topologies", self.topology.topology)
        deep = "/".join((self.topology.topology, *path))
        place = self.knowledge.places.get(("topologies", deep), place)
        return TroubleError(Trouble(code, place, what, mend))

    def facts(self) -> Iterator[Fact]:
        peak = self.bench.volts * math.sqrt(2)
        yield fact(
            "mains", volts=self.bench.volts, hertz=self.bench.hertz, peak=peak,
            mean=2 * peak / math.pi,
        )
        yield fact("unit", name=self.topology.topology, scrap_minutes=self.topology.unit_minutes)
        for trait in self.topology.traits:
            yield fact("trait", of="unit", **{"is": trait})
        duty = self.knowledge.duties[self.topology.does]
        words = duty.model_dump(exclude={"duty", "says", "source"})
        yield fact("duty", of="unit", **{"is": duty.duty}, **words)
        for name, opening in self.topology.openings.items():
            for hazard in opening.hazards or ("",):
                yield fact("opening", name=name, says=opening.says, hazards=hazard)
        for name, board in self.topology.boards.items():
            yield fact(
                "board", name=name, says=board.says, swap_minutes=board.swap_minutes,
                behind=board.behind,
            )
        yield from self._spares()
        for name, arrangement in self.knowledge.arrangements.items():
            if name not in self.bench.without:
                yield fact(
                    "arrangement", name=name, energy=arrangement.energy, says=arrangement.says,
                    closed_only=arrangement.closed_only, isolated=arrangement.isolated,
                    feeds=arrangement.feeds,
                )
        for name, caution in self.knowledge.cautions.items():
            yield fact("caution", name=name, hazard=caution.hazard)
        for name, doing in self.knowledge.doings.items():
            yield fact("doing", name=name, hands=doing.hands, live=doing.live, heat=doing.heat)
        for name, action in self.knowledge.actions.items():
            yield fact("action", name=name, hands=action.hands)
        for name in self.knowledge.instruments:
            if name not in self.bench.without:
                yield fact("bench", has=name)
        yield from self._stages()
        yield from self._points()

    def _spares(self) -> Iterator[Fact]:
        """Boards that are sold or lie in stock, and a donor unit."""
        for name, board in self.topology.boards.items():
            if board.spare or name in self.bench.spares:
                yield fact("spare", of=name)
        if DONOR in self.bench.spares:
            yield fact("spare", of=DONOR)

    def review(self) -> None:
        """Refuse names that lead nowhere or in a circle, and one name for two parts."""
        topology = self.topology
        openings = topology.openings
        for name, opening in openings.items():
            for earlier in opening.after:
                self._check_name(earlier, openings, "opening", "openings", name, "after")
            if name in self._before(name):
                raise self.trouble(
                    "KB412", f"Opening '{name}' can only be made after itself",
                    "Let one of the openings it needs need nothing", "openings", name, "after",
                )
        for name, board in topology.boards.items():
            self._check_name(board.behind, openings, "opening", "boards", name, "behind")
        if topology.does not in self.knowledge.duties:
            raise self.trouble(
                "KB416", f"'{topology.topology}' does '{topology.does}', which is no duty",
                mend(topology.does, self.knowledge.duties, "add it under `duties`"), "does",
            )
        first: dict[str, str] = {}
        for name, stage in topology.stages.items():
            self._check_name(stage.behind, openings, "opening", "stages", name, "behind")
            self._check_name(stage.board, topology.boards, "board", "stages", name, "board")
            for part in stage.parts:
                if first.setdefault(part, name) != name:
                    raise self.trouble(
                        "KB413", f"Part '{part}' stands in the stages '{first[part]}' and '{name}'",
                        "Give one of them another designator", "stages", name, "parts", part,
                    )
        if not self._can_fail():
            raise self.trouble(
                "KB414", f"'{topology.topology}' has no part that can fail",
                "Give its stages parts, of kinds that have failure modes", "stages",
            )

    def _can_fail(self) -> bool:
        """Whether any part is of a kind with failure modes, or of one that nobody knows."""
        kinds = self.knowledge.parts
        return any(
            part.kind not in kinds or kinds[part.kind].modes
            for stage in self.topology.stages.values() for part in stage.parts.values()
        )  # fmt: skip

    def _before(self, name: str) -> set[str]:
        """All openings that must be made before one; itself, if they need it."""
        before: set[str] = set()
        waiting = [*self.topology.openings[name].after]
        while waiting:
            earlier = waiting.pop()
            if earlier not in before and earlier in self.topology.openings:
                before.add(earlier)
                waiting.extend(self.topology.openings[earlier].after)
        return before

    def _check_name(self, name: str | None, names: Collection[str], what: str, *path: str) -> None:
        if name and name not in names:
            raise self.trouble(
                "KB411", f"'{path[1]}' names '{name}', which is no {what}",
                mend(name, names, f"add it as {what}"), *path,
            )

    def _order(self) -> list[str]:
        """Stage names so that each stands after the one that feeds it."""
        feeds = self._feeds()
        order: list[str] = []
        waiting = list(self.topology.stages)
        while waiting:
            ready = [s for s in waiting if feeds[s] is None or feeds[s] in order]
            if not ready:
                raise self.trouble(
                    "KB401",
                    f"The stages {', '.join(waiting)} feed one another in a circle",
                    "Let one of them be fed by a stage outside the circle",
                    "stages", waiting[0], "fed_by",
                )
            order.extend(ready)
            waiting = [s for s in waiting if s not in ready]
        return order

    def _feeds(self) -> dict[str, str | None]:
        feeds: dict[str, str | None] = {}
        last: str | None = None
        for name, stage in self.topology.stages.items():
            if stage.fed_by is not None and stage.fed_by not in self.topology.stages:
                raise self.trouble(
                    "KB402",
                    f"Stage '{name}' is fed by '{stage.fed_by}', which is no stage",
                    mend(stage.fed_by, self.topology.stages),
                    "stages", name, "fed_by",
                )
            feeds[name] = stage.fed_by or last
            if self._carries_power(stage):
                last = name
        return feeds

    def _carries_power(self, stage: StageFact) -> bool:
        """A stage of outside causes or a control beside the path carries no power on."""
        lies = {
            word.lies
            for part in stage.parts.values()
            if (word := self.knowledge.place_words.get(part.place))
        }
        return bool(lies & {"in-line", "across"})

    def _stages(self) -> Iterator[Fact]:
        feeds = self._feeds()
        head = "n0"
        counter = 0
        yield fact("head", node=head, of="unit")
        for rank, name in enumerate(self._order()):
            stage = self.topology.stages[name]
            kind = self.knowledge.stages.get(stage.kind)
            if kind is None:
                raise self.trouble(
                    "KB404", f"Stage '{name}' is of the unknown kind '{stage.kind}'",
                    mend(stage.kind, self.knowledge.stages, "add it under `stages`"),
                    "stages", name, "kind",
                )
            self._check_places(name, stage)
            feeder = feeds[name]
            node = self.leaves[feeder] if feeder is not None else head
            self.enters[name] = node
            yield fact(
                "stage", name=name, kind=stage.kind, family=kind.family,
                says=stage.says or kind.says, behind=stage.behind or "", board=stage.board or "",
                rank=rank,
            )
            for part_name, part in stage.parts.items():
                yield from self._part(name, stage, part_name, part)
                lies = self.knowledge.place_words[part.place].lies
                if lies == "in-line":
                    counter += 1
                    after = f"n{counter}"
                    yield fact(
                        "way", part=part_name, place=part.place, stage=name, start=node, end=after
                    )
                    node = after
                elif lies == "across":
                    yield fact("hangs", part=part_name, place=part.place, stage=name, node=node)
            self.leaves[name] = node
            yield fact("enters", stage=name, node=self.enters[name])
            yield fact("leaves", stage=name, node=node)
            if feeder is not None:
                yield fact("feeds", stage=feeder, next=name)
            if stage.controls is not None:
                if stage.controls not in self.topology.stages:
                    raise self.trouble(
                        "KB405", f"Stage '{name}' controls '{stage.controls}', which is no stage",
                        mend(stage.controls, self.topology.stages),
                        "stages", name, "controls",
                    )
                yield fact("controls", stage=name, other=stage.controls)

    def _check_places(self, name: str, stage: StageFact) -> None:
        kind = self.knowledge.stages[stage.kind]
        for part_name, part in stage.parts.items():
            if part.place not in kind.places:
                raise self.trouble(
                    "KB406",
                    f"Part '{part_name}' of stage '{name}' has the place '{part.place}', which a "
                    f"{stage.kind} does not have",
                    mend(part.place, kind.places),
                    "stages", name, "parts", part_name, "place",
                )
        places = {part.place for part in stage.parts.values()}
        lacking = [place for place in kind.needs if place not in places]
        if lacking:
            raise self.trouble(
                "KB407", f"Stage '{name}' ({stage.kind}) has no part for: {', '.join(lacking)}",
                "Add a part with that place", "stages", name,
            )

    def _part(
        self, stage_name: str, stage: StageFact, name: str, part: PartFact
    ) -> Iterator[Fact]:
        kind = self.knowledge.parts.get(part.kind)
        if kind is None:
            raise self.trouble(
                "KB408", f"Part '{name}' is of the unknown kind '{part.kind}'",
                mend(part.kind, self.knowledge.parts, "add it under `parts`"),
                "stages", stage_name, "parts", name, "kind",
            )
        text = self._marking(name, part)
        where = ("stages", stage_name, "parts", name)
        value = self._number(name, text, kind.unit, (*where, "value"))
        # what is marked nowhere is left out: a condition on it is not met, and nobody reads it as 0
        marks: dict[str, Scalar] = {} if value is None else {"value": value, "marking": text}
        volts = self._number(name, part.volts, "V", (*where, "volts"))
        rating: dict[str, Scalar] = {} if volts is None else {"volts": volts}
        yield fact(
            "part", name=name, kind=part.kind, place=part.place, stage=stage_name,
            says=_label(name, part, kind, text), words=part.says or kind.says, **marks,
            tolerance=kind.tolerance if part.tolerance is None else part.tolerance,
            **rating, count=part.count,
            behind=stage.behind or "", board=stage.board or "", package=part.package or name,
            renew_minutes=kind.renew_minutes, rating=kind.rating, proneness=kind.proneness,
        )
        if part.parallel_to is not None:
            yield fact("alongside", part=name, other=self._beside(stage_name, name, part))
        for trait in _traits(kind):
            yield fact("trait", of=name, **{"is": trait})
        for mode, spec in kind.modes.items():
            if spec.variants:
                for variant, inner in spec.variants.items():
                    yield fact(
                        "mode", part=name, name=f"{mode}-{variant}", parent=mode, acts=inner.acts,
                        share=spec.share * inner.share, says=inner.says,
                    )
            else:
                yield fact(
                    "mode", part=name, name=mode, parent="", acts=spec.acts, share=spec.share,
                    says=spec.says,
                )

    def _beside(self, stage: str, name: str, part: PartFact) -> str:
        """The part in line that one lies across."""
        lies = {
            other: self.knowledge.place_words[fact.place].lies
            for stage_fact in self.topology.stages.values()
            for other, fact in stage_fact.parts.items() if fact.place in self.knowledge.place_words
        }  # fmt: skip
        in_line = [other for other, how in lies.items() if how == "in-line"]
        other = str(part.parallel_to)
        if other not in in_line:
            raise self.trouble(
                "KB415", f"Part '{name}' is parallel to '{other}', which is no part in line",
                mend(other, in_line), "stages", stage, "parts", name, "parallel_to",
            )
        return other

    def _marking(self, name: str, part: PartFact) -> str:
        if name in self.bench.values:
            return self.bench.values[name]
        return part.when_mains.get(f"{self.bench.volts:g}", part.value)

    def _number(self, name: str, text: str, unit: str, where: tuple[str, ...]) -> float | None:
        """The value of a text, in the base unit of `unit` where one is given; None of no text."""
        if not text:
            return None
        base = in_base(1, unit).unit if unit else ""
        try:
            # what a person tells beside the part may leave its unit out; a file may not
            is_told = where[-1] == "value" and where[-2] in self.bench.values
            if is_told:
                return (read_as(text, base) if base else read_quantity(text)).value
            return as_marked(text, base).value
        except ValueError as error:
            raise self.trouble(
                "KB409", f"Part '{name}' has the value '{text}': {error}",
                f"Write a number with its unit, such as {_LIKE.get(unit, '4.7 kohm')}", *where,
            ) from error

    def _points(self) -> Iterator[Fact]:
        for name, point in self.topology.points.items():
            if point.stage not in self.topology.stages:
                raise self.trouble(
                    "KB410", f"Test point {name} is at stage '{point.stage}', which is no stage",
                    mend(point.stage, self.topology.stages),
                    "points", name, "stage",
                )
            node = {"in": self.enters, "out": self.leaves}.get(point.side, {}).get(point.stage, "")
            yield fact(
                "point", name=name, stage=point.stage, side=point.side, says=point.says, node=node,
                behind=self.topology.stages[point.stage].behind or "",
            )


def _traits(kind: PartKind) -> tuple[str, ...]:
    """A kind's traits: what is measured in farads is a capacitor, whether it says so or not."""
    if kind.unit and in_base(1, kind.unit).unit == FARAD and _CAPACITOR not in kind.traits:
        return (*kind.traits, _CAPACITOR)
    return kind.traits


def _label(name: str, part: PartFact, kind: PartKind, text: str) -> str:
    words = part.says or kind.says
    if text:
        quantity = read_quantity(text)
        words += f", {show(quantity.value, quantity.unit)}"
    return f"{name} ({words})"
