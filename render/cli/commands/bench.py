"""`nextprobe bench`: what the shop's bench has, how quick it is, and what things are worth."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from render.cli import completion, streams
from render.cli.options import Json, Kb

if TYPE_CHECKING:
    from kb.language.benchfile import BenchFile, ShopBench
    from kb.language.knowledge import Knowledge

_CHANGE = "Change it"


def _several(flag: str, text: str, shape: str, names: Any = None) -> Any:
    return typer.Option(
        flag, help=f"{text} May be given several times.", metavar=shape, rich_help_panel=_CHANGE,
        autocompletion=names,
    )  # fmt: skip


def bench(
    edit: Annotated[
        bool, typer.Option("--edit", help="Ask a few questions.", rich_help_panel=_CHANGE)
    ] = False,
    has: Annotated[
        list[str] | None, _several(
            "--has", "A thing beyond the usual that is there.", "THING", completion.things
        ),
    ] = None,
    lacks: Annotated[
        list[str] | None, _several(
            "--lacks", "A usual thing that is not there.", "THING", completion.things
        ),
    ] = None,
    pace: Annotated[
        float | None,
        typer.Option(
            metavar="FACTOR",
            help="How long you take: 1 as is usual, 1.2 a fifth longer.",
            rich_help_panel=_CHANGE,
        ),
    ] = None,
    minutes: Annotated[
        list[str] | None,
        _several(
            "--minutes",
            "Your minutes for an action of checks (ohms), an opening or a remedy.",
            "NAME=MINUTES",
        ),
    ] = None,
    spare: Annotated[
        list[str] | None,
        _several("--spare", "A board in stock, or a whole donor unit.", "TOPOLOGY[/BOARD]"),
    ] = None,
    traced: Annotated[
        list[str] | None,
        _several("--traced", "A stage whose wiring you know.", "TOPOLOGY/STAGE"),
    ] = None,
    worth_minute: Annotated[
        float | None,
        typer.Option(metavar="MONEY", help="What a minute is worth.", rich_help_panel=_CHANGE),
    ] = None,
    worth: Annotated[
        list[str] | None,
        _several("--worth", "What a working unit is worth.", "TOPOLOGY=MONEY"),
    ] = None,
    currency: Annotated[
        str | None,
        typer.Option(metavar="WORD", help="Which money that is.", rich_help_panel=_CHANGE),
    ] = None,
    forget: Annotated[
        list[str] | None,
        _several("--forget", "A name to strike from wherever it stands.", "NAME"),
    ] = None,
    kb: Kb = None,
    as_json: Json = False,
) -> None:
    """Show the bench that plans are made for; change it by questions or by options.

    What differs from the usual bench stands in the file bench.yaml of the shop's own folder.

    Example: nextprobe bench

    Example: nextprobe bench --has esr-meter --pace 1.2 --spare buck-lamp/driver
    """
    from kb.language import benchfile, benchwishes, loader, ownfolder

    folder = kb if kb is not None else ownfolder.usual()
    knowledge = loader.read((folder,) if folder.is_dir() else ())
    file = benchfile.of(folder)
    _sound(file, knowledge)
    wishes = benchwishes.Wishes(
        tuple(has or ()), tuple(lacks or ()), pace, tuple(minutes or ()), tuple(spare or ()),
        tuple(traced or ()), worth_minute, tuple(worth or ()), currency, tuple(forget or ()),
    )  # fmt: skip
    says = file.says if file is not None else benchfile.USUAL
    wishes_of_shop = benchwishes.grant(says, wishes, knowledge)
    if edit:
        wishes_of_shop = _dialogue(wishes_of_shop, knowledge)
    if wishes_of_shop != says:
        file = _write(folder, wishes_of_shop, file)
    elif edit:
        print("Nothing is changed.")
    if as_json:
        _print(file, knowledge)
        return
    print("\n".join(_lines(folder, file, knowledge)))


def _sound(file: BenchFile | None, knowledge: Knowledge) -> None:
    from kb.language import benchfile
    from kb.trouble import TroubleError

    if file is not None and (breaches := tuple(benchfile.troubles(file, knowledge))):
        raise TroubleError(breaches)


def _dialogue(says: ShopBench, knowledge: Knowledge) -> ShopBench:
    """What a person answers; nothing is kept of questions that were broken off."""
    from render.terminal.benchbook import Benchbook
    from render.terminal.screen import Screen

    try:
        return Benchbook(Screen(), input, knowledge).ask(says)
    except (EOFError, KeyboardInterrupt):
        print("\nNothing is changed.")
        raise typer.Exit(130) from None


def _write(folder: Path, says: ShopBench, before: BenchFile | None) -> BenchFile:
    import os

    from kb.language import benchfile, benchtext, formats
    from render.cli import files

    path = benchfile.path_in(folder)
    schema = os.path.relpath(formats.FOLDER / "shop-bench.json", folder)
    text = benchtext.bench_text(says, before, Path(schema).as_posix())
    bench_file = benchfile.parse(text, path)
    files.make_folder(folder)
    files.write_text(path, text)
    return bench_file


def _print(file: BenchFile | None, knowledge: Knowledge) -> None:

    from kb.language import benchfile

    says = file.says if file is not None else benchfile.USUAL
    absent = benchfile.lacking(knowledge, file=file)
    words = _words_by_name(knowledge)
    plain = {
        "file": str(file.path) if file is not None else None,
        "there": [{"id": n, "says": says} for n, says in words.items() if n not in absent],
        "lacking": [{"id": n, "says": says} for n, says in words.items() if n in absent],
        **{key: value for key, value in says.model_dump(mode="json").items() if key != "format"},
    }
    streams.print_json(plain)


def _words_by_name(knowledge: Knowledge) -> dict[str, str]:
    """What a bench may have, in words."""
    from kb.language import benchfile

    kinds: dict[str, Any] = {**knowledge.arrangements, **knowledge.instruments}
    return {name: kinds[name].says for name in benchfile.lackable(knowledge)}


def _lines(folder: Path, file: BenchFile | None, knowledge: Knowledge) -> Iterator[str]:
    from kb.language import benchfile

    if file is None:
        yield f"The usual bench; {benchfile.path_in(folder)} would tell of another."
    else:
        yield f"The bench of {file.path}"
    words = _words_by_name(knowledge)
    absent = benchfile.lacking(knowledge, file=file)
    unusual = benchfile.unusual(knowledge)
    width = max(len(name) for name in words)

    def row(name: str, note: str) -> str:
        return f"  {name:<{width}}  {words[name]}{note}"

    yield ""
    yield "There, besides a multimeter, a soldering iron and a socket known to be good:"
    yield from (row(n, " (yours)" if n in unusual else "") for n in words if n not in absent)
    if absent:
        yield ""
        yield "Lacking; bring one in for once by --with, for good by bench --has:"
        yield from (row(n, "" if n in unusual else " (usual)") for n in words if n in absent)
    if file is not None:
        yield from _own(file.says)


def _own(says: ShopBench) -> Iterator[str]:
    """Minutes, spares, tracing and worth, where they differ from the usual."""
    own = says.minutes
    minutes = []
    for figures in (own.actions, own.openings, own.remedies):
        minutes += [f"  {name}: {figure:g} min" for name, figure in figures.items()]
    if own.factor != 1:
        minutes.append(f"  all {'else' if minutes else 'work'}: {own.factor:g} times the usual")
    money = f" {says.worth.currency}".rstrip()
    worth = [f"  {name}: {value:g}{money}" for name, value in says.worth.units.items()]
    if says.worth.minute is not None:
        worth.insert(0, f"  a minute: {says.worth.minute:g}{money}")
    parts: dict[str, list[str]] = {
        "Minutes": minutes,
        "Spares": [f"  {_spare(name)}" for name in says.spares],
        "Traced": [f"  {unit}: {', '.join(stages)}" for unit, stages in says.traced.items()],
        "Worth": worth,
    }
    for heading, rows in parts.items():
        if rows:
            yield ""
            yield f"{heading}:"
            yield from rows


def _spare(name: str) -> str:
    unit, _, board = name.partition("/")
    return f"{unit}: {board}" if board else f"{unit}: a donor unit"
