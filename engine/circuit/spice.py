"""Runs ngspice in batch on one deck and hands back numbers; the only module that knows of ngspice.

Codes: CI301 ngspice missing; CI302 a run that gave nothing. Formats after the ngspice manual:
binary raw files hold doubles, one row for each time point.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from kb.trouble import Place, Trouble, TroubleError

Floats = NDArray[np.float64]
PROGRAM = "ngspice"
_LIMIT_SECONDS = 20
"""A simulation that takes longer has lost its way; of the algorithm."""
_CALM = (
    ".option rshunt=1e12 method=gear reltol=0.01 trtol=20 abstol=1e-9 vntol=1e-4 chgtol=1e-12"
    " itl4=60"
)
_STEADY = ".option rshunt=1e13 abstol=1e-14 reltol=1e-4 gmin=1e-13 itl1=500"


SETTINGS = f"{_CALM} {_STEADY}"
"""How ngspice is told to solve: another setting gives other last digits."""


class NoSolution(Exception):
    """ngspice found no solution for a deck."""


def present() -> None:
    """TroubleError CI301 if ngspice is not installed."""
    if shutil.which(PROGRAM) is None:
        raise TroubleError(
            Trouble(
                "CI301",
                Place("this machine"),
                "ngspice is not installed",
                "Install it: apt-get install ngspice, dnf install ngspice or brew install ngspice",
                "Deriving readings simulates the circuit; walking and charting need none of it",
            )
        )


def transient(
    circuit: str, seconds: float, step: float, nodes: Sequence[str]
) -> Mapping[str, Floats]:
    """Volts of each node (`time` in seconds beside them), from everything empty at time zero.

    `step` is the longest time step. Unsolved where the run stops early, with tighter steps too.
    """
    vectors = " ".join(f"v({node})" for node in nodes)
    for shorter in (1.0, 0.25):
        deck = (
            f"* unit\n{circuit}{_CALM}\n.save {vectors}\n"
            f".tran {step} {seconds} 0 {step * shorter:.6g} uic\n.end\n"
        )
        with tempfile.TemporaryDirectory(prefix="nextprobe-") as folder:
            raw = Path(folder) / "waves.raw"
            _run(deck, Path(folder), ["-r", str(raw)])
            waves = _waves(raw)
        if waves and waves["time"][-1] >= 0.999 * seconds:
            return waves
    raise NoSolution("the transient run stopped early")


def script(circuit: str, commands: Sequence[str]) -> list[float | None]:
    """The numbers that a control script echoes as `reads number`, None where there was none."""
    body = "\n".join(commands)
    deck = f"* unit\n{circuit}{_STEADY}\n.control\n{body}\nquit\n.endc\n.end\n"
    with tempfile.TemporaryDirectory(prefix="nextprobe-") as folder:
        output = _run(deck, Path(folder), [])
    # ngspice's last resort lets the circuit settle for a while and takes what it reads by then
    if "Transient op started" in output:
        raise NoSolution("no point of rest was found")
    texts = re.findall(r"^reads *(\S*)\s*$", output, re.MULTILINE)
    return [_number(text) for text in texts]


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _run(deck: str, folder: Path, options: Sequence[str]) -> str:
    file = folder / "deck.cir"
    file.write_text(deck, encoding="utf-8")
    try:
        run = subprocess.run(
            [PROGRAM, "-b", "-n", *options, str(file)], capture_output=True, text=True,
            timeout=_LIMIT_SECONDS, cwd=folder, check=False, errors="replace",
            env={**os.environ, "LC_ALL": "C"},
        )  # fmt: skip
    except FileNotFoundError:
        present()
        raise
    except subprocess.TimeoutExpired:
        raise NoSolution(f"no end after {_LIMIT_SECONDS} s") from None
    return run.stdout + run.stderr


def _waves(raw: Path) -> dict[str, Floats]:
    if not raw.is_file():
        return {}
    head, mark, data = raw.read_bytes().partition(b"Binary:\n")
    if not mark:
        return {}
    text = head.decode("ascii", "replace")
    count = int(re.findall(r"No\. Variables: *([0-9]+)", text)[0])
    names = [line.split()[1] for line in text.split("Variables:\n")[1].splitlines()[:count]]
    rows = len(data) // (8 * count)
    table = np.frombuffer(data[: rows * 8 * count], dtype=np.float64).reshape(rows, count)
    if not rows:
        return {}
    plain = (name[2:-1] if name.startswith("v(") else name for name in names)
    return dict(zip(plain, table.T, strict=True))
