"""`nextprobe reading`: what one reading at one test means."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from render.cli import completion, streams
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
        str,
        typer.Argument(
            help="A test, as `nextprobe model` names it, or a test point.",
            autocompletion=completion.tests,
        ),
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
    check = _test_of(model, test)
    if check is None:  # who has a reading has the instrument, usual or not
        everything = library.everything(kb)
        model = knowledge.topology_model(
            topology, mains, depth, complaint, kb, (), given or (), everything
        )  # fmt: skip
        check = _test_of(model, test) or _no_such(model, test)
    witness = witness_for(model, given or (), good, kb)
    answer = bands.read(value, check, model.arrangement(check.supply))
    account = meaning(witness, answer)
    if svg is not None and bands.bands(check):
        title = f"{check.id} {answer.reading or answer.outcome}, {topology} {mains.value}"
        text = drawn(figure(account, witness, _FINE), title, _description(account))
        files.write_text(svg, text)
    if as_json:
        streams.print_json(record.document(account))
        return
    _show(account, witness)


def _test_of(model: Model, name: str) -> Test | None:
    """The test of that id, or the first measured one at a test point, if there is one."""
    from engine.readings import bands

    for test in model.tests:
        if test.id.casefold() == name.casefold():
            return test
    at_point = [t for t in model.tests if t.point.casefold() == name.casefold() and t.point]
    with_bands = sorted(
        (t for t in at_point if bands.bands(t)), key=lambda t: not t.id.startswith("volts")
    )
    return with_bands[0] if with_bands else None


def _no_such(model: Model, name: str) -> NoReturn:
    """TroubleError CL121, with the tests that a reading can be of."""
    from engine.readings import bands
    from kb.trouble import Place, Trouble, TroubleError

    names = ", ".join(t.id for t in model.tests if bands.bands(t))
    raise TroubleError(
        Trouble(
            "CL121",
            Place("command line"),
            f"{model.topology} has no test or test point '{name}'",
            f"Write one of: {names}",
        )
    )


def _description(account: Meaning) -> str:
    likeliest = ", ".join(one.says for one in account.explanations[:3])
    return f"Likelihood of the reading under each fault; the likeliest are {likeliest}."


def _show(account: Meaning, witness: Witness) -> None:
    import sys

    from engine.readings import bands
    from render.reading import blocks, words
    from render.reading.figure import figure
    from render.terminal.screen import Screen

    screen = Screen(sys.stdout)
    mains = account.model.mains
    screen.heading(
        f"{account.test.id} reads {account.answer.reading or account.answer.outcome}",
        f"{account.model.topology} {mains.volts:g} V",
    )
    screen.main(account.test.says)
    for label, text in words.due(account):
        screen.line(label, text)
    screen.line("off by", words.off(account))
    if bands.bands(account.test):
        screen.picture(blocks.lines(figure(account, witness, _COLUMNS), screen.draws))
    screen.line("beware", words.doubt(account))
    for number, one in enumerate(words.explanations(account)):
        screen.line("explains" if number == 0 else "", words.explanation(one, account.due.unit))
    for promise in account.promises:
        label = "keeps" if promise.is_kept else "breaks"
        screen.line(label, f"{promise.part}: {promise.says} ({promise.source})")
    screen.line("usual check", words.usual(account))
    for label, text in words.following(account):
        screen.line(label, text)
