"""The part of `nextprobe new` that begins from a netlist: its stages, and the circuit it leaves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from kb.trouble import TroubleError
from render.cli import files

if TYPE_CHECKING:
    from engine.drafting.wiring import Naming, Wiring
    from engine.schematic import Group, Guess, Sheet
    from kb.language.knowledge import Knowledge
    from kb.language.schema import Topology
    from render.terminal.drafting import Drafter

_SECONDS, _SURE = 1.0, 0.5


def begin(
    draft: Topology,
    file: Path,
    stages: Sequence[str],
    namings: Sequence[str],
    knowledge: Knowledge,
    person: Callable[[Knowledge], Drafter] | None,
) -> tuple[Wiring, Sheet]:
    """The draft with the netlist's parts in the stages told, agreed to, or proposed."""
    from engine import schematic
    from engine.drafting import wiring

    sheet = schematic.read_sheet(files.read_text(file, "the netlist"), str(file))
    guesses = schematic.guess(sheet, knowledge)
    groups = _groups(stages) or schematic.propose(guesses, sheet.common, knowledge)
    if person and not stages:
        groups = _agreement(person(knowledge), groups, guesses)
    names = dict(wiring.naming(text) for text in namings)
    if person:
        names = _naming(person(knowledge), groups, guesses, names, knowledge)
    return wiring.wire(draft, sheet, guesses, groups, names, knowledge), sheet


def files_of(folder: Path, name: str) -> tuple[Path, ...]:
    """The files that a drafted circuit takes in a folder."""
    circuits = folder / "circuits"
    return circuits / f"{name}.cir", circuits / f"{name}.yml"


def write_circuit(folder: Path, name: str, circuit: Wiring, sheet: Sheet) -> Path:
    """The netlist and what stands beside it, in the folder's `circuits`; the netlist's path."""
    from engine.schematic import cards, guesses
    from kb.language import formats, loader
    from kb.language.circuit import CircuitData
    from kb.language.topologyfile import circuit_text

    circuits = folder / "circuits"
    files.make_folder(circuits)
    shelf = folder / ".schema" / "circuit.json"
    files.write_text(shelf, (formats.FOLDER / "circuit.json").read_text(encoding="utf-8"))
    sources = [g.component.name for g in guesses.guess(sheet, loader.read()) if g.source]
    netlist = cards.write(sheet, circuit.draft.says, sources)
    points = {
        point: (cards.net_name(sheet, plus), cards.net_name(sheet, minus))
        for point, (plus, minus) in circuit.points.items()
        if point in circuit.draft.points
    }
    data = CircuitData(
        circuit=name, netlist=f"{name}.cir", seconds=_SECONDS, settled=_SURE, points=points
    )
    files.write_text(circuits / f"{name}.cir", netlist)
    files.write_text(circuits / f"{name}.yml", circuit_text(data, "../.schema/circuit.json"))
    return circuits / f"{name}.cir"


def tell_left(circuit: Wiring) -> None:
    """What of the netlist is not in the draft, and how to put it there."""
    for part, why in circuit.left:
        print(f"left out: {part}, {why}")
    if circuit.left:
        print('  put one in with --stage NAME:KIND=PARTS, and --as "DESIGNATOR=KIND:PLACE"')


def _groups(stages: Sequence[str]) -> tuple[Group, ...]:
    from engine.drafting import wishes
    from engine.schematic import Group

    groups = (wishes.stage(text) for text in stages)
    return tuple(Group(wish.name, wish.kind, wish.parts) for wish in groups)


def _agreement(
    drafter: Drafter, groups: Sequence[Group], guesses: Sequence[Guess]
) -> tuple[Group, ...]:
    """Each proposed stage as the person wants it, then any more that they name."""
    from engine.drafting import wishes
    from engine.schematic import Group

    screen = drafter.screen
    screen.heading("stages of the netlist")
    for guess in guesses:
        mark = " ".join(word for word in (guess.kind or "?", guess.value) if word)
        screen.line(guess.component.name, f"{mark}   {' '.join(guess.component.nets)}")
    screen.say("Stages in the order power meets them. Enter agrees; none leaves it out; or write")
    screen.say("it as NAME:KIND=PART,PART.")
    agreements: list[Group] = []
    waiting = [f"{group.name}:{group.kind}={','.join(group.parts)}" for group in groups]
    while True:
        usual = waiting.pop(0) if waiting else ""
        answer = drafter.line(f"Stage {len(agreements) + 1}", usual)
        if not answer:
            return tuple(agreements)
        if answer in ("none", "-"):
            continue
        try:
            wish = wishes.stage(answer)
            agreements.append(Group(wish.name, wish.kind, wish.parts))
        except TroubleError as error:
            drafter.tell(error)


def _naming(
    drafter: Drafter,
    groups: Sequence[Group],
    guesses: Sequence[Guess],
    names: dict[str, Naming],
    knowledge: Knowledge,
) -> dict[str, Naming]:
    """Kind and place of each part that the stages leave open, as the person says."""
    from engine.drafting.wiring import Naming
    from engine.schematic import candidates

    kinds = {guess.component.name: guess.kind for guess in guesses}
    for group in groups:
        if group.kind not in knowledge.stages:
            continue
        places = knowledge.stages[group.kind].places
        for name in group.parts:
            naming = names.get(name, Naming())
            kind = naming.kind or kinds.get(name, "")
            fit = candidates(group.kind, kind, knowledge)
            if naming.place or (kind and len(fit) == 1):
                continue
            drafter.screen.line(
                group.name, ", ".join(f"{p} ({says})" for p, says in places.items())
            )
            usual = f"{kind}:{fit[0]}" if kind and fit else kind
            names[name] = drafter.naming(name, usual)
    return names
