"""Files come whole or not at all: written beside their place, then moved there."""

from __future__ import annotations

import contextlib
import errno
import json
import shlex
import sys
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import Any

from kb import files
from kb.trouble import Place, Trouble, TroubleError
from render.cli import streams

CHANGED = "CL116"
"""The trouble of a file that another program has written to."""


@contextlib.contextmanager
def whole(path: Path) -> Iterator[Path]:
    """A temporary path of the same suffix that becomes `path` when the block ends well.

    Raises a `TroubleError` where the folder is missing or can't be written to, and for what is no
    plain file; nothing is left behind when the block fails.
    """
    try:
        with files.whole(path) as temporary:
            yield temporary
    except OSError as wrong:
        raise _unwritable(path, wrong) from wrong


@contextlib.contextmanager
def together(paths: Collection[Path]) -> Iterator[None]:
    """Write several files or none: those of `paths` that were not there go when the block fails.

    So do the folders that were made for them. Files that were there stay as they are then.
    """
    new = [path for path in paths if not path.exists()]
    folders = {above for path in new for above in path.parents if not above.exists()}
    try:
        yield
    except BaseException:
        for path in new:
            with contextlib.suppress(OSError):  # what went wrong first is what is told
                path.unlink(missing_ok=True)
        for folder in sorted(folders, key=lambda one: -len(one.parts)):
            with contextlib.suppress(OSError):  # someone else's file is in it by now
                folder.rmdir()
        raise


def make_folder(folder: Path) -> None:
    """Make a folder and those above it, where they are not there. TroubleError CL201."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as wrong:
        what = f"it can't be made ({(wrong.strerror or str(wrong)).lower()})"
        mend = "Name a folder in a place that you may write to"
        raise TroubleError(Trouble("CL201", Place(str(folder)), what, mend)) from wrong


def write_text(path: Path, text: str) -> None:
    """Write a whole text file in UTF-8, or print it where the path stands for standard output."""
    if files.is_stream(path):
        sys.stdout.write(text)
        return
    try:
        files.write_bytes(path, text.encode())
    except OSError as wrong:
        raise _unwritable(path, wrong) from wrong


def write_json_on(path: Path, document: Any, before: bytes | None) -> bytes | None:
    """Write a document over what one knows to be in its file, `before`, and give what is now.

    None is a file that is not there. TroubleError CL116, with nothing written, where another
    program has written to it since.
    """
    if files.is_stream(path):
        write_json(path, document)
        return None
    with files.turn(path.parent):
        if files.content(path) != before:
            raise TroubleError(
                Trouble(
                    code=CHANGED,
                    place=Place(str(path)),
                    what="another program has gone on with this walk; nothing was written over, "
                    "and the last answer here is not in it",
                    mend=f"Let the other one end, then take it up with "
                    f"nextprobe walk --from {shlex.quote(str(path))}",
                )
            )
        write_json(path, document)
        return files.content(path)


def write_json(path: Path, document: Any) -> None:
    """Write a document as a JSON file, or print it, escaped where the stream can't show it."""
    plain = streams.needs_escapes(sys.stdout) if files.is_stream(path) else False
    write_text(path, json.dumps(document, ensure_ascii=plain, indent=1) + "\n")


def read_text(path: Path, what: str) -> str:
    """A whole text file in UTF-8, standard input for `-`; `what` names it in the message."""
    try:
        if str(path) == "-":
            return sys.stdin.read()
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as wrong:
        raise _unreadable(path, what, "it is not UTF-8 text") from wrong
    except OSError as wrong:
        raise _unreadable(path, what, wrong.strerror or str(wrong)) from wrong


def read_json(path: Path, what: str, no_json: tuple[str, str, str]) -> tuple[Any, str]:
    """A decoded JSON file, and its text; `no_json` is code, sentence and mend of what is none."""
    text = read_text(path, what)
    code, sentence, mend = no_json
    try:
        return json.loads(text), text
    except json.JSONDecodeError as wrong:
        line = wrong.lineno
    except (ValueError, RecursionError):  # numbers of thousands of digits, deep nesting
        line = 0
    raise TroubleError(Trouble(code, Place(str(path), line), sentence, mend))


def read_bytes(path: Path, what: str) -> bytes:
    """A whole file as bytes; `what` names it in the message."""
    try:
        return path.read_bytes()
    except OSError as wrong:
        raise _unreadable(path, what, wrong.strerror or str(wrong)) from wrong


_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


def _unwritable(path: Path, wrong: OSError) -> TroubleError:
    room = wrong.errno in _NO_ROOM
    return TroubleError(
        Trouble(
            code="CL201",
            place=Place(str(path)),
            what=f"it can't be written ({(wrong.strerror or str(wrong)).lower()})",
            mend="Make room there, or name a file in another place" if room else
            "Name a file in a folder that is there and that you may write to",
        )
    )


def _unreadable(path: Path, what: str, why: str) -> TroubleError:
    return TroubleError(
        Trouble(
            code="CL202",
            place=Place(str(path)),
            what=f"{what} can't be read ({why.lower()})",
            mend="Check the file's name and that you may read it",
        )
    )
