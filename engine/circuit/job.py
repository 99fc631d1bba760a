"""One simulation and what is wanted of it: text in, plain numbers out, safe to run anywhere.

Our solver gives the numbers; ngspice does where the solver gives up, and judges it in tests. A
job's key is the hash of its text and times, so that equal circuits are run once.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace

from engine.circuit import judge
from engine.circuit.figures import figures
from engine.circuit.request import (
    ALTERNATING,
    DIODE_OHMS,
    DIODE_VOLTS,
    ESR_HERTZ,
    HENRY_HERTZ,
    OHM_RANGES,
    OHM_VOLTS,
    STEP_SECONDS,
    Figures,
    Request,
    alternating_figures,
    diode_figures,
    ohm_figures,
)
from engine.circuit.spice import NoSolution, present
from engine.solver.network import Network
from engine.solver.solution import EDITION, Unsolved, drops, flattened, impedance, transient

__all__ = ["Attempt", "Figures", "Job", "Request", "attempt", "judged", "run", "solved"]


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
        plain = f"{EDITION}|{STEP_SECONDS}|{self.text}|{self.seconds}|{self.hertz}|{self.requests}"
        return hashlib.sha256(plain.encode()).hexdigest()[:24]


@dataclass(frozen=True, slots=True)
class Attempt:
    """Figures for each request of a job, in order, empty ones where there is no solution; of how
    many the solver gave up, so that ngspice was asked."""

    figures: tuple[Figures, ...]
    given_up: int


def run(job: Job) -> tuple[Figures, ...]:
    """The figures of `attempt`. TroubleError CI301 as there."""
    return attempt(job).figures


def attempt(job: Job) -> Attempt:
    """A job run by our solver, by ngspice where that gives up.

    Where it gives up on one request of a circuit at rest, ngspice is asked for that one.
    TroubleError CI301 where the solver gives up and ngspice is not installed.
    """
    try:
        return Attempt(solved(job), 0)
    except Unsolved:
        if job.seconds or len(job.requests) == 1:
            return Attempt(judged(job), len(job.requests))
    attempts = [attempt(replace(job, requests=(one,))) for one in job.requests]
    figures = tuple(one.figures[0] for one in attempts)
    return Attempt(figures, sum(one.given_up for one in attempts))


def solved(job: Job) -> tuple[Figures, ...]:
    """Figures by our solver. Unsolved where it gives up."""
    circuit = flattened(job.text, [n for one in job.requests for n in (one.a, one.b)])
    if job.seconds:
        return tuple(_wave_figures(circuit, job))
    return tuple(_meter_figures(circuit, request) for request in job.requests)


def judged(job: Job) -> tuple[Figures, ...]:
    """Figures by ngspice, empty ones where it has none. TroubleError CI301 without ngspice."""
    present()
    try:
        if job.seconds:
            return tuple(judge.wave_figures(job.text, job.seconds, job.hertz, job.requests))
        return tuple(judge.meter_figures(job.text, job.requests))
    except NoSolution:
        return tuple({} for _ in job.requests)


def _wave_figures(circuit: Network, job: Job) -> Iterator[Figures]:
    nodes = {node for request in job.requests for node in (request.a, request.b)} - {"0"}
    try:
        waves = transient(circuit, job.seconds, STEP_SECONDS, sorted(nodes))
    except Unsolved:  # a corner that shorter steps get round
        waves = transient(circuit, job.seconds, STEP_SECONDS / 8, sorted(nodes))
    ground = 0.0 * waves["time"]
    for request in job.requests:
        wave = waves.get(request.a, ground) - waves.get(request.b, ground)
        yield figures(waves["time"], wave, request.begin, request.end, job.hertz)


def _meter_figures(circuit: Network, request: Request) -> Figures:
    if request.kind in ALTERNATING:
        hertz = ESR_HERTZ if request.kind == "esr" else HENRY_HERTZ
        ohms = impedance(circuit, request.a, request.b, hertz)
        return alternating_figures(request.kind, ohms)
    if request.kind == "diode":
        forth, back = drops(circuit, request.a, request.b, DIODE_VOLTS, (DIODE_OHMS,), 0.0)
        return diode_figures(forth[0], back[0])
    # a range is read at half scale at most: those above it need not be tried
    enough = 0.5 * OHM_VOLTS
    return ohm_figures(*drops(circuit, request.a, request.b, OHM_VOLTS, OHM_RANGES, enough))
