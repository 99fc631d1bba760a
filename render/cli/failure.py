"""How the command line ends when something is wrong: three kinds, three exit codes.

2: what was given can't be used (a `TroubleError`, or wrong usage). 3: a fault of the program, told
in one sentence with the log's place. 130: interrupted.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable

from kb.trouble import TroubleError

GIVEN, BUG, INTERRUPTED = 2, 3, 130


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
    except Exception as wrong:  # the outermost edge: a person gets a sentence, the log the rest
        print(f"nextprobe: {log_fault(wrong)}", file=sys.stderr)
        return BUG
    return 0


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
