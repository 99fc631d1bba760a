"""`nextprobe note`: words, photographs and label data for a case."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import ShopOption, Who


def note(
    number: Annotated[int, typer.Argument(help="The case's number.", min=1)],
    words: Annotated[list[str] | None, typer.Argument(help="What to note.")] = None,
    photograph: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="FILE", help="A JPEG, PNG or WebP picture; may be given several times."
        ),
    ] = None,
    label: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME=TEXT",
            help="Something printed on the unit, such as power='8 W'; may be given several times.",
        ),
    ] = None,
    shop: ShopOption = None,
    who: Who = None,
) -> None:
    """Add to a case: words, photographs, what is printed on the unit.

    Photographs are kept as they are, with whatever the camera wrote into them, the place included.

    Example: nextprobe note 12 "Rust at the cap" --photograph board.jpg --label power="8 W"
    """
    from kb.trouble import Place, Trouble, TroubleError
    from render.cli import files, keeping

    entries = dict(one.partition("=")[::2] for one in label or ())
    if (not words and not photograph and not entries) or "" in (*entries, *entries.values()):
        raise TroubleError(
            Trouble(
                code="CL151", place=Place("command line"), what="there is nothing to note",
                mend="Give words, --photograph FILE or --label NAME=TEXT",
            )
        )  # fmt: skip
    pictures = [(path, files.read_bytes(path, "the photograph")) for path in photograph or ()]
    books = keeping.open_shop(shop, who)
    if words:
        books.note(number, " ".join(words))
    if entries:
        books.label(number, entries)
    for path, content in pictures:
        books.photograph(number, content, path.stem, str(path))
    print(f"Noted with case {number}.")
