"""Files written whole or not at all: beside their place, on to the disk, then moved there.

Only plain files are written, through links to what they point at; what was there keeps its mode and
its owner. A file beside the place that a killed program left goes at the next writing there.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import stat
import sys
import time
from collections.abc import Iterator
from pathlib import Path

try:
    import fcntl
except ImportError:  # no such locks here: what a killed program left goes by its age alone
    fcntl = None  # type: ignore[assignment]

STREAMS = ("-", "/dev/stdout", "/dev/fd/1", "/proc/self/fd/1")
"""Names that stand for standard output."""
_MARK = "np-part"
_YOUNG = 60.0
"""Seconds in which a file beside its place may not be locked yet; our choice, far above it."""
_OLD = 86_400.0
"""Seconds after which a file beside its place is swept where nothing can be locked; our choice."""
_PATIENCE, _GLANCE = 5.0, 0.01
"""Seconds that a folder's lock is waited for, and between two looks: a turn takes milliseconds."""
_STEM = 80
"""Letters of the name that a file beside its place bears: names end at 255 bytes."""


def is_stream(path: Path) -> bool:
    """Whether a path stands for standard output."""
    return str(path) in STREAMS


def write_bytes(path: Path, content: bytes) -> None:
    """Write a file whole, or on to standard output where the path stands for it. OSError."""
    if is_stream(path):
        sys.stdout.flush()  # what was printed comes first
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
        return
    with whole(path) as aside:
        aside.write_bytes(content)


@contextlib.contextmanager
def turn(folder: Path) -> Iterator[None]:
    """Whoever else writes to a folder by turns waits until the block ends.

    For a look at a file and its writing as one step. The lock is the folder's own, so that nothing
    is left when a program is killed; without locks there, or where somebody sits on the lock, two
    that write within the same milliseconds may still miss each other.
    """
    with contextlib.ExitStack() as stack:
        if fcntl is not None:
            with contextlib.suppress(OSError):
                handle = os.open(folder, os.O_RDONLY)
                stack.callback(os.close, handle)
                _wait_for(handle)
        yield


def _wait_for(handle: int) -> None:
    """Lock the folder; a stranger that keeps it for ever must not keep an answer from the disk."""
    end = time.monotonic() + _PATIENCE
    while time.monotonic() < end:
        with contextlib.suppress(BlockingIOError):
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        time.sleep(_GLANCE)


def content(path: Path) -> bytes | None:
    """What a plain file holds; None where it is none, or can't be read."""
    try:
        return path.read_bytes() if path.is_file() else None
    except OSError:
        return None


@contextlib.contextmanager
def whole(path: Path) -> Iterator[Path]:
    """A path of the same suffix that becomes `path` when the block ends well.

    When it is `path` its bytes are on the disk. Nothing is left when the block fails. OSError
    where the folder is missing or can't be written to, for folders, devices, pipes and sockets, and
    for a file that may not be written.
    """
    target = _target(path)
    _sweep(target.parent)
    aside, handle = _beside(target)
    try:
        yield aside
        _target(target)
        _take_over(aside, target)
        _sync(aside)
        aside.replace(target)
        _sync(target.parent)
    finally:
        os.close(handle)
        aside.unlink(missing_ok=True)


def _target(path: Path) -> Path:
    """The plain file that a path leads to, or none yet."""
    target = Path(os.path.realpath(path))
    try:
        mode = target.stat().st_mode
    except FileNotFoundError:
        return target
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(21, "it is a folder")
    if not stat.S_ISREG(mode):
        raise OSError(22, "it is no plain file but a device, a pipe or a socket")
    if not os.access(target, os.W_OK):
        raise PermissionError(13, "you may not write to this file")
    return target


def _beside(target: Path) -> tuple[Path, int]:
    """A new empty file beside the target, with the mode of new files, and its lock's handle."""
    name = f".{target.stem[:_STEM]}-{secrets.token_hex(4)}.{_MARK}{target.suffix}"
    aside = target.with_name(name)
    handle = os.open(aside, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o666)
    if fcntl is not None:
        with contextlib.suppress(OSError):  # a folder on a server may have no locks
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    return aside, handle


def _take_over(aside: Path, target: Path) -> None:
    """Give the new file the mode and owner of the one that it takes the place of."""
    try:
        old = target.stat()
    except FileNotFoundError:
        return
    new = aside.stat()
    if (old.st_uid, old.st_gid) != (new.st_uid, new.st_gid):
        with contextlib.suppress(PermissionError):
            os.chown(aside, old.st_uid, old.st_gid)
    aside.chmod(stat.S_IMODE(old.st_mode))


def _sync(path: Path) -> None:
    """Bring a file, or a folder's list of names, on to the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as wrong:
        if not path.is_dir():  # some file systems can't do it with folders
            raise wrong
    finally:
        os.close(handle)


def _sweep(folder: Path) -> None:
    """Drop what killed programs left in a folder: no lock is on it."""
    for left in folder.glob(f".*.{_MARK}*"):
        with contextlib.suppress(OSError):
            if time.time() - left.stat().st_mtime > _YOUNG and _is_left(left):
                left.unlink()


def _is_left(path: Path) -> bool:
    if fcntl is None:
        return time.time() - path.stat().st_mtime > _OLD
    handle = os.open(path, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    finally:
        os.close(handle)
    return True
