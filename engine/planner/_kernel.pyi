"""What the compiled search kernel offers."""

from collections.abc import Callable

from engine.planner.reduction import Problem

Written = tuple[int, int, int, int, tuple[int, ...], bytes, tuple[int, ...]]
Cuts = tuple[int, int, int, int, int, int, int]
Found = tuple[list[Written], int, float, int, int, int, Cuts]
Progress = Callable[[float, float, int], None]

def search(
    problem: Problem,
    opened: int,
    noted: int,
    place: int,
    seconds: float,
    memory_bytes: float,
    progress: Progress | None,
    patience: int,
    /,
) -> Found: ...
def rank(
    problem: Problem,
    opened: int,
    noted: int,
    place: int,
    seconds: float,
    memory_bytes: float,
    progress: Progress | None,
    many: int,
    /,
) -> list[tuple[int, float]]: ...
def price(
    problem: Problem,
    opened: int,
    noted: int,
    place: int,
    seconds: float,
    memory_bytes: float,
    progress: Progress | None,
    many: int,
    /,
) -> float: ...
def clock() -> float: ...
