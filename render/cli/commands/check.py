"""`nextprobe check`: a reviewer of a folder of knowledge."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from render.cli import streams
from render.cli.columns import count_words, hanging
from render.cli.options import Json

if TYPE_CHECKING:
    from engine.studies.review import Review
    from kb.trouble import Trouble


_NEVER = "KB801"
_MANY = 3
"""Rules of one file that never fire, from which on a line sums them up."""


def check(
    folder: Annotated[
        Path | None,
        typer.Argument(
            metavar="FOLDER",
            help="A folder of knowledge; without one, your own folder if there is one, else what "
            "is shipped.",
            envvar="NEXTPROBE_KB",
        ),
    ] = None,
    every: Annotated[
        bool,
        typer.Option(
            "--every",
            help="Tell each rule that never fires; else many of one file are summed up in a line.",
        ),
    ] = False,
    as_json: Json = False,
) -> None:
    """Review a folder of knowledge: every error and remark with file, line and how to mend it.

    Ends with exit code 2 if there are errors, 0 if there are none or only notes.

    Example: nextprobe check ~/shop-knowledge
    """

    from engine.studies.review import review
    from kb.language.ownfolder import choose
    from render.cli.waiting import status

    looked_at = choose(folder)
    with status("reading") as tell:
        remarks = review(looked_at, tell if tell is not None else lambda words: None)
    if as_json:
        streams.print_json(_plain(looked_at, remarks))
    else:
        print("\n".join(lines(looked_at, remarks, every)))
    if remarks.grave:
        raise typer.Exit(2)


def lines(folder: Path | None, remarks: Review, every: bool) -> Iterator[str]:
    """The review as it is printed; `every` rule that never fires by itself, where wanted."""
    what = f"{folder}, on top of what is shipped" if folder is not None else "What is shipped"
    yield from _paragraph(f"{what}: {_looked_at(remarks)}.", 0)
    for topic, troubles in remarks.by_topic():
        yield ""
        yield f"{topic} ({len(troubles)})"
        sums, rest = ([], troubles) if every else _summed_up(troubles)
        for line in sums:
            yield from _paragraph(line)
        for several in _by_place(rest):
            yield from _paragraph(str(several[0]))
            if len(several) > 1:
                yield f"      The same {count_words(len(several) - 1, 'more time')}."
    yield ""
    grave = len(remarks.grave)
    notes = count_words(len(remarks.troubles) - grave, "note")
    yield f"{count_words(grave, 'error')}, {notes}."


def _paragraph(text: str, indent: int = 2) -> Iterator[str]:
    """Wrapped for the eye at a terminal; whole on a pipe, where a program looks for words."""
    if sys.stdout.isatty():
        yield from hanging(text, indent, 4)
    else:
        yield " " * indent + text


def _looked_at(remarks: Review) -> str:
    if not remarks.entries:
        return "not read, for the files have errors"
    read = count_words(remarks.entries, "entry", "entries")
    if not remarks.topologies:
        return f"{read} read, no unit deduced"
    return f"{read} read; deduced at both mains: {', '.join(remarks.topologies)}"


def _by_place(troubles: Iterable[Trouble]) -> list[list[Trouble]]:
    """Troubles of one code at one place together, as a rule meets the same one in many units."""
    groups: dict[tuple[object, ...], list[Trouble]] = {}
    for trouble in troubles:
        groups.setdefault((trouble.code, trouble.place), []).append(trouble)
    return list(groups.values())


def _summed_up(troubles: Iterable[Trouble]) -> tuple[list[str], list[Trouble]]:
    """Rules that never fire, a line for each file with many of them; and the other troubles.

    A folder for many units has rules for each of them: told one by one, they would hide the rest.
    """
    troubles = list(troubles)
    files = Counter(trouble.place.source for trouble in troubles if trouble.code == _NEVER)
    many = {source: count for source, count in files.items() if count >= _MANY}
    sums = [
        f"{source} {_NEVER} {count} rules of this file never fire: no unit tried meets their "
        "conditions. Nothing, if they are for other units; --every tells each."
        for source, count in many.items()
    ]
    rest = [t for t in troubles if t.code != _NEVER or t.place.source not in many]
    return sums, rest


def _plain(folder: Path | None, remarks: Review) -> dict[str, Any]:
    return {
        "format": "nextprobe-review/1",
        "folder": None if folder is None else str(folder),
        "entries": remarks.entries,
        "topologies": list(remarks.topologies),
        "errors": len(remarks.grave),
        "notes": len(remarks.troubles) - len(remarks.grave),
        "troubles": [
            {
                "topic": topic, "code": t.code, "source": t.place.source, "line": t.place.line,
                "column": t.place.column, "what": t.what, "why": t.why, "mend": t.mend,
                "grave": t.grave,
            }
            for topic, troubles in remarks.by_topic()
            for t in troubles
        ],
    }  # fmt: skip
