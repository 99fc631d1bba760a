"""How the command line ends when something is wrong: three kinds, three exit codes.

2: what was given can't be used (a `TroubleError`, or wrong usage). 3: a fault of the program, told
in one sentence with the log's place. 130: interrupted.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Callable

from kb.trouble import TroubleError

GIVEN, BUG, INTERRUPTED = 2, 3, 130
_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EROFS, errno.EFBIG)
"""What a disk or stream says that takes no more: no fault of the program."""


def guard(job: Callable[[], object]) -> int:
    """Run the command line and give its exit code; nothing reaches the person as a traceback."""
    try:
        try:
            job()
        finally:
            sys.stdout.flush()  # here, so that a reader who has gone is noticed here
    except TroubleError as wrong:
        for trouble in wrong.troubles:
            print(f"nextprobe: {trouble}", file=sys.stderr)
        return GIVEN
    except KeyboardInterrupt:
        print("nextprobe: interrupted.", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        # The reader (head, less) has gone; keep Python from complaining as it closes stdout.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as wrong:
        if wrong.errno not in _FULL:
            print(f"nextprobe: {log_fault(wrong)}", file=sys.stderr)
            return BUG
        print(f"nextprobe: {_full(wrong)}", file=sys.stderr)
        return GIVEN
    except Exception as wrong:  # the outermost edge: a person gets a sentence, the log the rest
        print(f"nextprobe: {log_fault(wrong)}", file=sys.stderr)
        return BUG
    return 0


def _full(wrong: OSError) -> str:
    """A disk that takes no more, in words; standard output is left alone from here on."""
    # What still waits to be printed would fail again when Python ends.
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    where = f"{wrong.filename}: " if wrong.filename else ""
    why = (wrong.strerror or str(wrong)).lower()
    return (
        f"{where}nothing more can be written ({why}). "
        "Make room there, or write to another place, and run it again."
    )


def log_fault(wrong: Exception) -> str:
    """Put a fault of the program into the log; one sentence on it, with the log's place."""
    import platform
    import time
    import traceback
    from pathlib import Path

    import platformdirs

    message = f"this is a fault in nextprobe itself ({type(wrong).__name__}: {wrong})."
    entry = [
        time.strftime("%Y-%m-%dT%H:%M:%S"),
        f"python {platform.python_version()} on {platform.platform()}",
        "arguments: " + " ".join(sys.argv[1:]),
        "".join(traceback.format_exception(wrong)),
    ]
    try:
        folder = Path(platformdirs.user_log_dir("nextprobe", appauthor=False))
        folder.mkdir(parents=True, exist_ok=True)
        log = folder / "faults.log"
        with log.open("a", encoding="utf-8") as stream:
            stream.write("\n".join(entry) + "\n")
    except OSError:
        return message + " Its log could not be written."
    return message + f" Please report it with the end of {log}."
