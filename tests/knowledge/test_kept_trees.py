"""Is a file's tree that was kept from an earlier run the one that its text gives?"""

from __future__ import annotations

import json
import os
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

from kb import cache
from kb.language import lines, loader, ownfolder, trees
from kb.trouble import Place

FILES = ownfolder.knowledge_files(loader.SHIPPED)
LONG = "cautions:\n" + "".join(
    f"- {{id: caution-{n}, hazard: heat, signal: caution, says: Mind what is hot here}}\n"
    for n in range(100)
)


def as_ruamel_reads(text: str) -> Any:
    """A tree with the marks that ruamel leaves on it, as lists: what there is, and where."""
    return _listed(YAML(typ="rt").load(StringIO(text)))


def _listed(node: Any) -> Any:
    if isinstance(node, dict):
        marks: Any = node
        return [[key, *marks.lc.key(key), _listed(value)] for key, value in node.items()]
    if isinstance(node, list):
        marks = node
        return [[*marks.lc.item(number), _listed(value)] for number, value in enumerate(node)]
    return node


def with_marks(node: Any) -> Any:
    """The same of a tree of ours."""
    if isinstance(node, trees.MarkedMapping):
        return [[key, *node.marks[key], with_marks(value)] for key, value in node.items()]
    if isinstance(node, trees.MarkedList):
        return [
            [*mark, with_marks(value)] for mark, value in zip(node.marks, node, strict=True)
        ]
    return node


def sorts(node: Any) -> Any:
    """The sort of each scalar of a tree, which `==` does not tell from another's."""
    if isinstance(node, dict):
        return [(sorts(key), sorts(value)) for key, value in node.items()]
    return [sorts(value) for value in node] if isinstance(node, list) else type(node)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_shipped_file_is_what_ruamel_reads_and_grows_again_as_it_was(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    tree = trees.parse(text)
    again = trees.regrow(json.loads(json.dumps(trees.plain(tree))))
    assert with_marks(tree) == as_ruamel_reads(text) == with_marks(again)
    assert sorts(tree) == sorts(again)


@pytest.mark.parametrize(
    "text",
    [
        "a: {true: [1, 1.5, -0.0, 1e300, yes, ~, 'x', 0x1F, 1_000]}\n230: |\n  two\n  lines\n",
        "- [[], {}]\n- &b {c: [d]}\n- *b\n- .inf\n- ''\n- \"tab\\there\"\n",
        "",
        "just words",
    ],
)  # fmt: skip
def test_whatever_json_can_hold_grows_again(text: str) -> None:
    tree = trees.parse(text)
    again = trees.regrow(json.loads(json.dumps(trees.plain(tree))))
    assert with_marks(again) == with_marks(tree)
    assert sorts(again) == sorts(tree)


@pytest.mark.parametrize("text", ["day: 2026-11-30\n", "a: &m {x: 1}\nb: {<<: *m, y: 2}\n"])
def test_what_json_can_not_hold_is_not_kept(text: str) -> None:
    with pytest.raises(ValueError, match=r"a key without a mark|nothing that JSON can hold"):
        trees.plain(trees.parse(text))


@pytest.mark.parametrize("words", [[], [3], [False, "a", 1], [False, [], 1, 1, 2], [True, 1]])
def test_other_words_grow_into_nothing(words: list[Any]) -> None:
    with pytest.raises((ValueError, LookupError, TypeError)):
        trees.regrow(words)


@pytest.mark.parametrize("damage", ["{", "[3]", "[false,1]"])
def test_a_damaged_one_is_parsed_anew_and_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, damage: str
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    first = with_marks(trees.read(LONG))
    (kept,) = tmp_path.rglob("parsed-*.json")
    whole = kept.read_text(encoding="utf-8")
    cache.keep(kept, damage)  # whole, and nothing that a tree was written as
    assert with_marks(trees.read(LONG)) == first
    assert kept.read_text(encoding="utf-8") == whole
    assert with_marks(trees.read(LONG)) == first


def test_a_short_one_is_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    trees.read(LONG[: LONG.index("\n", 1000) + 1])
    assert not any(tmp_path.rglob("*.json"))


def test_a_cache_that_can_not_be_written_is_done_without(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    assert with_marks(trees.read(LONG)) == with_marks(trees.parse(LONG))


def test_only_the_newest_of_a_sort_are_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr(cache, "KEEP", 2)
    places = [cache.place("thing", n) for n in range(3)]
    other = cache.place("other", 0)
    for path in (other, *places):
        cache.keep(path, path.name)
    found = [cache.recall(path) for path in (other, *places)]
    assert found[0] == other.name
    assert sum(text is not None for text in found[1:]) == 2
    assert found[-1] == places[-1].name


def test_what_is_kept_after_the_clock_was_set_back_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However new those look that were kept before."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr(cache, "KEEP", 3)
    before, since = ([cache.place("thing", n) for n in numbers] for numbers in ((0, 1, 2), (3, 4)))
    for path in before:
        cache.keep(path, path.name)
        year_on = path.stat().st_mtime + 31_536_000
        os.utime(path, (year_on, year_on))
    for path in since:
        cache.keep(path, path.name)
    assert [cache.recall(path) is not None for path in since] == [True, True]
    assert sum(path.is_file() for path in before) == 1


def test_a_word_put_in_later_stands_where_the_mapping_around_it_does() -> None:
    tree = trees.parse("rules:\n- id: mine\n")
    rule = tree["rules"][0]
    rule["step"] = "suppose"
    place = Place("rules.yaml", 2, 3)
    assert lines.deepest(rule, ("step", "deeper"), place) == place
    assert lines.deepest(tree, ("rules", 0, "step"), Place("rules.yaml")) == place
    assert lines.deepest(tree, ("rules", 1), Place("rules.yaml")) == Place("rules.yaml", 1, 1)
