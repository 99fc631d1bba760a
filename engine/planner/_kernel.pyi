"""What the compiled search kernel offers."""

from collections.abc import Callable

from engine.planner.reduction import Problem

PlanNode = tuple[int, int, int, int, tuple[int, ...], bytes, tuple[int, ...]]
Cutoffs = tuple[int, int, int, int, int, int, int]
SearchResult = tuple[list[PlanNode], int, float, int, int, int, Cutoffs]
Progress = Callable[[float, float, int], None]

def search(
    problem: Problem,
    openings: int,
    fulfilment: int,
    place: int,
    seconds: float,
    effort: float,
    memory_bytes: float,
    progress: Progress | None,
    patience: int,
    /,
) -> SearchResult: ...
def rank(
    problem: Problem,
    openings: int,
    fulfilment: int,
    place: int,
    seconds: float,
    effort: float,
    memory_bytes: float,
    progress: Progress | None,
    most: int,
    /,
) -> list[tuple[int, float]]: ...
def price(
    problem: Problem,
    openings: int,
    fulfilment: int,
    place: int,
    seconds: float,
    effort: float,
    memory_bytes: float,
    progress: Progress | None,
    most: int,
    /,
) -> float: ...
def clock() -> float: ...
