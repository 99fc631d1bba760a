"""Entries that came, went or changed, section by section; those that guard safety are marked."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from kb.language.guards import safeguard
from kb.language.knowledge import Knowledge
from kb.language.loader import SECTIONS

_FIELDS = {"places": "place_words"}
_WITHIN = {"narrowings"}
"""Sections that a reader puts into the rules: a narrowing that changes is a rule that changes."""


@dataclass(frozen=True, slots=True)
class Change:
    """An entry that was `added`, `removed` or `changed`; `words` are what differs in it, each with
    what it said and what it says. `safety` is what it guards, empty for none.
    """

    section: str
    name: str
    kind: str
    safety: str
    words: tuple[tuple[str, str, str], ...] = ()


def changes(old: Knowledge, new: Knowledge) -> tuple[Change, ...]:
    """All changes of entries, in the order of the sections."""
    return tuple(
        change
        for section in SECTIONS
        if section not in _WITHIN
        for change in _section(section, _entries(old, section), _entries(new, section))
    )


def _entries(knowledge: Knowledge, section: str) -> Mapping[str, BaseModel]:
    entries: Mapping[str, BaseModel] = getattr(knowledge, _FIELDS.get(section, section))
    return entries


def _section(
    section: str, old: Mapping[str, BaseModel], new: Mapping[str, BaseModel]
) -> Iterator[Change]:
    for name in dict.fromkeys((*old, *new)):
        before, after = old.get(name), new.get(name)
        if before == after:
            continue
        safety = safeguard(section, before) if before is not None else ""
        safety = safety or (safeguard(section, after) if after is not None else "")
        if before is None:
            yield Change(section, name, "added", safety)
        elif after is None:
            yield Change(section, name, "removed", safety)
        else:
            words = tuple(_words(before.model_dump(), after.model_dump()))
            yield Change(section, name, "changed", safety, words)


def _words(old: Any, new: Any, path: str = "") -> Iterator[tuple[str, str, str]]:
    """The deepest words that differ: path, before, after."""
    pairs: Iterator[tuple[str, Any, Any]]
    if isinstance(old, Mapping) and isinstance(new, Mapping):
        keys = dict.fromkeys((*old, *new))
        pairs = ((str(key), old.get(key), new.get(key)) for key in keys)
    elif isinstance(old, (list, tuple)) and isinstance(new, (list, tuple)) and len(old) == len(new):
        pairs = ((str(n), *both) for n, both in enumerate(zip(old, new, strict=True), 1))
    else:
        yield path, _field_words(old), _field_words(new)
        return
    for key, before, after in pairs:
        if before != after:
            yield from _words(before, after, f"{path}.{key}" if path else key)


def _field_words(value: Any) -> str:
    if isinstance(value, str):
        return value
    return "nothing" if value is None else json.dumps(value, ensure_ascii=False, default=str)
