"""`nextprobe check`: whether a folder of knowledge can be used."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import Json


def check(
    folder: Annotated[
        Path | None,
        typer.Argument(
            metavar="[FOLDER]",
            help="A folder of knowledge; without one, what is shipped is checked.",
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Check a folder of knowledge: every error with file, line and how to mend it.

    Ends with exit code 2 if there are errors, 0 if there are none or only notes.

    Example: nextprobe check ~/shop-knowledge
    """
    import json

    from engine import library

    troubles = tuple(library.check(folder))
    grave = sum(trouble.grave for trouble in troubles)
    if as_json:
        plain = [
            {
                "code": t.code, "source": t.place.source, "line": t.place.line,
                "column": t.place.column, "what": t.what, "why": t.why, "mend": t.mend,
                "grave": t.grave,
            }
            for t in troubles
        ]  # fmt: skip
        print(json.dumps(plain, ensure_ascii=False, indent=1))
    else:
        for trouble in troubles:
            print(trouble if trouble.grave else f"note: {trouble}")
        notes = len(troubles) - grave
        print(f"{grave} {_plural('error', grave)}, {notes} {_plural('note', notes)}.")
    if grave:
        raise typer.Exit(2)


def _plural(word: str, count: int) -> str:
    return word if count == 1 else word + "s"
