"""`nextprobe show`: a topology for somebody who holds the unit."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING

from render.cli import streams
from render.cli.columns import hanging
from render.cli.options import Json, Kb, Mains, MainsOption, Topology
from render.wording.odds import percent

if TYPE_CHECKING:
    from engine.assembly.portrait import Portrait
    from engine.model.records import Model


def show(
    topology: Topology,
    mains: MainsOption = Mains.EUROPE,
    kb: Kb = None,
    as_json: Json = False,
) -> None:
    """Show a topology: block diagram, parts and how to know them, test points and their readings.

    Example: nextprobe show buck-lamp --mains 120/60
    """
    from dataclasses import asdict

    from engine import library
    from render.cli import knowledge
    from render.cli.options import Depth

    if any(note.id == topology for note in library.unopened((kb,) if kb else ())):
        whole = knowledge.topology_model(topology, mains, Depth.PART, None, kb)
        if as_json:
            streams.print_json([asdict(share) for share in whole.shares])
            return
        print("\n".join(unopened_lines(whole)))
        return
    model = knowledge.topology_model(topology, mains, Depth.PART, None, kb)
    view = library.portrait_of(topology, model, kb)
    if as_json:
        streams.print_json(asdict(view))
        return
    print("\n".join(lines(view)))


def lines(view: Portrait) -> Iterator[str]:
    """The portrait as text, wrapped at a terminal."""
    yield f"{view.id}: {' '.join(view.says.split())}"
    yield f"Seen from outside: {view.looks}."
    yield ""
    yield "How power runs"
    yield from _blocks(view)
    yield ""
    yield "Parts, and how to know them"
    width = max((len(part.id) for part in view.parts), default=0)
    for stage in view.stages:
        own = [part for part in view.parts if part.stage == stage.id]
        if own:
            yield f"  {stage.says}"
        for part in own:
            where = f": {part.where}" if part.where else ""
            yield from _item(f"{part.id:<{width}}  {part.says}{where}", width)
    if not view.points:
        return
    yield ""
    yield "Test points, and what they should read"
    width = max(len(point.id) for point in view.points)
    for point in view.points:
        where = f": {point.where}" if point.where else ""
        yield from _item(f"{point.id:<{width}}  {point.says}{where}", width)
        for says, good in point.readings:
            yield from _item(f"{'':<{width}}  {says} {good}", width)


def unopened_lines(model: Model) -> Iterator[str]:
    """A unit that nobody has opened yet as text: what it may be, how often, and what is asked."""
    yield f"{model.topology}: {' '.join(model.says.split())}"
    yield ""
    yield "What it may be, before any complaint: of 100 that come in (95 of 100 between)"
    for entry in model.shares:
        span = f"{percent(entry.middle)} ({percent(entry.least)} to {percent(entry.most)})"
        yield from _item(f"{entry.family}  {span}", 0)
    yield ""
    yield "What is asked; don't know is an answer to each"
    for test in model.tests:
        answers = ", ".join(outcome.says for outcome in test.outcomes)
        where = f" (behind the {test.opened[-1]})" if test.opened else ""
        yield from _item(f"{test.says}{where} {answers}", 0)


def _blocks(view: Portrait) -> Iterator[str]:
    """The stages from the contacts on, each under the one that feeds it."""
    feeder = {fed: stage.id for stage in view.stages for fed in stage.feeds}
    previous = ""
    for stage in view.stages:
        fed_by = feeder.get(stage.id, "")
        beside = stage.controls or (fed_by and fed_by != previous)
        if previous and fed_by and not beside:
            yield "      |"
        words = f"[{stage.id}] {stage.says}"
        if stage.parts:
            words += f": {', '.join(stage.parts)}"
        if stage.points:
            words += f"; {', '.join(stage.points)}"
        if beside and fed_by:
            words += f"; fed by [{fed_by}]"
        if stage.controls:
            words += f"; controls {', '.join(f'[{other}]' for other in stage.controls)}"
        yield from _item(words, 2) if not beside else _item(f"   +-- {words}", 7)
        previous = previous if stage.controls else stage.id


def _item(text: str, deeper: int) -> Iterator[str]:
    if sys.stdout.isatty():
        yield from hanging(text, 4, 6 + deeper)
    else:
        yield "    " + text.rstrip()
