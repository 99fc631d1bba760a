"""House rules that a reader relies on: what stands at the top, how long a module is, what it says.

They are read off the files that git tracks, so that a contributor's own clutter is left in peace.
"""

import ast
import re
import subprocess
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TOP_LEVEL = {
    *("README.md", "DEVELOPERS.md", "pyproject.toml", "kb", "engine", "render", "tests", "samples"),
}
LONGEST_MODULE = 450
LONGEST_LIST_OF_CASES = 600
DRAWERS = {"utils", "util", "helpers", "helper", "common", "manager", "misc", "tools"}


def tracked():
    """The files git tracks, as paths from the repository root."""
    listing = subprocess.run(
        ["git", "-C", str(ROOT), "ls-files", "-z"], capture_output=True, text=True, check=True
    )
    return [Path(name) for name in listing.stdout.split("\0") if name and (ROOT / name).is_file()]


TRACKED = tracked()
PYTHON = [path for path in TRACKED if path.suffix == ".py"]
PRODUCT = [path for path in PYTHON if path.parts[0] in ("kb", "engine", "render")]


def text_of(path):
    """The file's text, or nothing for a binary file."""
    try:
        return (ROOT / path).read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return ""


def test_the_top_level_holds_only_what_the_design_names():
    """Besides dotfiles."""
    top = {path.parts[0] for path in TRACKED}
    assert {name for name in top if not name.startswith(".")} <= TOP_LEVEL


@pytest.mark.parametrize("path", PYTHON, ids=str)
def test_a_module_can_be_read_in_one_sitting(path):
    """Longer ones are parted by what they know."""
    longest = LONGEST_LIST_OF_CASES if path.parts[0] == "tests" else LONGEST_MODULE
    assert len(text_of(path).splitlines()) <= longest


@pytest.mark.parametrize("path", PYTHON, ids=str)
def test_a_module_is_named_by_what_it_knows(path):
    """No drawers."""
    assert not DRAWERS & {*path.with_suffix("").parts}


@pytest.mark.parametrize("path", PRODUCT, ids=str)
def test_what_is_public_is_explained(path):
    """Every module, public class and public function has a docstring."""
    tree = ast.parse(text_of(path))
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)
    public = [
        node
        for scope in (tree, *(node for node in tree.body if isinstance(node, ast.ClassDef)))
        for node in scope.body
        if isinstance(node, kinds) and not node.name.startswith("_")
        if not getattr(scope, "name", "").startswith("_")
    ]
    silent = [node.name for node in public if not ast.get_docstring(node)]
    assert silent == []
    assert ast.get_docstring(tree) or not tree.body


@pytest.mark.parametrize("path", [p for p in PRODUCT if p.parts[0] != "render"], ids=str)
def test_knowledge_and_engine_hand_back_and_never_print(path):
    """Only `render` talks to the screen."""
    calls = (node for node in ast.walk(ast.parse(text_of(path))) if isinstance(node, ast.Call))
    assert not [call.lineno for call in calls if getattr(call.func, "id", "") in ("print", "input")]


@pytest.mark.parametrize("path", [p for p in PYTHON if p.parts[0] == "tests"], ids=str)
def test_no_test_is_set_aside(path):
    """A test that is skipped or expected to fail proves nothing."""
    aside = {"skip", "skipif", "xfail", "importorskip"}
    named = {n.attr for n in ast.walk(ast.parse(text_of(path))) if isinstance(n, ast.Attribute)}
    assert not named & aside


def test_no_file_names_a_machine_or_leaves_work_undone():
    """Nothing points at one person's disk, and no note stands in for work."""
    # Put together here, so that this file does not trip over itself.
    machine = "|".join(rf"(?<![\w.])/{name}/" for name in ("work", "root", "home", "tmp", "Users"))
    undone = "|".join(("TO" + "DO", "FIX" + "ME", "X" * 3))
    pattern = re.compile(rf"{machine}|\b(?:{undone})\b")
    found = [
        f"{path}:{number}"
        for path in TRACKED
        for number, line in enumerate(text_of(path).splitlines(), 1)
        if pattern.search(line)
    ]
    assert found == []


def test_the_lock_pins_by_name_and_version_only():
    """No registry, host, path or editable line."""
    lines = text_of(Path("tests/requirements.lock")).splitlines()
    pins = [line for line in lines if line and not line.startswith("#")]
    assert pins
    assert [pin for pin in pins if not re.fullmatch(r"[A-Za-z0-9._-]+==[A-Za-z0-9.!+]+", pin)] == []


def test_every_pinned_release_has_its_hashes():
    """SHA-256, as pip's --require-hashes wants them, and of no other release."""
    pins = text_of(Path("tests/requirements.lock")).splitlines()
    held = text_of(Path("tests/requirements.hashes")).split("\n    --hash=")
    entries = re.findall(
        r"^([A-Za-z0-9._-]+==\S+) \\\n((?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n?)+)",
        text_of(Path("tests/requirements.hashes")), re.MULTILINE,
    )  # fmt: skip
    folded = [re.sub(r"[-_.]+", "-", name).lower() for name, _ in entries]
    wanted = [re.sub(r"[-_.]+", "-", pin).lower() for pin in pins if "==" in pin and pin[0] != "#"]
    assert sorted(folded) == sorted(wanted)
    assert sum(hashes.count("sha256") for _, hashes in entries) == len(held) - 1


def test_the_lock_pins_every_named_dependency():
    """What pyproject.toml asks for is pinned, tests included."""
    project = tomllib.loads(text_of(Path("pyproject.toml")))["project"]
    wanted = [*project["dependencies"], *project["optional-dependencies"]["test"]]
    folded = {re.sub(r"[-_.]+", "-", re.split(r"[<>=!~ ;\[]", w)[0]).lower() for w in wanted}
    lines = text_of(Path("tests/requirements.lock")).splitlines()
    pinned = {re.sub(r"[-_.]+", "-", line.split("==")[0]).lower() for line in lines}
    assert folded - pinned == set()
