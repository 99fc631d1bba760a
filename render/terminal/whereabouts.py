"""Where a part is: the walk's answer to `where R2`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict

from engine.model.records import Model
from render.terminal.screen import Screen
from render.wording import whereabouts


def show(screen: Screen, model: Model, typed: str) -> None:
    """The part or test point that was typed; all of them, stage by stage, where nothing was."""
    tables = whereabouts.tables(
        [asdict(stage) for stage in model.stages],
        [asdict(part) for part in model.parts],
        [asdict(point) for point in model.points],
    )
    wanted = typed.strip(" ?.").casefold().removeprefix("is ")
    listing = {line.designator.casefold(): line for t in tables for line in t.lines}
    if not listing:
        screen.say("This model does not say where its parts are.")
    elif not wanted:
        screen.heading(whereabouts.TITLE)
        for label, text in _all(tables):
            screen.line(label, text)
        screen.say(whereabouts.NOT_THE_BOARDS)
    elif wanted in listing:
        screen.line(listing[wanted].designator, listing[wanted].sentence.partition(": ")[2])
        screen.say(whereabouts.NOT_THE_BOARDS)
    else:
        screen.say(f"There is no {typed.strip()} on this chart. Type where alone to see all.")


def _all(tables: tuple[whereabouts.StageTable, ...]) -> Iterator[tuple[str, str]]:
    for table in tables:
        yield "stage", f"{table.says}:"
        for line in table.lines:
            yield line.designator, line.sentence.partition(": ")[2]
