"""What the compiled solver offers; see `engine/solver/kernel/module.c`."""

from collections.abc import Sequence

class Unsolved(ArithmeticError): ...

Care = tuple[float, float, float, float, float, int]

def transient(
    elements: bytes,
    figures: bytes,
    programs: bytes,
    branches: bytes,
    seconds: float,
    step: float,
    order: int,
    picks: Sequence[int],
    care: Care,
    /,
) -> tuple[bytes, int, int]: ...
def drops(
    elements: bytes,
    figures: bytes,
    programs: bytes,
    branches: bytes,
    a: int,
    b: int,
    volts: float,
    ohms: Sequence[float],
    enough: float,
    care: Care,
    /,
) -> tuple[bytes, bytes]: ...
def linear(
    elements: bytes,
    figures: bytes,
    programs: bytes,
    branches: bytes,
    a: int,
    b: int,
    care: Care,
    /,
) -> tuple[bytes, int, int, int]: ...
