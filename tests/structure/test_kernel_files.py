"""Do the C files of planner and solver stand in one order, bindings on top, without a circle?

Read off the text: which file defines each function that others may call, which files name it, and
which headers a file includes. Two files that name each other's functions make a circle, and so do
two rooms (folders).
"""

from __future__ import annotations

import re
import tomllib
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path

from tests.structure.rooms import ROOT, circles, floors

KERNEL = ROOT / "engine" / "planner" / "kernel"
SOLVER = ROOT / "engine" / "solver" / "kernel"
MOST_POINTERS = 12
"""Of one struct; more are about more than one thing."""

DEFINITION = re.compile(r"^(?!static|typedef)[A-Za-z_][\w \*]*?\b(\w+)\([^;{}]*\)\n\{", re.M)
STATIC = re.compile(r"^static [\w \*]*?\b(\w+)\([^;{}]*\)\n?[;\{]", re.M)
INCLUDE = re.compile(r'^#include "(\w+\.h)"', re.M)
STRUCT = re.compile(r"^(?:typedef )?struct(?: \w+)? \{\n(.*?)^\}", re.M | re.S)
UNREAD = re.compile(r'/\*.*?\*/|"(?:\\.|[^"\\\n])*"', re.S)


def without_comments(text: str) -> str:
    """C text without comments, and without strings but those of `#include`."""
    return UNREAD.sub(lambda m: m[0] if m[0].endswith('.h"') else " ", text)


def sources(kernel: Path = KERNEL) -> dict[str, str]:
    """The text of each C file and header, by its path in the kernel's folder."""
    return {
        path.relative_to(kernel).as_posix(): without_comments(path.read_text(encoding="utf-8"))
        for path in sorted(kernel.rglob("*.[ch]"))
    }


def arrows(texts: dict[str, str]) -> dict[str, frozenset[str]]:
    """From each file to those whose functions it names and whose headers it includes."""
    headers = {path.rpartition("/")[2]: path for path in texts}
    homes = {
        name: path for path, text in texts.items() if path.endswith(".c")
        for name in DEFINITION.findall(text)
    }  # fmt: skip
    graph: dict[str, set[str]] = defaultdict(set)
    for path, text in texts.items():
        graph[path] = {headers[name] for name in INCLUDE.findall(text) if name in headers}
        if path.endswith(".c"):
            own = set(STATIC.findall(text))
            words = set(re.findall(r"\w+", text)) - own
            graph[path] |= {homes[word] for word in words & homes.keys()}
    return {path: frozenset(to - {path}) for path, to in graph.items()}


def between_rooms(files: dict[str, frozenset[str]]) -> dict[str, frozenset[str]]:
    """The same arrows from folder to folder."""
    graph: dict[str, set[str]] = defaultdict(set)
    for path, to in files.items():
        room = path.partition("/")[0]
        graph[room] |= {other.partition("/")[0] for other in to} - {room}
    return {room: frozenset(to) for room, to in graph.items()}


def pointers(text: str) -> Iterator[int]:
    """How many pointers each struct holds of its own."""
    for body in STRUCT.findall(text):
        yield body.count("*")


TEXTS = sources()


def test_the_reading_sees_a_circle() -> None:
    texts = {
        "a/one.c": "void one(int x)\n{\n    two();\n}\n",
        "b/two.c": "void two(void)\n{\n    one(1);\n}\n",
        "b/three.c": "static void one(int x)\n{\n}\nvoid three(void)\n{\n    one(1);\n}\n",
    }
    assert circles(arrows(texts)) == [("a/one.c", "b/two.c")]
    assert circles(between_rooms(arrows(texts))) == [("a", "b")]


def test_no_circle_among_the_files() -> None:
    assert circles(arrows(TEXTS)) == []
    assert circles(arrows(sources(SOLVER))) == []


def test_no_circle_among_the_rooms() -> None:
    assert circles(between_rooms(arrows(TEXTS))) == []


def test_the_binding_stands_on_top_and_the_problem_at_the_bottom() -> None:
    storeys = floors(between_rooms(arrows(TEXTS)))
    assert max(storeys, key=lambda room: storeys[room]) == "binding"
    assert storeys["problem"] == 1
    assert storeys["binding"] > storeys["search"] > storeys["bounds"] > storeys["nodes"]


def test_each_function_has_one_home() -> None:
    homes = Counter(name for path, text in TEXTS.items() for name in DEFINITION.findall(text))
    assert len(homes) > 40
    assert [name for name, many in homes.items() if many > 1] == []


def test_no_struct_is_a_drawer() -> None:
    """Each is about one thing, so that it holds few pointers."""
    counts = {path: max(pointers(text), default=0) for path, text in TEXTS.items()}
    assert sum(counts.values()) > 20
    assert {path: many for path, many in counts.items() if many > MOST_POINTERS} == {}


def test_each_file_is_built() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    extensions = {one["name"]: one for one in settings["tool"]["setuptools"]["ext-modules"]}
    assert set(extensions) == {"engine.planner._kernel", "engine.solver._kernel"}
    for kernel in (KERNEL, SOLVER):
        folder = kernel.relative_to(ROOT)
        extension = extensions[f"engine.{kernel.parent.name}._kernel"]
        names = {Path(name).relative_to(folder).as_posix()
                 for name in (*extension["sources"], *extension["depends"])}  # fmt: skip
        assert names == set(sources(kernel))
