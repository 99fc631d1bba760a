"""The import order render -> engine -> kb, read off the syntax trees, function bodies included."""

import ast
import graphlib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("kb", "engine", "render")
MODULES = sorted(path for package in PACKAGES for path in (ROOT / package).rglob("*.py"))

MAY_IMPORT = {"kb": {"kb"}, "engine": {"engine", "kb"}, "render": {"render", "engine", "kb"}}

# Where a library may be named: swapping it out then touches that place alone.
HOME = {
    "ruamel": "kb",
    "durable": "engine/deduce",
    "typer": "render",
    "click": "render",
    "rich": "render",
    "weasyprint": "render",
    "graphviz": "render",
    "jinja2": "render",
    "pypdfium2": "render",
    "fontTools": "render",
    "starlette": "render",
    "uvicorn": "render",
    "segno": "render",
    "sexpdata": "engine/schematic",
}


def name_of(path):
    """The dotted name a module is imported by."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(tree, path):
    """The dotted names of all modules imported anywhere in the tree, `from` targets included."""
    for node in ast.walk(tree):
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
    ours = {name.split(".")[0] for name in imports(tree_of(path), path)}
    assert ours & {*PACKAGES, "tests", "samples"} <= MAY_IMPORT[layer]


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_libraries_stay_in_their_place(path):
    """Each framework is named in one folder only."""
    place = path.relative_to(ROOT).as_posix()
    for name in imports(tree_of(path), path):
        home = HOME.get(name.split(".")[0])
        assert home is None or place.startswith(f"{home}/") or place == f"{home}.py", name


def test_no_module_imports_itself_in_a_circle():
    """The graph of imports among our modules can be put in order."""
    names = {name_of(path) for path in MODULES}
    graph = {}
    for path in MODULES:
        own = name_of(path)
        graph[own] = {name for name in imports(tree_of(path), path) if name in names} - {own}
        # A package's __init__ may gather its modules, which name their siblings through it.
        graph[own] -= {own.rpartition(".")[0]}
    assert len(tuple(graphlib.TopologicalSorter(graph).static_order())) >= len(names)
