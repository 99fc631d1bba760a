"""The end of the program while a plan is still being made."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from typing import NoReturn

threads: list[threading.Thread] = []
"""Threads that nobody waits for as the program ends."""


def leave(code: int) -> NoReturn:
    """Ends the program, at once where a thread still works.

    Python stops such a thread by unwinding it, and one that is in compiled code then aborts the
    whole program; so nothing is unwound there. All that was acknowledged is on the disk.
    """
    if not any(thread.is_alive() for thread in threads):
        sys.exit(code)
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):
            stream.flush()
    os._exit(code)
