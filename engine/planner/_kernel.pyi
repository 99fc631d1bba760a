"""What the compiled search kernel offers."""

from collections.abc import Callable

from engine.planner.reduction import Problem

Written = tuple[int, int, int, int, tuple[int, ...], bytes, tuple[int, ...]]
Cuts = tuple[int, int, int, int, int]
Found = tuple[list[Written], int, float, int, int, int, Cuts]

def search(
    problem: Problem,
    opened: int,
    place: int,
    seconds: float,
    memory_bytes: float,
    progress: Callable[[float, float, int], None] | None,
    /,
) -> Found: ...
