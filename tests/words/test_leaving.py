"""Leaving while a plan is still being made beside it: the exit code stands, nothing aborts."""

from __future__ import annotations

import subprocess
import sys


def test_a_thread_in_compiled_code_does_not_abort_the_end() -> None:
    """A thread that sorts for ever in compiled code stands for the planner."""
    program = (
        "import threading, numpy\n"
        "from render.cli import leaving\n"
        "def work():\n"
        "    while True: numpy.sort(numpy.random.rand(200_000))\n"
        "thread = threading.Thread(target=work, daemon=True)\n"
        "leaving.threads.append(thread)\n"
        "thread.start()\n"
        "print('noted', end='')\n"
        "leaving.leave(2)\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (2, "noted", "")
