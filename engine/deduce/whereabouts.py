"""How each part, test point and side of a stage is found on a board that nobody has a drawing of.

What a topology says of its own part or point goes first, then the place in its stage, then the kind
of part. Nobody says: a part counts as found by tracing, a point as found by a pin, which is the
usual case of each. A stage with parts that only a drawing tells apart has its tracing, once.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from engine.deduce.facts import Fact, fact
from engine.electrics import prints
from kb.language.knowledge import Knowledge
from kb.language.schema import Found, PartFact, PointFact, StageFact, StageKind, Topology
from kb.language.schema.entry import Span
from kb.quantities import in_base, read_as, show

TRACE = "trace-"
_TRACING = "tracing"


@dataclass(frozen=True, slots=True)
class Unit:
    """What the words of finding need: the topology, values read off this unit, stages traced."""

    knowledge: Knowledge
    topology: Topology
    volts: float
    values: dict[str, str]
    traced: frozenset[str]


@dataclass(frozen=True, slots=True)
class Appearance:
    """How a part is known on a board: the pin it hangs on, what it looks like and what is printed
    on it; each empty where nobody says."""

    pin: str
    looks: str
    marking: str
    way: str = ""
    """What stands in for pin and looks where neither is known."""

    @property
    def says(self) -> str:
        """All of it in one line, the way to it first."""
        return "; ".join(t for t in (self.way or self.pin, self.looks, self.marking) if t)


def appearances(unit: Unit) -> Iterator[tuple[str, str, Appearance]]:
    """Every part with its stage and how it is known, in the topology's order.

    None where the knowledge has no words for finding, as older knowledge has not.
    """
    if not unit.knowledge.reaches:
        return
    for name, stage in unit.topology.stages.items():
        kind = unit.knowledge.stages[stage.kind]
        for part_name, part in stage.parts.items():
            location = _location(unit, kind, part)
            yield part_name, name, _of_part(unit, stage, part_name, part, location)


def ways(unit: Unit) -> Iterator[tuple[str, str]]:
    """Every test point with the way to it; none where the knowledge has no words for finding."""
    if not unit.knowledge.reaches:
        return
    for name, point in unit.topology.points.items():
        yield name, _led(unit, unit.topology.stages[point.stage], _of_point(unit, point))


def facts(unit: Unit) -> Iterator[Fact]:
    """`finds` for every part, point and side, `traces` for every stage that is to be drawn.

    None where the knowledge has no words for them, as older knowledge has not.
    """
    if not unit.knowledge.reaches:
        return
    for name, stage in unit.topology.stages.items():
        kind = unit.knowledge.stages[stage.kind]
        parts_to_trace = []
        for part_name, part in stage.parts.items():
            location = _location(unit, kind, part)
            if location.by == _TRACING:
                parts_to_trace.append(part_name)
            where = _of_part(unit, stage, part_name, part, location).says
            yield _finds(unit, location, part_name, "", name, where)
        for side, location in kind.sides.items():
            yield _finds(unit, location, name, side, name, _led(unit, stage, location))
        if parts_to_trace:
            yield _traces(unit, name, stage, parts_to_trace)
    for point_name, point in unit.topology.points.items():
        stage = unit.topology.stages[point.stage]
        location = _of_point(unit, point)
        yield _finds(unit, location, point_name, "", point.stage, _led(unit, stage, location))


def _location(unit: Unit, kind: StageKind, part: PartFact) -> Found:
    of_kind = unit.knowledge.parts[part.kind].found
    return part.found or kind.found.get(part.place) or of_kind or _unsaid(_TRACING)


def _of_point(unit: Unit, point: PointFact) -> Found:
    kind = unit.knowledge.stages[unit.topology.stages[point.stage].kind]
    return point.found or kind.sides.get(point.side) or _unsaid("pin")


def _unsaid(by: str) -> Found:
    return Found.model_validate({"by": by, "source": "nobody says how it is found"})


def _finds(unit: Unit, location: Found, of: str, at: str, stage: str, where: str) -> Fact:
    span = location.span or unit.knowledge.reaches[location.by].span
    behind = TRACE + stage if location.by == _TRACING else ""
    return fact(
        "finds", of=of, at=at, stage=stage, by=location.by, minutes=span.minutes, least=span.least,
        most=span.most, behind=behind, where=where,
    )


def _of_part(
    unit: Unit, stage: StageFact, name: str, part: PartFact, location: Found
) -> Appearance:
    """How a part is known; its looks are those of its kind where nothing closer is said.

    What stands in for a way to it, where nobody gives one, is the word for how it is found.
    """
    kind = unit.knowledge.parts[part.kind]
    looks = location.looks or (kind.found.looks if kind.found else "")
    pin = _fill_places(unit, stage, location.pin or (kind.found.pin if kind.found else ""))
    way = unit.knowledge.reaches[location.by].how if not (pin or looks) else ""
    return Appearance(pin, looks, _marking(unit, name, part), way)


def _led(unit: Unit, stage: StageFact, location: Found) -> str:
    pin = _fill_places(unit, stage, location.pin)
    way = "; ".join(text for text in (pin, location.looks) if text)
    return way or unit.knowledge.reaches[location.by].how


def _fill_places(unit: Unit, stage: StageFact, text: str) -> str:
    """A text with the part in each place it names, or the words for the place if it is empty."""
    for place, says in unit.knowledge.stages[stage.kind].places.items():
        occupant = next((name for name, part in stage.parts.items() if part.place == place), "")
        text = text.replace(f"{{{place}}}", occupant or f"the {says}")
    return text


def _marking(unit: Unit, name: str, part: PartFact) -> str:
    """What is printed on a part: certain where it was read off the unit, else as usual."""
    kind = unit.knowledge.parts[part.kind]
    text = unit.values.get(name) or part.when_mains.get(f"{unit.volts:g}", part.value)
    if kind.printed == "nothing":
        return "nothing printed on it"
    if not kind.printed or not text:
        return ""
    try:
        quantity = read_as(text, in_base(1, kind.unit).unit)
        code = {
            "chip": lambda: prints.chip_code(
                quantity.value, kind.tolerance if part.tolerance is None else part.tolerance
            ),
            "bands": lambda: prints.colour_bands(quantity.value),
            "value": lambda: show(quantity.value, quantity.unit),
        }[kind.printed]()
    except ValueError:  # told as KB409, where the value is read in earnest
        return ""
    usually = "" if name in unit.values else "usually "
    return f"{usually}{'banded' if kind.printed == 'bands' else 'marked'} {code}"


def _traces(unit: Unit, name: str, stage: StageFact, parts: list[str]) -> Fact:
    words = unit.knowledge.reaches["stage"]
    kind = unit.knowledge.stages[stage.kind]
    span: Span = kind.trace or words.span
    landmarks = [
        part for part, spec in stage.parts.items() if _location(unit, kind, spec).by == "glance"
    ]
    terms = {
        "{stage}": stage.says or kind.says,
        "{from}": _join_names(landmarks) or "the part you know best",
        "{parts}": _join_names(parts),
    }
    says, how, minutes = words.says, words.how, (span.minutes, span.least, span.most)
    if name in unit.traced:
        says, how, minutes = "lay out the drawing of the {stage}, traced already", "", (0.0,) * 3
    for term, word in terms.items():
        says, how = says.replace(term, word), how.replace(term, word)
    return fact(
        "traces", name=TRACE + name, stage=name, behind=stage.behind or "", minutes=minutes[0],
        least=minutes[1], most=minutes[2], says=says, how=how,
    )


def _join_names(names: list[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
