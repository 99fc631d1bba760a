"""An issued file: the date it bears, and its pages written whole or not at all."""

from __future__ import annotations

import datetime
import os
import tempfile
from pathlib import Path

from kb.trouble import Place, Trouble, TroubleError


def save(pages: list[bytes], target: Path) -> tuple[Path, ...]:
    """Write each page whole; several are numbered `name-1.svg`, `name-2.svg`."""
    names = (
        [target]
        if len(pages) == 1
        else [
            target.with_name(f"{target.stem}-{number}{target.suffix}")
            for number in range(1, len(pages) + 1)
        ]
    )
    waiting: list[tuple[Path, Path]] = []
    try:
        for name, content in zip(names, pages, strict=True):
            waiting.append((_aside(name, content), name))
        for temporary, name in waiting:
            os.replace(temporary, name)
    except OSError as error:
        for temporary, _ in waiting:
            temporary.unlink(missing_ok=True)
        raise TroubleError(
            Trouble(
                "PA151",
                Place(str(target)),
                f"The chart can't be written here: {error.strerror or error}",
                "Choose a folder that exists and that you may write to",
            )
        ) from error
    return tuple(names)


def _aside(name: Path, content: bytes) -> Path:
    handle, temporary = tempfile.mkstemp(dir=name.parent, prefix=f".{name.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(temporary, 0o666 & ~mask)
    except OSError:
        Path(temporary).unlink(missing_ok=True)
        raise
    return Path(temporary)


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
