"""`nextprobe new`: a topology of one's own, asked for at a terminal or told by options."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from kb.trouble import Place, Trouble, TroubleError
from render.cli import files, netlists
from render.cli.options import WHERE, Like

if TYPE_CHECKING:
    from kb.language.knowledge import Knowledge
    from kb.language.schema import Topology
    from render.terminal.drafting import Drafter

_BUILD, _ACCESS = "What it is built of", "How one gets at it"
_NO_OPENING = "none"  # what a stage lies behind that is reached with the unit closed
_SOURCE = "as found on the bench; typical values, yours may differ"


def _many(text: str, shape: str, panel: str = _BUILD) -> typer.models.OptionInfo:
    help_text = f"{text} May be given several times."
    option = typer.Option(help=help_text, metavar=f'"{shape}"', rich_help_panel=panel)
    assert isinstance(option, typer.models.OptionInfo)
    return option


def new(
    name: Annotated[str, typer.Argument(help="The name of the new topology.")],
    says: Annotated[str, typer.Option(help="What it is, in a phrase.")] = "",
    source: Annotated[str, typer.Option(help="Where its build is known from.")] = "",
    like: Like = None,
    stage: Annotated[
        list[str] | None,
        _many("A stage, in the order power meets them.", "NAME[:KIND][=PART,PART...]"),
    ] = None,
    from_netlist: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            exists=True,
            dir_okay=False,
            rich_help_panel=_BUILD,
            help="A SPICE netlist, or a netlist or schematic of KiCad, to take the parts from.",
        ),
    ] = None,
    as_: Annotated[
        list[str] | None,
        typer.Option(
            "--as",
            metavar='"DESIGNATOR=[KIND][:PLACE]"',
            rich_help_panel=_BUILD,
            help="What a component of the netlist is. May be given several times.",
        ),
    ] = None,
    part: Annotated[
        list[str] | None,
        _many(
            "A part; one of that designator is replaced.",
            "STAGE DESIGNATOR KIND PLACE [VALUE][, VOLTS]",
        ),
    ] = None,
    link: Annotated[
        list[str] | None,
        _many(
            "A stage not fed by the one before it, or one it controls.",
            "STAGE fed_by|controls STAGE",
        ),
    ] = None,
    leave_out: Annotated[
        list[str] | None,
        _many("A stage, part or point of --like or the netlist to leave out.", "NAME"),
    ] = None,
    isolated: Annotated[
        bool,
        typer.Option(
            "--isolated",
            help="A mains transformer isolates it, as its stages show; else all of it is live.",
            rich_help_panel=_BUILD,
        ),
    ] = False,
    opening: Annotated[
        list[str] | None,
        _many("A way in; each needs the one before it.", "NAME MINUTES WHAT-IS-DONE", _ACCESS),
    ] = None,
    board: Annotated[
        list[str] | None,
        _many("A board replaced whole.", "NAME OPENING SWAP-MINUTES WHAT-IT-IS", _ACCESS),
    ] = None,
    lies: Annotated[
        list[str] | None,
        _many(
            "Where a stage is found; none where nothing is opened.",
            "STAGE OPENING [BOARD]",
            _ACCESS,
        ),
    ] = None,
    point: Annotated[
        list[str] | None, _many("A test point.", "NAME STAGE SIDE WHERE-THE-PROBES-GO", _ACCESS)
    ] = None,
    kb: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            envvar="NEXTPROBE_KB",
            rich_help_panel=WHERE,
            help="Your folder of knowledge; without one, the folder knowledge in your data folder.",
        ),
    ] = None,
    yes: Annotated[
        bool,
        typer.Option(
            "--yes", "-y", help="Ask nothing: take what is proposed.", rich_help_panel=WHERE
        ),
    ] = False,
    force: Annotated[
        bool,
        typer.Option("--force", help="Replace what has that name.", rich_help_panel=WHERE),
    ] = False,
) -> None:
    """Draft a topology of your own: a commented file that passes check and can be charted.

    At a terminal it asks for stages, parts, openings, boards and test points and proposes what
    known units have there; elsewhere, or with --yes, options tell and the rest is as proposed.

    Example: nextprobe new porch-lamp --like buck-lamp --part "entry R1 fusible-resistor line 22 ohm"
    """  # noqa: E501
    from engine import drafting
    from engine.drafting import wishes
    from kb.language import ownfolder

    folder = kb if kb is not None else ownfolder.usual()
    person = _person(yes)
    knowledge = _knowledge(folder)
    target = _target(name, folder, knowledge, force)
    draft = _beginning(name, says, source, like, not isolated, knowledge, person)
    netlist = None
    if from_netlist is not None:
        netlist = netlists.begin(draft, from_netlist, stage or [], as_ or [], knowledge, person)
        draft, stage = netlist[0].draft, None
    for one in leave_out or ():
        draft = drafting.without(draft, one)
    wish = _with_stages(draft, stage or [], part or [], like, knowledge, person)
    draft = drafting.fill(wish, knowledge)
    for text in link or ():
        draft = drafting.with_link(draft, *wishes.link(text))
    draft = _reachable(draft, opening or [], board or [], lies or [], knowledge, person)
    draft = _with_points(draft, point or [], knowledge, person)
    draft = drafting.check(drafting.fill(draft, knowledge), knowledge)
    circuit = replace(netlist[0], draft=draft) if netlist is not None else None
    with files.together([target, *netlists.files_of(folder, name)]):
        _make_ready(folder, yes, person)
        _write(draft, target, knowledge)
        if circuit is not None and netlist is not None:
            cards = netlists.write_circuit(folder, name, circuit, netlist[1])
    if circuit is not None:
        print(f"{cards} is written.")
        netlists.tell_left(circuit)
    for remark in drafting.remarks(wish, draft, knowledge):
        print(remark)
    if bare := drafting.parts_without_value(draft, knowledge):
        print(f"no value yet: {', '.join(bare)}; figures stand on them, so write them in")
    _tell(name, target, folder, kb is not None)


def _person(yes: bool) -> Callable[[Knowledge], Drafter] | None:
    """How to ask the person at the terminal; None where there is none or nothing is to be asked."""
    if yes or not sys.stdin.isatty():
        return None
    from render.terminal.drafting import Drafter
    from render.terminal.screen import Screen

    return lambda knowledge: Drafter(Screen(), input, knowledge)


def _knowledge(folder: Path) -> Knowledge:
    from kb.language import loader

    if folder.exists() and not folder.is_dir():
        raise _trouble(
            "KB101", folder, "this is a file and not a folder", "Give --kb the path of a folder"
        )
    return loader.read((folder,) if folder.is_dir() else ())


def _target(name: str, folder: Path, knowledge: Knowledge, force: bool) -> Path:
    """The file to write; what has that name already is left alone unless it is told otherwise."""
    target = folder / f"{name}.yaml"
    place = knowledge.places.get(("topologies", name))
    if target.exists() and not force:
        raise _trouble(
            "NW102", target, "this file is there already",
            "Choose another name, or replace it with --force",
        )  # fmt: skip
    if place is not None and not (force and _may_go(place, target, folder)):
        raise _trouble(
            "NW103", place, f"there is a topology '{name}' already",
            f"Choose another name, or start from it: nextprobe new OTHER-NAME --like {name}",
        )  # fmt: skip
    return target


def _may_go(place: Place, target: Path, folder: Path) -> bool:
    """What is replaced is this very file, or shipped knowledge that one's own may stand before."""
    own = place.source.startswith(str(folder))
    return Path(place.source) == target or not own


def _beginning(
    name: str,
    says: str,
    source: str,
    like: str | None,
    live: bool,
    knowledge: Knowledge,
    person: Callable[[Knowledge], Drafter] | None,
) -> Topology:
    from engine import drafting

    drafter = person(knowledge) if person else None
    if like is not None:
        model = _model(like, knowledge)
        phrase = "What is it, in a phrase?"
        words = says or (drafter.words("It", phrase, model.says) if drafter else "")
        return drafting.like(
            model, name, words or model.says, source or f"begun from {like}; {model.source}"
        )
    words = says or (drafter.words("It", "What is it, in a phrase?") if drafter else "")
    words = words or f"{name}: say here what it is"
    live = drafter.live() if drafter and live else live
    return drafting.begin(name, words, source or _SOURCE, live)


def _model(like: str, knowledge: Knowledge) -> Topology:
    if like not in knowledge.topologies:
        raise _trouble(
            "KB701", Place("--like"), f"There is no topology '{like}'",
            f"Write one of: {', '.join(sorted(knowledge.topologies))}",
        )  # fmt: skip
    return knowledge.topologies[like]


def _with_stages(
    draft: Topology,
    stages: list[str],
    parts: list[str],
    like: str | None,
    knowledge: Knowledge,
    person: Callable[[Knowledge], Drafter] | None,
) -> Topology:
    """Stages and parts as told, then as asked; what is still lacking is proposed later."""
    from engine import drafting
    from engine.drafting import wishes

    for text in stages:
        wish = wishes.stage(text)
        draft = drafting.with_stage(draft, knowledge, wish.name, wish.kind or wish.name)
    drafter = person(knowledge) if person and not parts else None
    if drafter and like is not None:
        draft = drafter.differences(draft)
    elif drafter and not draft.stages:
        draft = drafter.stages(draft)
    for text in parts:
        draft = drafting.with_part(draft, knowledge, *wishes.part(text))
    if drafter and like is None:
        for name in draft.stages:
            draft = drafter.parts(draft, name)
    return draft


def _reachable(
    draft: Topology,
    openings: list[str],
    boards: list[str],
    lies: list[str],
    knowledge: Knowledge,
    person: Callable[[Knowledge], Drafter] | None,
) -> Topology:
    from engine import drafting
    from engine.drafting import wishes

    for text in openings:
        after = next(reversed(draft.openings), None)
        draft = drafting.with_opening(draft, *wishes.opening(text, after))
    for text in boards:
        draft = drafting.with_board(draft, *wishes.board(text))
    by_dialogue = person is not None and not draft.openings
    if person and by_dialogue:
        draft = person(knowledge).access(draft)
    places = [wishes.lies(text) for text in lies]
    for stage, behind, on in places:
        if behind != _NO_OPENING:
            draft = drafting.with_lies(draft, stage, drafting.Lies(behind, on))
    if not (by_dialogue and draft.openings):  # else each stage was asked for
        draft = drafting.with_access(draft, knowledge)
    for stage, behind, _ in places:
        if behind == _NO_OPENING:
            draft = drafting.with_lies(draft, stage, drafting.Lies())
    return draft


def _with_points(
    draft: Topology,
    points: list[str],
    knowledge: Knowledge,
    person: Callable[[Knowledge], Drafter] | None,
) -> Topology:
    from engine import drafting
    from engine.drafting import wishes

    for text in points:
        draft = drafting.with_point(draft, *wishes.point(text))
    if person and not draft.points:
        return person(knowledge).points(draft)
    return drafting.with_usual_points(draft, knowledge)


def _make_ready(folder: Path, yes: bool, person: Callable[[Knowledge], Drafter] | None) -> None:
    """Make the folder, once the person agrees; nothing has been written before this."""
    if folder.is_dir():
        return
    go_on = yes
    if not go_on and person is not None:
        from kb.language import loader

        go_on = person(loader.read()).yes(f"Make the folder {folder}?")
    if not go_on:
        raise _trouble(
            "NW104", folder, "this folder is not there yet",
            "Make it, or agree with --yes to have it made",
        )  # fmt: skip
    files.make_folder(folder)


def _write(draft: Topology, target: Path, knowledge: Knowledge) -> None:
    """The schemas first, then the file that names one: an editor never finds the way broken."""
    from kb.language import formats
    from kb.language.topologyfile import topology_text

    shelf = target.parent / ".schema"
    files.make_folder(shelf)
    for schema in ("topology.json", "knowledge.json"):
        files.write_text(shelf / schema, (formats.FOLDER / schema).read_text(encoding="utf-8"))
    files.write_text(target, topology_text(draft, knowledge, ".schema/topology.json"))


def _tell(name: str, target: Path, folder: Path, given: bool) -> None:
    where = f" --kb {folder}" if given else ""
    print(f"{target} is written. Look it over, then:")
    print(f"  nextprobe check {folder}")
    print(f"  nextprobe chart {name}{where} --depth stage -o {name}.pdf")


def _trouble(code: str, place: Path | Place, what: str, mend: str) -> TroubleError:
    at = place if isinstance(place, Place) else Place(str(place))
    return TroubleError(Trouble(code, at, what, mend))
