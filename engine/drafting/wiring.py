"""From a netlist to a draft: its parts in the stages that a person named or that were proposed.

Nothing is lost without a word: parts that found no stage, kind or place come back beside the draft.
NW109 for a part that the netlist has not, NW110 for a stage whose kind nobody can tell.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

from engine.drafting.draft import with_part, with_point, with_stage
from engine.schematic import Group, Guess, Sheet, likeness, places
from kb.language.knowledge import Knowledge
from kb.language.schema import PartFact, PointFact, Topology
from kb.trouble import Place, Trouble, TroubleError


@dataclass(frozen=True, slots=True)
class Naming:
    """What a person says a component is: a kind, a place, or both; empty leaves it as guessed."""

    kind: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class Wiring:
    """The draft, what of the netlist it left out and why, and the two nets of each test point."""

    draft: Topology
    left: tuple[tuple[str, str], ...]
    points: Mapping[str, tuple[str, str]]


def naming(text: str) -> tuple[str, Naming]:
    """`U3=comparator`, `R4=:starts` or `R4=film-resistor:starts`. NW105 for anything else."""
    match = re.fullmatch(r"\s*([^=\s]+)\s*=\s*([^:\s]*)\s*(?::\s*(\S+))?\s*", text)
    if not match or not (match[2] or match[3]):
        raise TroubleError(
            Trouble(
                "NW105", Place("--as"), f"'{text}' can't be understood",
                'Write --as "DESIGNATOR=KIND", "DESIGNATOR=:PLACE" or "DESIGNATOR=KIND:PLACE"',
            )
        )  # fmt: skip
    return match[1], Naming(match[2], match[3] or "")


def wire(
    draft: Topology,
    sheet: Sheet,
    guesses: Sequence[Guess],
    groups: Sequence[Group],
    namings: Mapping[str, Naming],
    knowledge: Knowledge,
) -> Wiring:
    """The draft with these groups as its stages, each part with its kind, place and value."""
    guess_of = {guess.component.name: guess for guess in guesses}
    for name in (*namings, *(part for group in groups for part in group.parts)):
        if name not in guess_of:
            raise _unknown(name, guess_of)
    left: dict[str, str] = {
        name: "it is in no stage" for name, guess in guess_of.items() if not guess.source
    }
    for group in groups:
        kinds = {
            name: namings.get(name, Naming()).kind or guess_of[name].kind for name in group.parts
        }
        draft = with_stage(draft, knowledge, group.name, _stage_kind(group, kinds, knowledge))
        left |= {name: "nobody can tell what it is" for name, kind in kinds.items() if not kind}
        stage_kind = draft.stages[group.name].kind
        usual = places(stage_kind, {n: k for n, k in kinds.items() if k}, knowledge)
        for name, kind in kinds.items():
            place = namings.get(name, Naming()).place or usual.get(name, "")
            if kind and not place:
                left[name] = f"no usual place for {kind} in the kind of stage {stage_kind}"
            elif kind:
                part = _part(guess_of[name], kind, place, knowledge)
                draft = with_part(draft, knowledge, group.name, name, part)
                left.pop(name, None)
    points = _points(groups, guess_of, sheet.common)
    for number, (stage, nets) in enumerate(points.items(), 1):
        point = PointFact(stage=stage, side="out", says=f"net {nets[0]} to net {nets[1]}")
        draft = with_point(draft, f"TP{number}", point)
    test_points = {f"TP{number}": nets for number, nets in enumerate(points.values(), 1)}
    return Wiring(draft, tuple(left.items()), test_points)


def _stage_kind(group: Group, kinds: Mapping[str, str], knowledge: Knowledge) -> str:
    kind = group.kind or (group.name if group.name in knowledge.stages else "")
    kind = kind or likeness((kind for kind in kinds.values() if kind), knowledge)
    if not kind:
        raise TroubleError(
            Trouble(
                "NW110", Place(group.name), f"Nobody can tell what kind of stage '{group.name}' is",
                f"Say it: --stage {group.name}:KIND={','.join(group.parts)}, with one of "
                + ", ".join(knowledge.stages),
            )
        )  # fmt: skip
    return kind


def _part(guess: Guess, kind: str, place: str, knowledge: Knowledge) -> PartFact:
    """The part with its marking; one that was guessed to be another kind keeps it if it fits."""
    unit = knowledge.parts[kind].unit if kind in knowledge.parts else ""
    same = guess.kind in knowledge.parts and knowledge.parts[guess.kind].unit == unit
    return PartFact.model_construct(kind=kind, place=place, value=guess.value if same else "")


def _points(
    groups: Sequence[Group], guess_of: Mapping[str, Guess], common: str
) -> dict[str, tuple[str, str]]:
    """For each stage but the last, a net that it shares with a later one, against the common."""
    pairs = {}
    for number, group in enumerate(groups[:-1]):
        later = {part for after in groups[number + 1 :] for part in after.parts}
        common_nets = _nets(group.parts, guess_of) & _nets(later, guess_of) - {common}
        if common_nets:
            order = [net for part in group.parts for net in guess_of[part].component.nets]
            pairs[group.name] = (max(common_nets, key=_last(order)), common)
    return pairs


def _last(order: Sequence[str]) -> Callable[[str], tuple[int, str]]:
    return lambda net: (max(number for number, one in enumerate(order) if one == net), net)


def _nets(parts: Collection[str], guess_of: Mapping[str, Guess]) -> set[str]:
    return {net for part in parts for net in guess_of[part].component.nets}


def _unknown(name: str, names: Collection[str]) -> TroubleError:
    return TroubleError(
        Trouble(
            "NW109", Place(name), f"The netlist has no component '{name}'",
            f"Write one of: {', '.join(names)}",
        )
    )  # fmt: skip
