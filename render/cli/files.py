"""Files come whole or not at all: written beside their place, then moved there."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from kb.trouble import Place, Trouble, TroubleError


@contextlib.contextmanager
def whole(path: Path) -> Iterator[Path]:
    """A temporary path of the same suffix that becomes `path` when the block ends well.

    Raises a `TroubleError` where the folder is missing or can't be written to; nothing is left
    behind when the block fails.
    """
    try:
        handle, name = tempfile.mkstemp(
            prefix=f".{path.stem}-", suffix=path.suffix, dir=path.absolute().parent
        )
        os.close(handle)
    except OSError as wrong:
        raise _unwritable(path, wrong) from wrong
    temporary = Path(name)
    try:
        yield temporary
        if path.is_dir():
            raise _unwritable(path, IsADirectoryError(21, "it is a folder"))
        temporary.chmod(0o666 & ~_umask())
        temporary.replace(path)
    except OSError as wrong:
        raise _unwritable(path, wrong) from wrong
    finally:
        temporary.unlink(missing_ok=True)


def make_folder(folder: Path) -> None:
    """Make a folder and those above it, where they are not there. TroubleError CL201."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as wrong:
        raise _unwritable(folder, wrong) from wrong


def write_text(path: Path, text: str) -> None:
    """Write a whole text file in UTF-8, or to standard output where the path is `-`."""
    if str(path) == "-":
        sys.stdout.write(text)
        return
    with whole(path) as temporary:
        temporary.write_text(text, encoding="utf-8")


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


def read_bytes(path: Path, what: str) -> bytes:
    """A whole file as bytes; `what` names it in the message."""
    try:
        return path.read_bytes()
    except OSError as wrong:
        raise _unreadable(path, what, wrong.strerror or str(wrong)) from wrong


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _unwritable(path: Path, wrong: OSError) -> TroubleError:
    return TroubleError(
        Trouble(
            code="CL201",
            place=Place(str(path)),
            what=f"it can't be written ({(wrong.strerror or str(wrong)).lower()})",
            mend="Name a file in a folder that is there and that you may write to",
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
