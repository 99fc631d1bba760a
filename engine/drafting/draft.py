"""The draft itself: stages, parts, access and points put in one by one, each looked at as it comes.

Troubles have the codes that the finished file would have (KB404 to KB411), with the words that the
person gave as their place; NW101, NW107 and NW108 are those that only a draft can have.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any

from pydantic import ValidationError

from engine.deduce.composition import Bench, compose
from engine.drafting.proposals import Proposal, designator, letters, proposals
from kb.language import constraints
from kb.language.knowledge import Knowledge
from kb.language.nearest import alike
from kb.language.schema import (
    BoardFact,
    OpeningFact,
    PartFact,
    PointFact,
    StageFact,
    StageKind,
    Topology,
)
from kb.quantities import in_base, read_as, read_quantity
from kb.trouble import Place, Trouble, TroubleError

_BENCHES = (Bench(230, 50), Bench(120, 60))
_PASSING = frozenset({"in-line", "across"})


@dataclass(frozen=True, slots=True)
class Lies:
    """Where a stage is found: behind which opening, on which board; None for neither."""

    behind: str | None = None
    board: str | None = None


def begin(name: str, says: str, source: str, live: bool) -> Topology:
    """A draft without stages. NW101 for a name or words that can't be."""
    plain = {
        "topology": name, "says": says, "source": source, "stages": {},
        "traits": ["non-isolated"] if live else [],
    }  # fmt: skip
    return _valid(plain, name)


def like(model: Topology, name: str, says: str, source: str) -> Topology:
    """Another unit built as `model` is, under a name and words of its own."""
    plain = model.model_dump(exclude_defaults=True)
    return _valid({**plain, "topology": name, "says": says, "source": source}, name)


def with_stage(draft: Topology, knowledge: Knowledge, name: str, kind: str) -> Topology:
    """A stage more at the end, without parts. KB404 for an unknown kind, NW107 for a name twice."""
    _check_name(kind, knowledge.stages, "KB404", "kind of stage", name)
    if name in draft.stages:
        raise _trouble("NW107", name, f"there is a stage '{name}' already", "Give it another name")
    return _with(draft, stages={**draft.stages, name: StageFact(kind=kind, parts={})})


def with_part(
    draft: Topology, knowledge: Knowledge, stage: str, name: str, part: PartFact
) -> Topology:
    """A part more, or in place of the one of that designator.

    KB404, KB406, KB408 and KB409 for a stage, place, kind or value that can't be.
    """
    _check_name(stage, draft.stages, "KB404", "stage of this draft", name)
    _check_name(part.kind, knowledge.parts, "KB408", "kind of part", name)
    kind = knowledge.stages[draft.stages[stage].kind]
    _check_name(part.place, kind.places, "KB406", f"place of a {kind.kind}", name)
    _readable(name, part.value, knowledge.parts[part.kind].unit)
    _readable(name, part.volts, "V")
    stages = dict(draft.stages)
    for other, fact in stages.items():
        if name in fact.parts and other != stage:
            raise _trouble(
                "KB413", name, f"part '{name}' stands in the stage '{other}' already",
                "Give it another designator",
            )  # fmt: skip
    holder = stages[stage]
    stages[stage] = holder.model_copy(update={"parts": {**holder.parts, name: part}})
    return _with(draft, stages=stages)


def without(draft: Topology, name: str) -> Topology:
    """Leave out a stage with its points, a part, or a point. KB411 if there is none."""
    if name in draft.stages:
        stages = {other: fact for other, fact in draft.stages.items() if other != name}
        points = {point: fact for point, fact in draft.points.items() if fact.stage != name}
        return _with(draft, stages=stages, points=points)
    if name in draft.points:
        return _with(draft, points={p: f for p, f in draft.points.items() if p != name})
    for stage, fact in draft.stages.items():
        if name in fact.parts:
            parts = {other: part for other, part in fact.parts.items() if other != name}
            record = fact.model_copy(update={"parts": parts})
            return _with(draft, stages={**draft.stages, stage: record})
    here = [*draft.stages, *(part for fact in draft.stages.values() for part in fact.parts)]
    raise _unknown("KB411", name, "stage, part or point of this draft", here, name)


def with_opening(draft: Topology, name: str, opening: OpeningFact) -> Topology:
    """A level of access more."""
    return _with(draft, openings={**draft.openings, name: opening})


def with_board(draft: Topology, name: str, board: BoardFact) -> Topology:
    """An assembly more. KB411 if it lies behind what is no opening."""
    _check_name(board.behind, draft.openings, "KB411", "opening of this draft", name)
    return _with(draft, boards={**draft.boards, name: board})


def with_lies(draft: Topology, stage: str, lies: Lies) -> Topology:
    """Say where a stage is found. KB404 and KB411 for names that are not there."""
    _check_name(stage, draft.stages, "KB404", "stage of this draft", stage)
    if lies.behind is not None:
        _check_name(lies.behind, draft.openings, "KB411", "opening of this draft", stage)
    if lies.board is not None:
        _check_name(lies.board, draft.boards, "KB411", "board of this draft", stage)
    record = draft.stages[stage].model_copy(update={"behind": lies.behind, "board": lies.board})
    return _with(draft, stages={**draft.stages, stage: record})


def with_link(draft: Topology, stage: str, word: str, other: str) -> Topology:
    """Let a stage be `fed_by` another than the one before it, or say which one it `controls`."""
    _check_name(stage, draft.stages, "KB404", "stage of this draft", stage)
    code = "KB402" if word == "fed_by" else "KB405"
    _check_name(other, draft.stages, code, "stage of this draft", stage)
    record = draft.stages[stage].model_copy(update={word: other})
    return _with(draft, stages={**draft.stages, stage: record})


def with_point(draft: Topology, name: str, point: PointFact) -> Topology:
    """A test point more. KB410 if it is at no stage of the draft."""
    _check_name(point.stage, draft.stages, "KB410", "stage of this draft", name)
    return _with(draft, points={**draft.points, name: point})


def fill(draft: Topology, knowledge: Knowledge) -> Topology:
    """Put a part into each place that must be filled and is not, as other units have it there.

    A stage without parts of which nothing is needed gets one. NW108 where nobody has that place.
    """
    for stage in draft.stages:
        kind = knowledge.stages[draft.stages[stage].kind]
        name_of: dict[str, str] = {}
        for place in _lacking(draft.stages[stage], kind):
            options = proposals(knowledge, kind.kind, place)
            if not options:
                raise _trouble(
                    "NW108", stage,
                    f"stage '{stage}' needs a part for '{place}' ({kind.places[place]}), and no "
                    "known unit has one to propose",
                    f'Name it: --part "{stage} R1 KIND {place} VALUE"',
                )  # fmt: skip
            draft, name = with_proposal(draft, knowledge, stage, options[0], name_of)
            draft = _in_its_turn(draft, kind, stage, name)
            name_of[options[0].name] = name
    return draft


def _in_its_turn(draft: Topology, kind: StageKind, stage: str, name: str) -> Topology:
    """The part moved before the first whose place comes later in the kind: power meets it so."""
    turn = {place: number for number, place in enumerate(kind.places)}
    parts = dict(draft.stages[stage].parts)
    part = parts.pop(name)
    later = (n for n, other in parts.items() if turn[other.place] > turn[part.place])
    before = next(later, None)
    order: dict[str, PartFact] = {}
    for other, fact in parts.items():
        if other == before:
            order[name] = part
        order[other] = fact
    order.setdefault(name, part)
    record = draft.stages[stage].model_copy(update={"parts": order})
    return _with(draft, stages={**draft.stages, stage: record})


def with_proposal(
    draft: Topology,
    knowledge: Knowledge,
    stage: str,
    proposal: Proposal,
    names: Mapping[str, str],
) -> tuple[Topology, str]:
    """The draft with a proposed part, and its designator here.

    `names` tells what the other unit's designators are called here: a part that comes in the
    package of another goes on doing so.
    """
    name = free_designator(draft, knowledge, proposal.part.kind, proposal.letters)
    package = proposal.part.package
    if package:
        here = name if package == proposal.name else names.get(package, "")
        proposal = replace(proposal, part=proposal.part.model_copy(update={"package": here}))
    return with_part(draft, knowledge, stage, name, proposal.part), name


def _lacking(stage: StageFact, kind: StageKind) -> list[str]:
    places = {part.place for part in stage.parts.values()}
    needs = kind.needs or (() if places else tuple(kind.places)[:1])
    return [place for place in needs if place not in places]


def free_designator(draft: Topology, knowledge: Knowledge, kind: str, beginning: str = "") -> str:
    """A designator that no part of the draft has, with the letters usual for the kind."""
    names = {name for stage in draft.stages.values() for name in stage.parts}
    return designator(beginning or letters(knowledge, kind), names)


def with_access(draft: Topology, knowledge: Knowledge) -> Topology:
    """Put stages that lie nowhere behind the last opening, on the last board behind it.

    Stages of outside causes stay outside. Where there is no opening, one is made, and a board.
    """
    within = [name for name in draft.stages if inside(draft, knowledge, name)]
    if not draft.openings and within:
        housing = OpeningFact(minutes=4, says="open the housing", how="Say here how it is opened.")
        draft = with_opening(draft, "housing", housing)
    if not draft.openings:
        return draft
    last = tuple(draft.openings)[-1]
    if not draft.boards:
        draft = with_board(
            draft, "board", BoardFact(says="circuit board", swap_minutes=40, behind=last)
        )
    boards = [name for name, board in draft.boards.items() if board.behind == last]
    for name in within:
        if draft.stages[name].behind is None:
            draft = with_lies(draft, name, Lies(last, boards[-1] if boards else None))
    return draft


def with_usual_points(draft: Topology, knowledge: Knowledge) -> Topology:
    """A test point behind each stage that passes power on to another, if there is none yet."""
    if draft.points:
        return draft
    path = [name for name in tuple(draft.stages)[:-1] if passes(draft, knowledge, name)]
    for number, name in enumerate(path, 1):
        point = PointFact(stage=name, side="out", says=point_words(draft, knowledge, name))
        draft = with_point(draft, f"TP{number}", point)
    return draft


def point_words(draft: Topology, knowledge: Knowledge, stage: str) -> str:
    """Where the probes go behind a stage, as long as nobody says it better."""
    fact = draft.stages[stage]
    return f"output of the {fact.says or knowledge.stages[fact.kind].says}"


def passes(draft: Topology, knowledge: Knowledge, stage: str) -> bool:
    """Whether power runs through or past a part of the stage, so that it has an output."""
    places = {part.place for part in draft.stages[stage].parts.values()}
    return any(knowledge.place_words[place].lies in _PASSING for place in places)


def parts_without_value(draft: Topology, knowledge: Knowledge) -> tuple[str, ...]:
    """Parts of a kind that has a value, without one: figures that stand on it can't be told."""
    return tuple(
        name
        for stage in draft.stages.values()
        for name, part in stage.parts.items()
        if knowledge.parts[part.kind].unit and not part.value
    )


def check(draft: Topology, knowledge: Knowledge) -> Topology:
    """The draft, once its facts have been put together at both mains; a TroubleError if not."""
    if not draft.stages:
        raise _trouble(
            "NW106", draft.topology, "a topology needs at least one stage",
            f"Name its stages in the order power meets them: {', '.join(knowledge.stages)}",
        )  # fmt: skip
    for bench in _BENCHES:
        compose(knowledge, draft, bench)
    return draft


def inside(draft: Topology, knowledge: Knowledge, stage: str) -> bool:
    """Whether a stage is a thing inside the unit: an `outside` family is not."""
    return knowledge.stages[draft.stages[stage].kind].family != "outside"


def _with(draft: Topology, **what: Any) -> Topology:
    names = [name for mapping in what.values() if isinstance(mapping, Mapping) for name in mapping]
    for name in names:
        if not _nameable(name):
            raise _not_a_name(name)
    return draft.model_copy(update=what)


def _nameable(name: str) -> bool:
    return bool(name) and name[0].isalnum() and name.isascii() and all(
        letter.isalnum() or letter in "_.-" for letter in name
    )  # fmt: skip


def _not_a_name(name: str) -> TroubleError:
    return _trouble(
        "NW101", name or "name", f"'{name}' can't be a name",
        "Use plain letters, digits, '-', '_' and '.', beginning with a letter or digit",
    )  # fmt: skip


def _valid(plain: Mapping[str, Any], name: str) -> Topology:
    if not _nameable(name):
        raise _not_a_name(name)
    try:
        return Topology.model_validate(plain)
    except ValidationError as error:
        problem = error.errors()[0]
        words = ".".join(str(step) for step in problem["loc"])
        raise _trouble(
            "NW101", name, f"'{words}' can't be so: {constraints.in_words(problem)}",
            "Say in a phrase what the unit is and where its build is known from",
        ) from error  # fmt: skip


def _readable(name: str, text: str, unit: str) -> None:
    try:
        if text:
            _ = read_as(text, in_base(1, unit).unit) if unit else read_quantity(text)
    except ValueError as error:
        raise _trouble(
            "KB409", name, f"part '{name}' has the value '{text}': {error}",
            "Write a number with its unit, such as 4.7 kohm, 4k7, 6.8 uF or 5.1 V",
        ) from error  # fmt: skip


def _check_name(name: str, names: Collection[str], code: str, what: str, where: str) -> None:
    if name not in names:
        raise _unknown(code, name, what, names, where)


def _unknown(code: str, name: str, what: str, names: Collection[str], where: str) -> TroubleError:
    near = alike(name, names, 3)
    choices = ", ".join(near or names) or "none yet"
    mend = f"Write {' or '.join(near)}" if near else f"Write one of: {choices}"
    return _trouble(code, where, f"'{name}' is no {what}", mend)


def _trouble(code: str, where: str, what: str, mend: str) -> TroubleError:
    return TroubleError(Trouble(code, Place(where), what[0].upper() + what[1:], mend))
