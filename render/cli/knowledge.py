"""From what the command line was told to a model: a topology deduced, or a document read."""

from __future__ import annotations

import sys
from collections.abc import Collection
from pathlib import Path

from engine.model import Mains as MainsRecord
from engine.model import Model
from kb.trouble import Place, Trouble, TroubleError
from render.cli import files
from render.cli.options import Depth, Mains


def topology_model(
    topology: str,
    mains: Mains,
    depth: Depth,
    complaint: str | None,
    kb: Path | None,
    without: Collection[str] = (),
) -> Model:
    """The model of a topology, from the cache where it is fresh."""
    from engine import library
    from render.cli.waiting import status

    volts, hertz = (float(part) for part in mains.split("/"))
    with status(f"reading {topology}") as tell:

        def progress(done: int, of: int) -> None:
            if tell is not None:
                tell(f"reasoning: {done} of {of} suspicions, once for this knowledge")

        return library.model(
            topology,
            mains=MainsRecord(volts, hertz),
            depth=depth.value,
            complaint=complaint,
            kb=kb,
            without=frozenset(without),
            progress=progress,
        )


def document_model(path: Path) -> Model:
    """The model in a document made elsewhere; what is only noteworthy goes to standard error."""
    from engine.modelfile import inspect

    reading = inspect(files.read_text(path, "the model"), str(path))
    for note in reading.notes:
        print(f"nextprobe: note: {note}", file=sys.stderr)
    return reading.model


def either(
    topology: str | None,
    model_file: Path | None,
    mains: Mains,
    depth: Depth,
    complaint: str | None,
    kb: Path | None,
    without: Collection[str] = (),
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
    if model_file is not None:
        return document_model(model_file)
    assert topology is not None
    return topology_model(topology, mains, depth, complaint, kb, without)
