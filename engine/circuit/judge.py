"""The judge: the same readings by ngspice, which shares nothing with our solver but the netlist."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

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
from engine.circuit.spice import NoSolution, script, transient

_OFF = "1e15"


def wave_figures(
    text: str, seconds: float, hertz: float, requests: Sequence[Request]
) -> Iterator[Figures]:
    """Figures of each wave of a circuit that runs. NoSolution where ngspice finds none."""
    nodes = {node for request in requests for node in (request.a, request.b)} - {"0"}
    waves = transient(text, seconds, STEP_SECONDS, sorted(nodes))
    ground = 0.0 * waves["time"]
    for request in requests:
        wave = waves.get(request.a, ground) - waves.get(request.b, ground)
        yield figures(waves["time"], wave, request.begin, request.end, hertz)


def meter_figures(text: str, requests: Sequence[Request]) -> Iterator[Figures]:
    """Figures of each reading of a circuit at rest. NoSolution where ngspice finds none."""
    lines, commands, counts = [], [], []
    for number, request in enumerate(requests):
        lines += [
            f"Rprobe{number} {request.a} probe{number} {_OFF}",
            f"Vprobe{number} probe{number} {request.b} 0",
            f"Iprobe{number} {request.b} {request.a} DC 0 AC 0",
        ]
        orders = _commands(number, request)
        commands += orders
        counts.append(sum(line.startswith("echo") for line in orders))
    numbers = script(text + "\n".join(lines) + "\n", commands)
    if len(numbers) != sum(counts):
        raise NoSolution("the meter script stopped early")
    begin = 0
    for request, count in zip(requests, counts, strict=True):
        yield _read(request, numbers[begin : begin + count])
        begin += count


def _commands(number: int, request: Request) -> list[str]:
    between = f"v({request.a})" if request.b == "0" else f"v({request.a})-v({request.b})"
    if request.a == "0":
        between = f"-v({request.b})"
    if request.kind in ALTERNATING:
        hertz = ESR_HERTZ if request.kind == "esr" else HENRY_HERTZ
        return [
            f"alter @iprobe{number}[acmag]=1", "destroy all", f"ac lin 1 {hertz:g} {hertz:g}",
            f"let q = real({between})", f"let p = imag({between})", "echo reads $&q",
            "echo reads $&p", f"alter @iprobe{number}[acmag]=0",
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
    if request.kind in ALTERNATING:
        return alternating_figures(request.kind, complex(values[0], values[1]))
    if request.kind == "diode":
        return diode_figures(*values)
    half = len(values) // 2
    return ohm_figures(values[:half], values[half:])
