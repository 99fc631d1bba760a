"""The text of a YAML file as a tree whose mappings and lists know where their entries stand.

Reading YAML is slow: the shipped files take seconds, everything else about them a tenth of one. So
a tree can also be written as JSON (`plain`) and grown from that again (`regrow`): the tree is the
same, and no YAML is read.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import itertools
import json
import re
from collections.abc import Iterator, Sequence
from io import StringIO
from pathlib import Path
from typing import Any

import ruamel.yaml
from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import AliasEvent, CollectionEndEvent, CollectionStartEvent

from kb import cache

TREES = "parsed"
_MOST_ENTRIES = 300_000
"""Entries of a file, aliases counted as often as they stand: the largest shipped file has some
9,000."""
_LETTERS_KEPT = 4000
"""A shorter text is parsed as soon as it is found; of the algorithm."""

Mark = tuple[int, int]
"""Line and column, both from 0."""


class MarkedMapping(dict[Any, Any]):
    """A mapping with the mark of each key; a key that was put in later has none."""

    __slots__ = ("marks",)

    def __init__(self) -> None:
        super().__init__()
        self.marks: dict[Any, Mark] = {}


class MarkedList(list[Any]):
    """A list with the mark of each item."""

    __slots__ = ("marks",)

    def __init__(self) -> None:
        super().__init__()
        self.marks: list[Mark] = []


def read(text: str) -> Any:
    """As `parse`; the tree of a long text is kept in the user's cache folder for later runs."""
    if len(text) < _LETTERS_KEPT:
        return parse(text)
    file = cache.place(TREES, [_version(), text])
    words = cache.recall(file)
    if words is not None:
        try:
            return regrow(json.loads(words))
        except (ValueError, LookupError, TypeError):
            cache.drop(file)
    tree = parse(text)
    with contextlib.suppress(ValueError):
        cache.keep(file, json.dumps(plain(tree), ensure_ascii=False))
    return tree


@functools.cache
def _version() -> str:
    """Of the reader and of this module: what one wrote another can't be asked to grow."""
    own = hashlib.sha256(Path(__file__).read_bytes()).hexdigest()
    return f"{ruamel.yaml.__version__} {own}"


_NO_LETTER = re.compile(r"chr\(\)|convert to C int")
"""How Python says of `"\\UFFFFFFFF"` that Unicode ends before it."""


class UnreadableError(YAMLError):
    """YAML by its signs, whose values nobody can make sense of; or that is nested too deeply."""


def parse(text: str) -> Any:
    """The tree of a text. YAMLError of ruamel.yaml for what is no YAML."""
    tree = load(text)
    if "*" in text and "&" in text:
        _refuse_what_holds_itself(text)
    try:
        return with_marks(tree)
    except RecursionError:
        raise UnreadableError("it is nested too deeply") from None


def _refuse_what_holds_itself(text: str) -> None:
    """An alias inside its own anchor would be nothing at all in the tree."""
    around: list[str | None] = []
    for event in YAML(typ="rt", pure=True).parse(StringIO(text)):
        if isinstance(event, CollectionStartEvent):
            around.append(event.anchor)
        elif isinstance(event, CollectionEndEvent):
            around.pop()
        elif isinstance(event, AliasEvent) and event.anchor in around:
            raise UnreadableError(f"`&{event.anchor}` holds itself")


def load(text: str, sort: str = "rt") -> Any:
    """What ruamel's reader of a sort makes of a text. YAMLError where it makes nothing of it."""
    try:
        return YAML(typ=sort, pure=True).load(StringIO(text))
    except RecursionError:
        raise UnreadableError("it is nested too deeply") from None
    except (ValueError, TypeError, AttributeError, LookupError, ArithmeticError) as wrong:
        # A date that is none, a number of thousands of digits, a tag that is not its value's.
        raise UnreadableError(f"a value can't be read ({reason(wrong)})") from wrong


def reason(wrong: Exception) -> str:
    """Why a value can't be read, where the reader raised something that is no YAMLError."""
    words = str(wrong).splitlines()[0] if str(wrong) else "it is not what its tag says"
    return "an escape stands for no letter" if _NO_LETTER.search(words) else words


def trouble_of(error: YAMLError) -> tuple[str, Mark | None]:
    """What is wrong with a text that is no YAML, in words and with its place."""
    if isinstance(error, MarkedYAMLError):
        mark = error.problem_mark or error.context_mark
        words = error.problem or error.context or "it can not be understood"
        return " ".join(words.split()), (mark.line, mark.column) if mark else None
    return (str(error).splitlines() or ["it can not be understood"])[0], None


def with_marks(node: Any) -> Any:
    """What ruamel's round-trip reader gave, in plain types and with the marks that it left.

    UnreadableError where aliases make more of it than any file of knowledge holds.
    """
    return _marked(node, itertools.count())


def _marked(node: Any, count: Iterator[int]) -> Any:
    if next(count) > _MOST_ENTRIES:
        raise UnreadableError(f"its aliases (`*name`) stand for over {_MOST_ENTRIES} entries")
    if isinstance(node, dict):
        mapping, marks = MarkedMapping(), getattr(node, "lc").data or {}  # noqa: B009
        for key, value in node.items():
            mapping[key] = _marked(value, count)
            if key in marks:
                mapping.marks[key] = marks[key][0], marks[key][1]
        return mapping
    if isinstance(node, list):
        entries: Any = node
        items = MarkedList()
        for number, value in enumerate(node):
            items.append(_marked(value, count))
            items.marks.append(entries.lc.item(number))
        return items
    for sort in (bool, str, int, float):  # a truth is an int, too
        if isinstance(node, sort):
            return sort(node)
    return node


def plain(tree: Any) -> Any:
    """A tree as lists that JSON can hold: of a mapping False and then key, line, column and value
    of each entry, of a list True and then line, column and value.

    ValueError for a tree that JSON can't hold: one with a date in it, or with a key that has no
    mark of its own.
    """
    if isinstance(tree, MarkedMapping):
        if tree.keys() != tree.marks.keys():
            raise ValueError("a key without a mark")
        entries: list[Any] = [False]
        for key, value in tree.items():
            entries += (plain(key), *tree.marks[key], plain(value))
        return entries
    if isinstance(tree, MarkedList):
        items: list[Any] = [True]
        for mark, value in zip(tree.marks, tree, strict=True):
            items += (*mark, plain(value))
        return items
    if tree is None or isinstance(tree, (str, int, float)):
        return tree
    raise ValueError(f"{type(tree).__name__} is nothing that JSON can hold")


def regrow(words: Any) -> Any:
    """The tree that `plain` wrote. ValueError for what it did not write."""
    if not isinstance(words, list):
        return words
    if not words or not isinstance(words[0], bool):
        raise ValueError("neither a mapping nor a list")
    if words[0]:
        items = MarkedList()
        for number in range(1, len(words), 3):
            items.marks.append(_mark(words[number : number + 2]))
            items.append(regrow(words[number + 2]))
        return items
    mapping = MarkedMapping()
    for number in range(1, len(words), 4):
        key = words[number]
        mapping.marks[key] = _mark(words[number + 1 : number + 3])
        mapping[key] = regrow(words[number + 3])
    return mapping


def _mark(words: Sequence[Any]) -> Mark:
    line, column = words
    return line, column
