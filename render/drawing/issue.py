"""An issued file: the date it bears, and its pages written whole or not at all."""

from __future__ import annotations

import contextlib
import datetime
import os
import re
from pathlib import Path

from kb import files
from kb.trouble import Place, Trouble, TroubleError

MARK = "drawn by nextprobe"
"""What SVG and PNG files of ours say near their beginning, beside their title."""
_HEAD = 2000
"""Bytes within which it stands; a title is no longer than half of that."""


def save(pages: list[bytes], target: Path) -> tuple[Path, ...]:
    """Write each page whole; several are numbered `name-1.svg`, `name-2.svg`.

    Sheets of an earlier, longer chart of that name go: pages that are numbered on from the last one
    and that we drew. TroubleError PA151, PA153.
    """
    if files.is_stream(target) and len(pages) > 1:
        raise TroubleError(
            Trouble(
                "PA153",
                Place(str(target)),
                f"The chart has {len(pages)} sheets, a file each",
                "Write to a file's name, or print a PDF, which holds them all",
            )
        )
    names = [target] if len(pages) == 1 else [_page_path(target, n + 1) for n in range(len(pages))]
    try:
        with contextlib.ExitStack() as waiting:
            for name, content in zip(names, pages, strict=True):
                if files.is_stream(name):
                    files.write_bytes(name, content)
                else:
                    waiting.enter_context(files.whole(name)).write_bytes(content)
        if not files.is_stream(target):
            _drop_earlier(target, len(pages))
    except BrokenPipeError:
        raise
    except OSError as error:
        raise TroubleError(
            Trouble(
                "PA151",
                Place(str(target)),
                f"The chart can't be written here: {error.strerror or error}",
                "Choose a folder that exists and that you may write to",
            )
        ) from error
    return tuple(names)


def _page_path(target: Path, number: int) -> Path:
    return target.with_name(f"{target.stem}-{number}{target.suffix}")


def _drop_earlier(target: Path, pages: int) -> None:
    """Remove the sheets that an earlier chart of this name had beyond those written now."""
    number = 1 if pages == 1 else pages + 1
    while _bears(old := _page_path(target, number), number):
        old.unlink()
        number += 1


def _bears(file: Path, number: int) -> bool:
    """Whether a file is one of several sheets of ours, and that sheet."""
    if file.is_symlink() or not file.is_file():
        return False
    with file.open("rb") as stream:
        head = stream.read(_HEAD)
    return MARK.encode() in head and re.search(rb"sheet %d of \d" % number, head) is not None


def issue_date() -> str:
    """The date to print: SOURCE_DATE_EPOCH if set, else today (UTC), as ISO text."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH")
    if epoch is None:
        return datetime.datetime.now(datetime.UTC).date().isoformat()
    try:
        return datetime.datetime.fromtimestamp(int(epoch), datetime.UTC).date().isoformat()
    except (ValueError, OverflowError, OSError) as error:
        raise TroubleError(
            Trouble(
                "PA152",
                Place("SOURCE_DATE_EPOCH"),
                f"“{epoch}” is no number of seconds since 1970",
                "Set it to whole seconds, or unset it",
            )
        ) from error
