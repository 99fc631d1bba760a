"""Is every function and class of the program used by the program?

What only tests call proves nothing of what a person gets. Closed forms of `engine.electrics` are a
handbook: each is held to its source in `tests/sources`, whether a command shows it yet or not.
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGES = ("kb", "engine", "render")
HANDBOOK = "engine/electrics"
# Called by a library, by their decorator: a check of pydantic, a command of typer.
CALLED_BY_A_LIBRARY = {"field_validator", "model_validator", "callback", "command"}
OVERRIDDEN = {"format_help"}
"""What a library calls under this very name: typer, for the text of --help."""

Definition = ast.FunctionDef | ast.ClassDef


def texts(*folders: str) -> Iterator[tuple[str, str]]:
    """Each module's path and text."""
    for folder in folders:
        for path in sorted((ROOT / folder).rglob("*.py")):
            yield path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8")


def definitions(text: str) -> Iterator[Definition]:
    """The functions and classes of a module that a library does not call."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, Definition) and not _of_a_library(node):
            yield node


def _of_a_library(node: Definition) -> bool:
    words = {word for d in node.decorator_list for word in re.findall(r"\w+", ast.unparse(d))}
    is_called = bool(words & CALLED_BY_A_LIBRARY) or node.name in OVERRIDDEN
    return node.name.startswith("__") or is_called


def words_of(*folders: str) -> Counter[str]:
    """How often each word stands in the modules of these folders."""
    return Counter(w for _, text in texts(*folders) for w in re.findall(r"[A-Za-z_]\w*", text))


def dead(defined: Counter[str], words: Counter[str]) -> set[str]:
    """Names that stand nowhere but where they are defined."""
    return {name for name, times in defined.items() if words[name] <= times}


def test_every_name_is_used_by_the_program() -> None:
    defined = Counter(
        node.name
        for path, text in texts(*PACKAGES)
        if not path.startswith(HANDBOOK)
        for node in definitions(text)
    )
    assert dead(defined, words_of(*PACKAGES)) == set()


def test_a_private_name_is_used_in_its_own_module() -> None:
    idle = {
        f"{path} {node.name}"
        for path, text in texts(*PACKAGES)
        for node in definitions(text)
        if node.name.startswith("_") and len(re.findall(rf"\b{node.name}\b", text)) < 2
    }
    assert idle == set()


def test_every_closed_form_is_held_to_a_source() -> None:
    names = {
        node.name
        for _, text in texts(HANDBOOK)
        for node in ast.parse(text).body
        if isinstance(node, Definition) and not node.name.startswith("_")
    }
    assert names - set(words_of("tests/sources", "engine", "render")) == set()


def test_a_dead_name_is_seen() -> None:
    defined = Counter({"alive": 1, "twice": 2, "dead": 1})
    assert dead(defined, Counter({"alive": 2, "twice": 3, "dead": 1})) == {"dead"}
