"""A server of a test's own, as the installed command starts it, and jobs to walk on it."""

from __future__ import annotations

import os
import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from engine import library
from engine.model.records import Mains, Model
from tests.station.visitor import Visitor
from tests.words.cli import PROGRAM, SHARED_CACHE

UNIT, FAULT, COMPLAINT = "buck-lamp", "J2-open", "never-lights"
INTAKE = {
    "unit": "grey porch lamp", "words": "it never comes on", "topology": UNIT, "mains": "230/50",
}  # fmt: skip


@dataclass
class Server:
    """A running one."""

    address: str
    process: subprocess.Popen[str]

    @property
    def port(self) -> int:
        """Where it listens."""
        return urlsplit(self.address).port or 0

    def kill(self) -> None:
        """End it without a word."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


def environment(folder: Path) -> dict[str, str]:
    """A home of its own; models deduced by any test serve all."""
    names = ("XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CONFIG_HOME")
    own = {"HOME": str(folder), **{name: str(folder / name.lower()) for name in names}}
    return {**os.environ, **own, "XDG_CACHE_HOME": str(SHARED_CACHE), "NEXTPROBE_WHO": "Ann"}


def start(folder: Path, place: str, *options: str, port: int = 0, **env: str) -> Server:
    """Start it; it has said where before this returns."""
    words = ["serve", "--shop", place, "--port", str(port), "--time", "0.1", *options]
    process = subprocess.Popen(
        [*PROGRAM, *words], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        env={**environment(folder), **env}, cwd=folder,
    )  # fmt: skip
    assert process.stdout is not None
    line = process.stdout.readline()
    if not line.startswith("Open http://"):
        raise AssertionError(line + process.stdout.read())
    return Server(line.split()[1].rstrip("/"), process)


@contextmanager
def serving(folder: Path, place: str, *options: str, **env: str) -> Iterator[Server]:
    """A server that ends with the block."""
    server = start(folder, place, *options, **env)
    try:
        yield server
    finally:
        server.kill()


def model() -> Model:
    """The unit that is walked, on the usual bench."""
    return library.model(UNIT, mains=Mains(230, 50), complaint=COMPLAINT)


def take_in(visitor: Visitor, complaint: str = COMPLAINT) -> int:
    """A case begun by its forms; its number."""
    visitor.go("/take-in").send("/take-in/meaning", **INTAKE)
    visitor.send("/take-in", complaint=complaint)
    return int(visitor.path.rpartition("/")[2])


def step_of(visitor: Visitor) -> str:
    """The step that the page's forms name."""
    names = [e.get("value") for e in visitor.tree.iter("input") if e.get("name") == "step"]
    return str(names[0])


def outcome_of(unit: Model, step: str, fault: str = FAULT) -> str:
    """The number of the answer that such a unit gives most often."""
    test = unit.test(step.removeprefix("test "))
    row = unit.row(test.id, fault)
    names = [outcome.id for outcome in test.outcomes]
    return str(names.index(max(row, key=lambda name: row[name])))


def one_step(visitor: Visitor, unit: Model) -> None:
    """Whatever the page asks, done as at a bench with that fault."""
    forms = visitor.forms()
    if "entry" in forms:
        visitor.send("entry", answer="0")
    elif "setup" in forms:
        fields = {str(e.get("name")) for e in forms["setup"].iter("input")}
        ticks = [str(e.get("value")) for e in forms["setup"].iter("input")
                 if e.get("name") == "did"]  # fmt: skip
        volts = {name: "0.4 V" for name in fields if name.startswith("volts-")}
        visitor.send("setup", did=ticks, **volts)
    else:
        visitor.send("answer", outcome=outcome_of(unit, step_of(visitor)))
    assert visitor.reply.status == 200, visitor.words


def walk(visitor: Visitor, unit: Model, until: str = "verdict", most: int = 60) -> list[str]:
    """Steps done one by one until one is due that begins so; those done."""
    steps: list[str] = []
    while not step_of(visitor).startswith(until) and len(steps) < most:
        steps.append(step_of(visitor))
        one_step(visitor, unit)
    assert step_of(visitor).startswith(until), steps
    return steps


def prove_and_close(visitor: Visitor, fault: str = FAULT) -> None:
    """The closing form: every proof passed, what it really was."""
    number = visitor.path.rpartition("/")[2]
    visitor.go(f"/case/{number}/close")
    names = {str(e.get("name")) for e in visitor.forms()["close"].iter("input")}
    proofs = {n: "as it should be" for n in names if n.startswith("read-")}
    proofs |= {n: "yes" for n in names if n.startswith("pass-")}
    visitor.send("close", outcome="mended", fault=fault, done="new wires", **proofs)
