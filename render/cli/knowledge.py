"""From what the command line was told to a model: a topology deduced, or a document read."""

from __future__ import annotations

import sys
from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING

from engine.model.records import Mains as MainsRecord
from engine.model.records import Model
from kb.trouble import Place, Trouble, TroubleError
from render.cli import files
from render.cli.options import Depth, Mains

if TYPE_CHECKING:
    from engine.assembly.shop import Shop


def topology_model(
    topology: str,
    mains: Mains,
    depth: Depth,
    complaint: str | None,
    kb: Path | None,
    without: Collection[str] = (),
    values: Collection[str] = (),
    having: Collection[str] = (),
    traced: Collection[str] = (),
) -> Model:
    """The model of a topology on the shop's bench, from the cache where it is fresh.

    `values` are those read off the unit, `R2=330k`; what names no part is left to readings.
    `having`, `without` and `traced` go before what the bench file in `kb` says.
    """
    from engine import library
    from kb.language import benchfile
    from render.cli.waiting import status

    volts, hertz = (float(part) for part in mains.split("/"))
    markings_of = _markings(topology, MainsRecord(volts, hertz), kb, values) if values else ()
    with status(f"reading {topology}") as tell:

        def progress(count: int, of: int) -> None:
            if tell is not None:
                tell(f"reasoning: {count} of {of} suspicions, once for this knowledge")

        return library.model(
            topology,
            mains=MainsRecord(volts, hertz),
            depth=depth.value,
            complaint=complaint,
            kb=kb,
            having=frozenset(having),
            without=frozenset(without),
            traced=frozenset(traced),
            bench=benchfile.of(kb),
            marked=markings_of,
            progress=progress,
        )


def shop(
    kb: Path | None,
    without: Collection[str] = (),
    having: Collection[str] = (),
    traced: Collection[str] = (),
) -> Shop:
    """What the shop has, with the bench file of its folder."""
    from engine.assembly.shop import Shop
    from kb.language import benchfile

    return Shop(
        frozenset(having), frozenset(without), frozenset(traced), benchfile.of(kb)
    )  # fmt: skip


def _markings(
    topology: str, mains: MainsRecord, kb: Path | None, values: Collection[str]
) -> tuple[tuple[str, str], ...]:
    """Part and value of each marking, checked. TroubleError as `engine.readings.markings`."""
    from engine import library
    from engine.readings import markings
    from kb.quantities import show

    values_of = library.listed_values(topology, mains, kb)
    texts = {p: text for p, text in markings.assignments(values).items() if p in values_of}
    readings = markings.read(texts, values_of)
    return tuple((part, show(quantity.value, quantity.unit)) for part, quantity in readings.items())


def document_model(path: Path) -> Model:
    """The model in a document made elsewhere; what is only noteworthy goes to standard error."""
    from engine.model.file import inspect
    from engine.safetygate import origin_note

    reading = inspect(files.read_text(path, "the model"), str(path))
    for note in reading.notes:
        print(f"nextprobe: note: {note}", file=sys.stderr)
    print(f"nextprobe: note: {path} {origin_note(reading.model, True)}", file=sys.stderr)
    return reading.model


def either(
    topology: str | None,
    model_file: Path | None,
    mains: Mains,
    depth: Depth,
    complaint: str | None,
    kb: Path | None,
    without: Collection[str] = (),
    values: Collection[str] = (),
    having: Collection[str] = (),
    traced: Collection[str] = (),
) -> Model:
    """The model of the topology or of the document; naming both or neither is a trouble."""
    if (topology is None) == (model_file is None):
        raise TroubleError(
            Trouble(
                code="CL101",
                place=Place("command line"),
                what="name a topology or a model file, one of the two",
                mend="Write nextprobe chart buck-lamp, or nextprobe chart --model FILE; "
                "nextprobe list names the topologies",
            )
        )
    if model_file is not None and values:
        raise TroubleError(
            Trouble(
                code="CL108",
                place=Place("command line"),
                what="a model document has no parts whose values could be other ones",
                mend="Leave --value out, or name a topology in place of --model",
            )
        )
    if model_file is not None and (having or traced):
        raise TroubleError(
            Trouble(
                code="CL109",
                place=Place("command line"),
                what="a model document is made for the bench that it names",
                mend="Leave --with and --traced out, or name a topology in place of --model",
            )
        )
    if model_file is not None:
        return document_model(model_file)
    assert topology is not None
    return topology_model(topology, mains, depth, complaint, kb, without, values, having, traced)
