"""What a reviewer finds in knowledge by reading it: sources, shares, words, and what is replaced.

Notes, all of them, for knowledge can be used with them; `kb.language.lint` has the errors. Codes:
KB808 a step lacks its how-to; KB809 a part lacks its value; KB812 a share is not what its source
says; KB813 a source is none; KB816 an entry of one's own replaces a shipped one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import BaseModel

from kb.language.knowledge import Knowledge
from kb.language.schema import PartKind, PublishedShares, Topology
from kb.trouble import Place, Trouble

ROUNDING = 0.011
"""How far a share may lie from a published one that is printed to two decimals."""
_NO_SOURCE = re.compile(
    r"\W*|(source|t\W?b\W?[ad]|unknown|none|no idea|not sure|somewhere|internet|the web|n/?a)\W*",
    re.IGNORECASE,
)
_PART_OF_IT = re.compile(r"scaled|of which|parts are|half|share of")
_IN_BRACKETS = re.compile(r"\((\w[\w -]*)\)")


def review(knowledge: Knowledge) -> Iterator[tuple[str, str, Trouble]]:
    """Every note with the section and name of the entry it belongs to."""
    for section, entries in _sections(knowledge).items():
        for name, entry in entries.items():
            place = knowledge.place(section, name)
            for trouble in _sourceless(section, name, entry, place):
                yield section, name, trouble
    for name, kind in knowledge.parts.items():
        for trouble in _shares(kind, knowledge):
            yield "parts", name, trouble
    for name, topology in knowledge.topologies.items():
        for trouble in _valueless(topology, knowledge):
            yield "topologies", name, trouble
    for override in knowledge.overridden:
        does, else_do = "replaces the one", "give it a name of its own"
        if override.section == "facts":  # the loader keeps every field of both
            does, else_do = "adds its fields to the one", "leave them out"
        yield override.section, override.name, Trouble(
            "KB816", override.place,
            f"'{override.name}' of {override.section} {does} at {override.replaces}",
            f"Nothing, if that is meant; else {else_do}",
            grave=False,
        )  # fmt: skip


def _sections(knowledge: Knowledge) -> Mapping[str, Mapping[str, BaseModel]]:
    return {
        "parts": knowledge.parts,
        "rules": knowledge.rules,
        "cautions": knowledge.cautions,
        "arrangements": knowledge.arrangements,
        "entry": knowledge.entry,
        "numbers": knowledge.numbers,
        "topologies": knowledge.topologies,
    }


def _sourceless(section: str, name: str, entry: BaseModel, place: Place) -> Iterator[Trouble]:
    """Sources that name nothing: `?`, `tbd`, `the internet`."""
    for where, source in _sources(entry.model_dump()):
        if _NO_SOURCE.fullmatch(source):
            what = f" of {where}" if where else ""
            yield Trouble(
                "KB813", place,
                f"The source{what} of '{name}' in {section} names nothing: “{source}”",
                "Name a standard with its clause, a handbook with its table, a data sheet, the "
                "shop's own count, or plainly: common practice, no source",
                grave=False,
            )  # fmt: skip


def _sources(plain: Mapping[str, Any], path: str = "") -> Iterator[tuple[str, str]]:
    for key, value in plain.items():
        if key.endswith("source") and isinstance(value, str):
            yield path or key.removesuffix("source").rstrip("_"), value
        elif isinstance(value, Mapping):
            deeper = f"{path} {key}".strip() if key != "modes" else path
            yield from _sources(value, deeper)


def _shares(kind: PartKind, knowledge: Knowledge) -> Iterator[Trouble]:
    """Shares that differ from the published figure which their source names."""
    place = knowledge.place("parts", kind.kind)
    for name, mode in kind.modes.items():
        row = _row(mode.source, knowledge)
        if row is None:
            continue
        rest = mode.source.removeprefix(row.row)
        figures = _figures(row, name, rest)
        most = max(figures.values()) + ROUNDING
        if _PART_OF_IT.search(rest):
            if mode.share <= most:
                continue
        elif any(abs(mode.share - figure) <= ROUNDING for figure in figures.values()):
            continue
        numbers = ", ".join(f"{word} {figure:g}" for word, figure in figures.items())
        yield Trouble(
            "KB812", place,
            f"The share {mode.share:g} of '{kind.kind}' {name} is not what its source says: "
            f"{row.row} has {numbers}",
            "Take the published figure, say how it was scaled, or name another source",
            grave=False,
        )  # fmt: skip


def _row(source: str, knowledge: Knowledge) -> PublishedShares | None:
    """The published row that a source begins with, the longest if several."""
    rows = [row for row in knowledge.published.values() if source.startswith(row.row)]
    return max(rows, key=lambda row: len(row.row), default=None)


def _figures(row: PublishedShares, mode: str, rest: str) -> dict[str, float]:
    """The figures that a mode may stand for: the one in brackets or of its own name, else all."""
    match = _IN_BRACKETS.search(rest)
    word = match[1] if match else mode
    return {word: row.modes[word]} if word in row.modes else dict(row.modes)


def _valueless(topology: Topology, knowledge: Knowledge) -> Iterator[Trouble]:
    """Parts of a kind that is told by its value, and which have none."""
    for stage_name, stage in topology.stages.items():
        for name, part in stage.parts.items():
            kind = knowledge.parts.get(part.kind)
            if kind is None or not kind.unit or part.value:
                continue
            path = f"{topology.topology}/stages/{stage_name}/parts/{name}"
            place = knowledge.places.get(
                ("topologies", path), knowledge.place("topologies", topology.topology)
            )
            yield Trouble(
                "KB809", place,
                f"Part '{name}' ({kind.says}) has no value, so no reading of it can be told",
                f"Write what is marked on it, in {kind.unit}",
                grave=False,
            )  # fmt: skip
