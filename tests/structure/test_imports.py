"""The import order render -> engine -> kb, read off the syntax trees, function bodies included."""

import ast
import functools
import graphlib
from pathlib import Path

import pytest

from tests.structure import rooms

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("kb", "engine", "render")
MODULES = sorted(path for package in PACKAGES for path in (ROOT / package).rglob("*.py"))

MAY_IMPORT = {"kb": {"kb"}, "engine": {"engine", "kb"}, "render": {"render", "engine", "kb"}}

# Where a library may be named: swapping it out then touches that place alone.
HOME = {
    "ruamel": "kb",
    "durable_rules_engine": "engine/deduce",
    "pydantic": (
        "kb", "engine/documents", "engine/model/file", "engine/drafting",
        "engine/studies/comparison",
    ),
    "typer": "render",
    "rich": "render",
    "weasyprint": "render",
    "graphviz": "render",
    "jinja2": "render",
    "pypdfium2": "render",
    "fontTools": "render",
    "starlette": "render/station",
    "segno": "render/drawing",
    "uvicorn": "render/station",
    "uharfbuzz": "render",
    "sexpdata": "engine/schematic",
    "sqlalchemy": "engine/cases",
    "alembic": "engine/cases/migration",
    "sqlite3": "engine/cases",
}


def name_of(path):
    """The dotted name a module is imported by."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@functools.cache
def imports(path):
    """The dotted names of all modules imported anywhere in it, `from` targets included."""
    return tuple(_imports(path))


def _imports(path):
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            package = name_of(path).split(".")
            if path.name != "__init__.py":
                package = package[:-1]
            base = package[: len(package) + 1 - node.level] if node.level else []
            prefix = ".".join([*base, *([node.module] if node.module else [])])
            yield prefix
            yield from (f"{prefix}.{alias.name}" for alias in node.names)


@functools.cache
def tree_of(path):
    """The module's syntax tree."""
    return ast.parse(path.read_text(encoding="utf-8"))


def test_there_are_modules_to_read():
    """The checks below would pass on an empty folder."""
    assert {path.relative_to(ROOT).parts[0] for path in MODULES} == set(PACKAGES)


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_imports_run_one_way(path):
    """Knowledge knows no engine, the engine no screen or paper, and none of them the tests."""
    layer = path.relative_to(ROOT).parts[0]
    ours = {name.split(".")[0] for name in imports(path)}
    assert ours & {*PACKAGES, "tests", "samples"} <= MAY_IMPORT[layer]


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_libraries_stay_in_their_place(path):
    """Each framework is named in one folder only."""
    place = path.relative_to(ROOT).as_posix()
    for name in imports(path):
        home = HOME.get(name.split(".")[0], "")
        homes = (home,) if isinstance(home, str) else home
        assert any(not h or place == h or place.startswith(f"{h}/") for h in homes), name


# Who may lean on the checker: what shows or follows a plan, and what reviews one. No maker does.
CHECKED_BY = ("engine/safetygate.py", "engine/studies/review/")


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_only_the_gate_and_the_reviewer_lean_on_the_checker(path):
    """Whatever else is shown comes from its makers; the checker stays the checker."""
    place = path.relative_to(ROOT).as_posix()
    if not place.startswith(("engine/audit/", *CHECKED_BY)):
        leaning = [n for n in imports(path) if n.startswith("engine.audit")]
        assert leaning == []


@pytest.mark.parametrize(
    "path", [p for p in MODULES if "engine/audit" in p.as_posix()], ids=name_of
)
def test_the_checker_knows_documents_and_none_of_their_makers(path):
    """It shares with them how a document is shaped, and nothing of how one comes about."""
    own = ("engine.audit", "engine.documents", "engine.model", "kb")
    ours = [n for n in imports(path) if n.split(".")[0] in PACKAGES]
    assert [n for n in ours if not any(n == o or n.startswith(f"{o}.") for o in own)] == []


def test_each_place_of_a_library_is_there_and_names_it():
    """A rule about what nobody imports guards nothing."""
    for library, home in HOME.items():
        homes = (home,) if isinstance(home, str) else home
        used = {
            path.relative_to(ROOT).as_posix()
            for path in MODULES
            for name in imports(path)
            if name.split(".")[0] == library
        }
        assert used, library
        for place in homes:
            assert any(u == place or u.startswith(f"{place}/") for u in used), (library, place)


def test_no_folder_imports_itself_in_a_circle():
    """Rooms can be put on floors, each above all that it imports."""
    assert rooms.circles(rooms.arrows()) == []


def test_a_circle_of_folders_is_seen():
    """Of three rooms that import each other in turn, and one that only looks on."""
    found = {"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}
    assert rooms.circles(found) == [("a", "b", "c")]
    assert rooms.floors({"a": {"b"}, "b": set(), "c": {"a", "b"}}) == {"a": 2, "b": 1, "c": 3}


def test_no_module_imports_itself_in_a_circle():
    """The graph of imports among our modules can be put in order."""
    names = {name_of(path) for path in MODULES}
    graph = {}
    for path in MODULES:
        own = name_of(path)
        graph[own] = {name for name in imports(path) if name in names} - {own}
        # A package's __init__ may gather its modules, which name their siblings through it.
        graph[own] -= {own.rpartition(".")[0]}
    assert len(tuple(graphlib.TopologicalSorter(graph).static_order())) >= len(names)
