"""`nextprobe reading`: what one reading at one test means."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from render.cli.options import (
    WHERE,
    Complaint,
    Depth,
    DepthOption,
    GoodUnit,
    Json,
    Kb,
    Mains,
    MainsOption,
    Topology,
    Values,
)

if TYPE_CHECKING:
    from engine.evidence import Witness
    from engine.evidence.meaning import Meaning
    from engine.model.records import Model, Test

_COLUMNS, _FINE = 56, 240


def reading(
    topology: Topology,
    test: Annotated[
        str, typer.Argument(help="A test, as `nextprobe model` names it, or a test point.")
    ],
    value: Annotated[str, typer.Argument(help="What the meter shows: 3.1V, 4k7, OL, 0.6..0.7.")],
    mains: MainsOption = Mains.EUROPE,
    depth: DepthOption = Depth.PART,
    complaint: Complaint = None,
    given: Values = None,
    good: GoodUnit = None,
    kb: Kb = None,
    svg: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", rich_help_panel=WHERE, help="Write the picture there, as SVG."
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Say what a reading means: what is due and why, what explains it, what to check next.

    Example: nextprobe reading light-controlled-lamp volts-TP2 3.1V

    Example: nextprobe reading buck-lamp TP2 210V --mains 120/60 --svg picture.svg
    """
    import json

    from engine import library
    from engine.evidence.meaning import meaning
    from engine.readings import bands
    from render.cli import files, knowledge
    from render.cli.testifying import witness_for
    from render.reading import record
    from render.reading.figure import figure
    from render.reading.svg import svg as drawn

    model = knowledge.topology_model(
        topology, mains, depth, complaint, kb, (), given or ()
    )  # fmt: skip
    asked = _asked(model, test)
    if asked is None:  # who has a reading has the instrument, usual or not
        everything = library.everything(kb)
        model = knowledge.topology_model(
            topology, mains, depth, complaint, kb, (), given or (), everything
        )  # fmt: skip
        asked = _asked(model, test) or _no_such(model, test)
    witness = witness_for(model, given or (), good, kb)
    answer = bands.read(value, asked, model.arrangement(asked.supply))
    found = meaning(witness, answer)
    if svg is not None and bands.bands(asked):
        title = f"{asked.id} {answer.reading or answer.outcome}, {topology} {mains.value}"
        text = drawn(figure(found, witness, _FINE), title, _described(found))
        files.write_text(svg, text)
    if as_json:
        print(json.dumps(record.document(found), ensure_ascii=False, indent=1))
        return
    _show(found, witness)


def _asked(model: Model, wanted: str) -> Test | None:
    """The test of that id, or the first measured one at a test point, if there is one."""
    from engine.readings import bands

    for test in model.tests:
        if test.id.casefold() == wanted.casefold():
            return test
    at_point = [t for t in model.tests if t.point.casefold() == wanted.casefold() and t.point]
    measured = sorted(
        (t for t in at_point if bands.bands(t)), key=lambda t: not t.id.startswith("volts")
    )
    return measured[0] if measured else None


def _no_such(model: Model, wanted: str) -> NoReturn:
    """TroubleError CL121, with the tests that a reading can be of."""
    from engine.readings import bands
    from kb.trouble import Place, Trouble, TroubleError

    listed = ", ".join(t.id for t in model.tests if bands.bands(t))
    raise TroubleError(
        Trouble(
            "CL121",
            Place("command line"),
            f"{model.topology} has no test or test point '{wanted}'",
            f"Write one of: {listed}",
        )
    )


def _described(found: Meaning) -> str:
    likeliest = ", ".join(one.says for one in found.explanations[:3])
    return f"Likelihood of the reading under each fault; the likeliest are {likeliest}."


def _show(found: Meaning, witness: Witness) -> None:
    import sys

    from engine.readings import bands
    from render.reading import blocks, words
    from render.reading.figure import figure
    from render.terminal.screen import Screen

    screen = Screen(sys.stdout)
    mains = found.model.mains
    screen.heading(
        f"{found.test.id} reads {found.answer.reading or found.answer.outcome}",
        f"{found.model.topology} {mains.volts:g} V",
    )
    screen.main(found.test.says)
    for label, text in words.due(found):
        screen.line(label, text)
    screen.line("off by", words.off(found))
    if bands.bands(found.test):
        screen.picture(blocks.lines(figure(found, witness, _COLUMNS), screen.draws))
    screen.line("beware", words.doubt(found))
    for number, one in enumerate(words.explanations(found)):
        screen.line("explains" if number == 0 else "", words.explanation(one, found.due.unit))
    for promise in found.held:
        label = "keeps" if promise.kept else "breaks"
        screen.line(label, f"{promise.part}: {promise.says} ({promise.source})")
    screen.line("usual check", words.usual(found))
    for label, text in words.following(found):
        screen.line(label, text)
