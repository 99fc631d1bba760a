"""Running the command line in a test: in this process, as a program of its own, at a terminal."""

from __future__ import annotations

import codecs
import contextlib
import os
import pty
import select
import signal
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import platformdirs
import pytest

from render.cli.commands import main

LANTERN = Path(__file__).parents[1] / "safety" / "gate-lantern.model.json"
# The shipped questions of the entry check, which every model document is asked with: no reason to
# refuse it, and whole.
CAME_IN_WHOLE = "no\nno\nno\nyes\nno\n"
# Models deduced by any test, for all others: they are kept by a hash of knowledge, bench and code,
# so that a kept one is the one that would be deduced (`tests/deduction/test_order.py`).
SHARED_CACHE = platformdirs.user_cache_path("nextprobe").parent
# As the installed command is started, but for this very Python.
PROGRAM = [
    sys.executable,
    "-c",
    "import sys; sys.argv[0] = 'nextprobe'; from render.cli.commands import program; program()",
]


@dataclass(frozen=True)
class Run:
    """What a run said and how it ended."""

    code: int
    out: str
    err: str


@dataclass
class Desk:
    """A place to run the command line in, with its own folders for data and logs."""

    folder: Path
    monkeypatch: pytest.MonkeyPatch
    capsys: pytest.CaptureFixture[str]
    cache: Path = SHARED_CACHE

    @property
    def own(self) -> Mapping[str, str]:
        """Environment that keeps the run's files inside the folder."""
        names = ("XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CONFIG_HOME")
        own = {"HOME": str(self.folder), **{n: str(self.folder / n.lower()) for n in names}}
        return {**own, "XDG_CACHE_HOME": str(self.cache)}

    def run(self, *words: str, typed: str = "") -> Run:
        """Run in this process; quick. A walk on a model document begins after its entry check."""
        if {"walk", "--model"} <= set(words) and "--answers" not in words:
            typed = CAME_IN_WHOLE + typed
        return self.run_bare(*words, typed=typed)

    def run_bare(self, *words: str, typed: str = "") -> Run:
        """As `run`, with the entry check to be answered by what is typed."""
        for name, value in self.own.items():
            self.monkeypatch.setenv(name, value)
        for name in ("NEXTPROBE_KB", "NEXTPROBE_MAINS", "NEXTPROBE_SHOP", "NEXTPROBE_WHO"):
            self.monkeypatch.delenv(name, raising=False)
        self.monkeypatch.chdir(self.folder)
        self.monkeypatch.setattr(sys, "argv", ["nextprobe", *words])
        with (
            open(os.devnull, encoding="utf-8") if not typed else _lines(self.folder, typed) as lines
        ):
            self.monkeypatch.setattr(sys, "stdin", lines)
            self.capsys.readouterr()
            with pytest.raises(SystemExit) as ended:
                main()
        said = self.capsys.readouterr()
        code = ended.value.code
        return Run(code if isinstance(code, int) else 0, said.out, said.err)

    def program(self, *words: str, typed: str = "", **env: str) -> Run:
        """Run as a program of its own; else as `run`."""
        if {"walk", "--model"} <= set(words) and "--answers" not in words:
            typed = CAME_IN_WHOLE + typed
        done = subprocess.run(
            [*PROGRAM, *words],
            input=typed, capture_output=True, text=True, encoding="utf-8", cwd=self.folder,
            env={**os.environ, **self.own, **env}, timeout=120, check=False,
        )  # fmt: skip
        return Run(done.returncode, done.stdout, done.stderr)

    def terminal(self, *words: str, **env: str) -> Terminal:
        """Run as a program at a terminal of 24 lines by 80; a walk on the lantern is admitted."""
        shown = Terminal([*PROGRAM, *words], self.folder, {**self.own, "TERM": "xterm", **env})
        if words[0] == "walk" and str(LANTERN) in words:
            for line in CAME_IN_WHOLE.split():
                shown.wait("answer, or why")
                shown.type(line + "\n")
        return shown


class Terminal:
    """A program at a pseudo-terminal: wait for a prompt, type, read what it showed."""

    def __init__(self, command: list[str], folder: Path, env: Mapping[str, str]) -> None:
        self._ours, theirs = pty.openpty()
        self._process = subprocess.Popen(
            command, stdin=theirs, stdout=theirs, stderr=theirs, cwd=folder, close_fds=True,
            env={**os.environ, **env, "COLUMNS": "80"}, start_new_session=True,
            preexec_fn=_own_terminal,
        )  # fmt: skip
        os.close(theirs)
        self.shown = ""
        self._letters = codecs.getincrementaldecoder("utf-8")()

    def wait(self, words: str) -> str:
        """Read until `words` are shown; what was shown since the last wait."""
        start = len(self.shown)
        while words not in self.shown[start:]:
            if not self._read(60.0):
                raise AssertionError(f"{words!r} never came; shown: {self.shown[start:]}")
        return self.shown[start:]

    def type(self, text: str) -> None:
        """Type a line, or a control character."""
        os.write(self._ours, text.encode())

    def interrupt(self, words: str) -> str:
        """Press Ctrl-C, again if nothing comes of it, until `words` are shown.

        A person would: input() loses a signal that falls between its prompt and its waiting.
        """
        start = len(self.shown)
        for _ in range(12):
            self.type("\x03")
            while words not in self.shown[start:] and self._read(5.0):
                pass
            if words in self.shown[start:]:
                return self.shown[start:]
        raise AssertionError(f"{words!r} never came; shown: {self.shown[start:]}")

    def end(self) -> int:
        """Wait for the program to end; its exit code."""
        while self._read(60.0):
            pass
        os.close(self._ours)
        return self._process.wait(timeout=60)

    def _read(self, patience: float) -> bool:
        ready, _, _ = select.select([self._ours], [], [], patience)
        if not ready:
            return False
        with contextlib.suppress(OSError):
            if piece := os.read(self._ours, 65536):
                self.shown += self._letters.decode(piece)
                return True
        return False


def _own_terminal() -> None:
    """Make the pseudo-terminal the controlling one, so that Ctrl-C reaches the program."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # which a job in the background ignores
    import fcntl
    import termios

    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


def _lines(folder: Path, typed: str):  # type: ignore[no-untyped-def]
    path = folder / "typed.txt"
    path.write_text(typed, encoding="utf-8")
    return path.open(encoding="utf-8")
