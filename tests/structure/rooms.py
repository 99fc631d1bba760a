"""The house by its rooms: which folder imports which, on how many floors, and in what circles.

    python -m tests.structure.rooms [FOLDER]

A room is a folder of modules; an arrow runs from a room to one that it imports; a room stands a
floor above all that it imports. Printed: rooms, floors, arrows, circles, and each room with what
it imports, the highest first. `FOLDER` is another checkout to measure.
"""

from __future__ import annotations

import ast
import sys
from collections import defaultdict
from collections.abc import Iterator, Mapping
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("kb", "engine", "render")
Arrows = Mapping[str, frozenset[str]]


def modules(root: Path) -> dict[str, Path]:
    """The product's modules by dotted name; a package goes by its own."""
    found = {}
    for package in PACKAGES:
        for path in sorted((root / package).rglob("*.py")):
            parts = path.relative_to(root).with_suffix("").parts
            found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def imported(path: Path, known: Mapping[str, Path]) -> Iterator[str]:
    """The modules of ours that one imports, function bodies included."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names: list[str] = []
        if isinstance(node, ast.ImportFrom) and node.module and not node.level:
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        for name in names:
            while name and name not in known:
                name = name.rpartition(".")[0]
            if name:
                yield name


def arrows(root: Path = ROOT) -> Arrows:
    """From each room to those that its modules import."""
    known = modules(root)
    found: dict[str, set[str]] = defaultdict(set)
    for path in known.values():
        here = path.parent.relative_to(root).as_posix()
        found[here].update(
            known[name].parent.relative_to(root).as_posix() for name in imported(path, known)
        )
    return {room: frozenset(to - {room}) for room, to in found.items()}


def circles(found: Arrows) -> list[tuple[str, ...]]:
    """Rooms that import each other in a circle. R. Tarjan 1972, linear in rooms and arrows."""
    index: dict[str, int] = {}
    low: dict[str, int] = {}
    stack: list[str] = []
    parts: list[tuple[str, ...]] = []

    def visit(room: str) -> None:
        index[room] = low[room] = len(index)
        stack.append(room)
        for to in sorted(found.get(room, ())):
            if to not in index:
                visit(to)
                low[room] = min(low[room], low[to])
            elif to in stack:
                low[room] = min(low[room], index[to])
        if low[room] == index[room]:
            at = stack.index(room)
            parts.append(tuple(sorted(stack[at:])))
            del stack[at:]

    for room in sorted(found):
        if room not in index:
            visit(room)
    return [part for part in parts if len(part) > 1]


def floors(found: Arrows) -> dict[str, int]:
    """The floor of each room; only for a house without circles."""
    known: dict[str, int] = {}

    def floor(room: str) -> int:
        if room not in known:
            known[room] = 1 + max((floor(to) for to in found.get(room, ())), default=0)
        return known[room]

    for room in found:
        floor(room)
    return known


def main() -> None:
    """Print the house."""
    found = arrows(Path(sys.argv[1]).resolve() if len(sys.argv) > 1 else ROOT)
    round_about = circles(found)
    count = sum(map(len, found.values()))
    print(f"{len(found)} rooms, {count} arrows, {len(round_about)} circles")
    for circle in round_about:
        print("circle:", ", ".join(circle))
    if round_about:
        return
    storey = floors(found)
    print(f"{max(storey.values())} floors")
    for room in sorted(found, key=lambda name: (-storey[name], name)):
        print(f"{storey[room]:3} {room}: {', '.join(sorted(found[room])) or '-'}")


if __name__ == "__main__":
    main()
