"""The sums of the bench, worked in the open: `calculations()` lists them, `calculate` works one.

A sum takes text as a person types it (`4k7 5%`, `230 V`), so that the command line, a walk's step
and a chart's margin all ask and show the same.
"""

from __future__ import annotations

from engine.calc import bleeding, feeding, marking, probing
from engine.calc.sums import Calculation, Entry, Parameter, Sum, work
from kb.trouble import Place, Trouble, TroubleError

__all__ = ["Calculation", "Entry", "Parameter", "Sum", "calculate", "calculations", "in_a_line"]

_ALL = (*probing.CALCULATIONS, *bleeding.CALCULATIONS, *feeding.CALCULATIONS, *marking.CALCULATIONS)


def calculations() -> tuple[Calculation, ...]:
    """Every sum there is, in the order in which a bench meets them."""
    return _ALL


def calculate(name: str, **texts: str) -> Sum:
    """Work the sum `name` with parameters as text; those left out take their defaults.

    Raises TroubleError with all that is wrong at once: CA1 unknown sum, CA2 unknown parameter,
    CA3 one missing, CA4 not a quantity of the kind wanted or out of bounds, CA5 numbers that
    describe no circuit.
    """
    return work(_ALL, name, texts)


def in_a_line(name: str, inputs: str, tells: str) -> str:
    """A sum as one line for a step: `zener-rail: current 430 µA; heat 0.089 W`.

    `inputs` and `tells` are lists parted by semicolons: parameters as `name=value`, and the names
    of the results to tell, or of what went in. TroubleError as `calculate`, and CA6 for a result
    the sum does not have.
    """
    pairs = (pair.partition("=") for pair in inputs.split(";") if pair.strip())
    answer = work(_ALL, name, {key.strip(): value.strip() for key, _, value in pairs})
    texts = {entry.name: entry.text for entry in (*answer.inputs, *answer.results)}
    lines = []
    for result in (one.strip() for one in tells.split(";")):
        if result not in texts:
            raise TroubleError(
                Trouble(
                    "CA6", Place(f"calc {name}"), f"This sum has no result “{result}”",
                    f"Take one of {', '.join(texts)}",
                )
            )  # fmt: skip
        lines.append(f"{result}: {texts[result]}" if "," in result else f"{result} {texts[result]}")
    return f"{name}: {'; '.join(lines)}"
