"""One simulation and what is wanted of it: text in, plain numbers out, safe to run anywhere.

A job's key is the hash of its text and times, so that equal circuits are run once.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from engine.circuit.figures import figures
from engine.circuit.spice import SETTINGS, NoSolution, script, transient

STEP_SECONDS = 4e-4
"""Longest step of the simulation: fifty to a period of 50 Hz. Of the algorithm."""
OHM_VOLTS, OHM_RANGES, OHM_MOST = 1.0, (1e3, 1e4, 1e5, 1e6, 1e7), 4e7
"""An ohm range: a 1 V source behind a resistor; the least range under half scale is read."""
DIODE_VOLTS, DIODE_OHMS = 2.8, 2.8e3
"""A diode range: 2.8 V open, 1 mA into a short (IDEAL and PeakTech manuals give 1.5 to 3 V)."""
ESR_HERTZ, HENRY_HERTZ = 1e5, 1e3
"""What component meters measure with, 100 kHz and 1 kHz: common practice, no source."""
_OFF = "1e15"


@dataclass(frozen=True, slots=True)
class Request:
    """One thing to read between nodes `a` and `b`.

    `kind` is wave (between `begin` and `end`, seconds), ohms, diode, esr or inductance.
    """

    kind: str
    a: str
    b: str
    begin: float = 0.0
    end: float = 0.0


@dataclass(frozen=True, slots=True)
class Job:
    """A circuit's text, the seconds to run it (0: at rest), its mains and what to read."""

    text: str
    seconds: float
    hertz: float
    requests: tuple[Request, ...]

    @property
    def key(self) -> str:
        """Hash of everything that decides the numbers."""
        plain = f"{SETTINGS}|{STEP_SECONDS}|{self.text}|{self.seconds}|{self.hertz}|{self.requests}"
        return hashlib.sha256(plain.encode()).hexdigest()[:24]


Figures = dict[str, float]


def run(job: Job) -> tuple[Figures, ...]:
    """Figures for each request, in order; empty ones where ngspice found no solution."""
    try:
        return tuple(_wave_figures(job) if job.seconds else _meter_figures(job))
    except NoSolution:
        return tuple({} for _ in job.requests)


def _wave_figures(job: Job) -> Iterator[Figures]:
    nodes = {node for request in job.requests for node in (request.a, request.b)} - {"0"}
    waves = transient(job.text, job.seconds, STEP_SECONDS, sorted(nodes))
    ground = 0.0 * waves["time"]
    for request in job.requests:
        wave = waves.get(request.a, ground) - waves.get(request.b, ground)
        yield figures(waves["time"], wave, request.begin, request.end, job.hertz)


def _meter_figures(job: Job) -> Iterator[Figures]:
    lines, commands, counts = [], [], []
    for number, request in enumerate(job.requests):
        lines += [
            f"Rprobe{number} {request.a} probe{number} {_OFF}",
            f"Vprobe{number} probe{number} {request.b} 0",
            f"Iprobe{number} {request.b} {request.a} DC 0 AC 0",
        ]
        orders = _commands(number, request)
        commands += orders
        counts.append(sum(line.startswith("echo") for line in orders))
    numbers = script(job.text + "\n".join(lines) + "\n", commands)
    if len(numbers) != sum(counts):
        raise NoSolution("the meter script stopped early")
    begin = 0
    for request, count in zip(job.requests, counts, strict=True):
        yield _read(request, numbers[begin : begin + count])
        begin += count


def _commands(number: int, request: Request) -> list[str]:
    between = f"v({request.a})" if request.b == "0" else f"v({request.a})-v({request.b})"
    if request.a == "0":
        between = f"-v({request.b})"
    if request.kind in ("esr", "inductance"):
        hertz, part = (ESR_HERTZ, "real") if request.kind == "esr" else (HENRY_HERTZ, "imag")
        return [
            f"alter @iprobe{number}[acmag]=1", "destroy all", f"ac lin 1 {hertz:g} {hertz:g}",
            f"let q = {part}({between})", "echo reads $&q", f"alter @iprobe{number}[acmag]=0",
        ]  # fmt: skip
    ranges: Sequence[float] = OHM_RANGES if request.kind == "ohms" else (DIODE_OHMS,)
    volts = OHM_VOLTS if request.kind == "ohms" else DIODE_VOLTS
    orders = []
    for polarity in (volts, -volts):
        orders.append(f"alter vprobe{number} dc = {polarity:g}")
        for ohms in ranges:
            orders += [
                f"alter rprobe{number} = {ohms:g}", "destroy all", "op",
                f"let q = {between}", "echo reads $&q",
            ]  # fmt: skip
    return [*orders, f"alter rprobe{number} = {_OFF}", f"alter vprobe{number} dc = 0"]


def _read(request: Request, numbers: Sequence[float | None]) -> Figures:
    if None in numbers or not numbers:
        return {}
    values = [value for value in numbers if value is not None]
    if request.kind == "esr":
        return {"ohms": values[0]}
    if request.kind == "inductance":
        return {"henries": values[0] / (2 * math.pi * HENRY_HERTZ)}
    if request.kind == "diode":
        volts = sorted(abs(value) for value in values)
        return {"lower": volts[0], "upper": volts[1]}
    half = len(values) // 2
    both = [_ohms([abs(value) for value in part]) for part in (values[:half], values[half:])]
    return {"ohms": max(both), "least": min(both)}


def _ohms(volts: Sequence[float]) -> float:
    """What the display shows, infinite for over range: the least range under half scale."""
    for drop, ohms in zip(volts, OHM_RANGES, strict=True):
        if drop <= 0.5 * OHM_VOLTS:
            return drop * ohms / (OHM_VOLTS - drop)
    last = volts[-1]
    reading = last * OHM_RANGES[-1] / (OHM_VOLTS - last) if last < OHM_VOLTS else math.inf
    return reading if reading <= OHM_MOST else math.inf
