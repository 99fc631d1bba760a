"""The sums of the bench, worked in the open: `calculations()` lists them, `calculate` works one.

A sum takes text as a person types it (`4k7 5%`, `230 V`), so that the command line, a walk's step
and a chart's margin all ask and show the same.
"""

from __future__ import annotations

from engine.calc import bleeding, feeding, marking, probing
from engine.calc.sums import Calculation, Entry, Parameter, Sum, work

__all__ = ["Calculation", "Entry", "Parameter", "Sum", "calculate", "calculations"]

_ALL = (*probing.CALCULATIONS, *bleeding.CALCULATIONS, *feeding.CALCULATIONS, *marking.CALCULATIONS)


def calculations() -> tuple[Calculation, ...]:
    """Every sum there is, in the order in which a bench meets them."""
    return _ALL


def calculate(name: str, **given: str) -> Sum:
    """Work the sum `name` with parameters as text; those left out take their defaults.

    Raises TroubleError with all that is wrong at once: CA1 unknown sum, CA2 unknown parameter,
    CA3 one missing, CA4 not a quantity of the kind wanted or out of bounds, CA5 numbers that
    describe no circuit.
    """
    return work(_ALL, name, given)
