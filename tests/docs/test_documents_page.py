"""Does the contributor's guide list every key of the three documents?"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from typing import Any

import pytest

from tests.docs.blocks import ROOT
from tests.docs.printouts import documents

PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
# Below these stand names of the unit, not words of the format.
NAMED = {"likelihood", "minutes", "misread", "branches", "belief", "answers", "options", "entry",
         "complains", "after", "nodes", "shares", "factors", "by", "shows"}  # fmt: skip


def keys(plain: Any) -> Iterator[str]:
    """Every key of a document, without those that are names of tests, faults and the like."""
    if isinstance(plain, dict):
        for key, value in plain.items():
            yield key
            if key in NAMED and isinstance(value, dict):
                yield from (k for inner in value.values() if key == "nodes" for k in keys(inner))
            else:
                yield from keys(value)
    elif isinstance(plain, list):
        for value in plain:
            yield from keys(value)


@pytest.fixture(scope="module")
def printed() -> dict[str, Any]:
    """The three documents, printed once."""
    return documents()


@pytest.mark.parametrize("kind", ["model", "chart", "walk"])
def test_each_key_of_a_document_is_listed(printed: dict[str, Any], kind: str) -> None:
    """In code letters."""
    assert [key for key in sorted(set(keys(printed[kind]))) if f"`{key}`" not in PAGE] == []


@pytest.mark.parametrize("kind", ["model", "chart", "walk"])
def test_each_first_key_listed_is_in_the_document(printed: dict[str, Any], kind: str) -> None:
    """But for the keys that only some documents have."""
    sometimes = {"expected_cost_with_misreads", "expected_cost_with_confirm", "confirm"}
    sometimes |= {"ranges", "sturdy"}
    section = PAGE.partition(f"### `nextprobe-{kind}/1`")[2].partition("\n### ")[0]
    rows = re.findall(r"^\| (`[^|]+) \|", section, re.MULTILINE)
    listed = {name for row in rows for name in re.findall(r"`([a-z_0-9]+)`", row)}
    assert listed - sometimes <= set(printed[kind])


def tracked() -> set[str]:
    """Modules and packages of the three packages that are part of the project, by path."""
    listed = subprocess.run(
        ["git", "ls-files", "kb", "engine", "render", "tests"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    ).stdout.splitlines()  # fmt: skip
    return {"/".join(path.split("/")[:2]) for path in listed}


def test_each_module_of_the_three_packages_is_placed() -> None:
    """By its own name or by its package's."""
    code = {path for path in tracked() if re.match(r"kb/\w+\.py|(engine|render)/", path)}
    named = {path for path in code if not path.endswith("__init__.py")}
    assert sorted(path for path in named if f"`{path}`" not in PAGE) == []


def test_each_folder_of_tests_is_told() -> None:
    """With the question it asks."""
    folders = {path.split("/")[1] for path in tracked() if re.match(r"tests/\w+$", path)}
    assert sorted(name for name in folders if f"`{name}`" not in PAGE) == []
