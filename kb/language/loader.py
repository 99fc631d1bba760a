"""Reads a folder of knowledge files into one `Knowledge`; all troubles are collected, then raised.

A file is a mapping of sections (`parts`, `rules`, ...), each a list of entries; a topology file
holds one topology. Entries of a later folder (a shop's own) replace entries of the same name.
"""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from ruamel.yaml.error import YAMLError

from kb.language import facts, guards, misfits, ownfolder, trees
from kb.language.knowledge import Knowledge, Override
from kb.language.narrowing import narrow
from kb.language.schema import (
    ActionWord,
    Appearance,
    ArrangementEntry,
    CautionEntry,
    ComplaintEntry,
    DoctrineNumber,
    DoingWord,
    Doubt,
    DutyWord,
    EntryCheck,
    FactKind,
    Instrument,
    Look,
    MethodEntry,
    Narrowing,
    OuterFault,
    PartKind,
    PlaceWord,
    PublishedShares,
    Quantity,
    ReachWord,
    Rule,
    SceneWord,
    StageKind,
    SymbolEntry,
    Topology,
    Unopened,
)
from kb.language.schema.entry import Entry
from kb.trouble import Place, Trouble, TroubleError

SHIPPED = Path(__file__).parent.parent

SECTIONS: Mapping[str, tuple[str, type[Entry]]] = {
    "parts": ("kind", PartKind),
    "stages": ("kind", StageKind),
    "rules": ("id", Rule),
    "narrowings": ("narrowing", Narrowing),
    "cautions": ("id", CautionEntry),
    "facts": ("fact", FactKind),
    "quantities": ("quantity", Quantity),
    "places": ("place", PlaceWord),
    "scenes": ("scene", SceneWord),
    "arrangements": ("arrangement", ArrangementEntry),
    "methods": ("method", MethodEntry),
    "complaints": ("complaint", ComplaintEntry),
    "entry": ("question", EntryCheck),
    "numbers": ("number", DoctrineNumber),
    "instruments": ("instrument", Instrument),
    "published": ("row", PublishedShares),
    "doubts": ("doubt", Doubt),
    "duties": ("duty", DutyWord),
    "symbols": ("symbol", SymbolEntry),
    "doings": ("doing", DoingWord),
    "reaches": ("reach", ReachWord),
    "actions": ("action", ActionWord),
    "unopened": ("unopened", Unopened),
    "looks": ("look", Look),
    "outer": ("outer", OuterFault),
    "appearances": ("appearance", Appearance),
    "topologies": ("topology", Topology),
}


Content = bytes | str
"""What a file holds, or in words why it can't be read."""


@dataclass(frozen=True, slots=True)
class _Folder:
    """A folder of knowledge as it lies on the disk: its files with what they hold.

    `files` are None where there is no such folder. Equal ones say the same, so what was read of
    one holds for the other.
    """

    path: Path
    files: tuple[tuple[Path, Content], ...] | None
    strays: tuple[Path, ...] = ()


class _Reading:
    """What has been read so far; the only mutable thing in this module."""

    def __init__(self, shipped: Path) -> None:
        self.entries: dict[str, dict[str, Any]] = {section: {} for section in SECTIONS}
        self.places: dict[tuple[str, str], Place] = {}
        self.trees: dict[tuple[str, str], Any] = {}
        self.folder_of: dict[tuple[str, str], Path] = {}
        self.overridden: list[Override] = []
        self.troubles: list[Trouble] = []
        self.cold: frozenset[str] = frozenset()
        self.shipped_facts: dict[str, FactKind] = {}
        self.shipped = shipped
        self.digest = hashlib.sha256()
        self.editions: dict[Path, Any] = {}

    def copy(self) -> _Reading:
        """The same again, for one more folder to be read on top."""
        copy = _Reading(self.shipped)
        copy.entries = {section: dict(entries) for section, entries in self.entries.items()}
        copy.places, copy.folder_of = dict(self.places), dict(self.folder_of)
        copy.trees, copy.shipped_facts = dict(self.trees), dict(self.shipped_facts)
        copy.overridden, copy.troubles = list(self.overridden), list(self.troubles)
        copy.cold, copy.digest = self.cold, self.digest.copy()
        copy.editions = {folder: digest.copy() for folder, digest in self.editions.items()}
        return copy


@functools.cache
def as_shipped() -> Knowledge:
    """The shipped knowledge alone, read once: it takes a second, and several steps ask for it."""
    return read()


def read(folders: tuple[Path, ...] = (), *, base: Path = SHIPPED) -> Knowledge:
    """Read the shipped knowledge and then each folder of one's own, in order.

    `base` may be another version of it. Raises TroubleError with every trouble in any file. What
    lies as it lay before is not read anew: the knowledge is the same object.
    """
    return _knowledge(tuple(map(_folder, (base, *folders))))


def _folder(path: Path) -> _Folder:
    if not path.is_dir():
        return _Folder(path, None)
    files = tuple((file, _content(file)) for file in ownfolder.knowledge_files(path))
    return _Folder(path, files, ownfolder.misnamed_files(path))


def _content(path: Path) -> Content:
    try:
        return ownfolder.content(path)
    except OSError as error:
        return str(error)


@functools.lru_cache(maxsize=4)
def _knowledge(folders: tuple[_Folder, ...]) -> Knowledge:
    """All that the folders hold, the shipped one first."""
    reading = _gather(folders)
    if reading.troubles:
        raise TroubleError(list(reading.troubles))
    entries, base = reading.entries, folders[0].path
    ruleset = narrow(entries["rules"], entries["narrowings"], reading.places)
    if ruleset.troubles:
        raise TroubleError(ruleset.troubles)
    return Knowledge(
        parts=entries["parts"],
        stages=entries["stages"],
        rules=ruleset.rules,
        cautions=entries["cautions"],
        facts=entries["facts"],
        quantities=entries["quantities"],
        place_words=entries["places"],
        scenes=entries["scenes"],
        arrangements=entries["arrangements"],
        complaints=entries["complaints"],
        entry=entries["entry"],
        numbers=entries["numbers"],
        instruments=entries["instruments"],
        symbols=entries["symbols"],
        doings=entries["doings"],
        reaches=entries["reaches"],
        actions=entries["actions"],
        methods=entries["methods"],
        published=entries["published"],
        doubts=entries["doubts"],
        duties=entries["duties"],
        topologies=entries["topologies"],
        unopened=entries["unopened"],
        looks=entries["looks"],
        outer=entries["outer"],
        appearances=entries["appearances"],
        places={**reading.places, **ruleset.places},
        version=reading.digest.hexdigest(),
        overridden=tuple(reading.overridden),
        editions=tuple(edition.hexdigest() for edition in reading.editions.values()),
        own=frozenset(
            (*(k for k, folder in reading.folder_of.items() if folder != base), *ruleset.places)
        ),
        trees=reading.trees,
    )


@functools.lru_cache(maxsize=4)
def _gather(folders: tuple[_Folder, ...]) -> _Reading:
    """What is read of the folders, each over those before it; nobody may write to it."""
    folder = folders[-1]
    is_base = len(folders) == 1
    reading = _Reading(folder.path) if is_base else _gather(folders[:-1]).copy()
    if folder.files is None:
        reading.troubles.append(
            Trouble(
                "KB101",
                Place(str(folder.path)),
                "There is no such folder of knowledge",
                "Give --kb the path of a folder that holds YAML files",
            )
        )
        return reading
    # a folder with nothing but a bench file has no edition
    if folder.files or folder.path == reading.shipped:
        reading.editions[folder.path] = hashlib.sha256()
    for path in folder.strays:
        name = path.with_suffix(".yaml").name
        reading.troubles.append(
            Trouble(
                "KB114", Place(_display_path(path, folder.path)),
                "The name of this file does not end in .yaml, so that it would not be read",
                f"Name it {name}; or move it out of the folder",
            )
        )  # fmt: skip
    for path, content in folder.files:
        _read_file(path, content, folder.path, reading)
    if folder.path == reading.shipped:
        reading.cold = guards.cold_complaints(reading.entries["rules"].values())
    return reading


def fingerprint(folders: tuple[Path, ...] = ()) -> str:
    """The version `read` would give, from the files' bytes alone: quick, nothing is parsed."""
    digest = hashlib.sha256()
    for folder in (SHIPPED, *folders):
        for path in ownfolder.knowledge_files(folder):
            lies = _content(path)
            _digest(digest, path, folder, lies if isinstance(lies, bytes) else b"")
        for path in ownfolder.misnamed_files(folder):
            _digest(digest, path, folder, b"")
    return digest.hexdigest()


def _digest(digest: Any, path: Path, folder: Path, text: bytes) -> None:
    digest.update(path.relative_to(folder).as_posix().encode() + b"\0" + text + b"\0")


def _read_file(path: Path, content: Content, folder: Path, reading: _Reading) -> None:
    path_text = _display_path(path, folder)
    try:
        if isinstance(content, str):
            raise OSError(content)
        text = content.decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reading.troubles.append(
            Trouble(
                "KB102", Place(path_text), f"The file can't be read ({error})",
                misfits.mend_of_file(error),
            )
        )
        return
    for digest in (reading.digest, reading.editions[folder]):
        _digest(digest, path, folder, content)
    try:
        tree = _parse(text)
    except YAMLError as error:
        words, mark = trees.trouble_of(error)
        place = Place(path_text, mark[0] + 1, mark[1] + 1) if mark else Place(path_text)
        mend = misfits.mend_of_yaml(text, mark[0]) if mark else "Mend the file"
        reading.troubles.append(
            Trouble("KB103", place, f"This is not valid YAML: {words}", mend)
        )
        return
    if tree is None:
        return
    if bad := list(misfits.unusable(tree, path_text)):
        reading.troubles.extend(bad)
        return
    for section, name, data, place in _entries(tree, path_text, reading):
        _take(section, name, data, place, path_text, folder, reading)


@functools.lru_cache(maxsize=64)
def _parse(text: str) -> Any:
    """The tree of a file's text. Parsing is most of what reading takes, and a process that makes
    several models reads the same files for each: so a text is parsed once.

    Nobody may write to a tree but `_entries`, which writes what follows from the text alone.
    """
    return trees.read(text)


def _display_path(path: Path, folder: Path) -> str:
    if folder == SHIPPED:
        return "kb/" + path.relative_to(folder).as_posix()
    return str(path)


def _entries(
    tree: Any, path_text: str, reading: _Reading
) -> Iterator[tuple[str, str, Any, Place]]:
    """Each entry of a file with its section, name, data and place."""
    if not isinstance(tree, dict):
        reading.troubles.append(
            Trouble(
                "KB104",
                Place(path_text, 1, 1),
                "The file holds no sections",
                f"Begin it with one of: {', '.join(SECTIONS)}, or with `topology: NAME`",
            )
        )
        return
    if "topology" in tree:
        yield "topologies", str(tree["topology"]), tree, Place(path_text, 1, 1)
        return
    sections: Any = tree
    step = sections.get("step")
    for section, entries in sections.items():
        if section == "step":
            continue
        line, column = sections.marks[section]
        place = Place(path_text, line + 1, column + 1)
        if section not in SECTIONS or section == "topologies":
            choices = ", ".join(s for s in SECTIONS if s != "topologies")
            reading.troubles.append(
                Trouble(
                    "KB105", place, f"There is no section '{section}'", f"Use one of: {choices}"
                )
            )
            continue
        if not isinstance(entries, list):
            reading.troubles.append(
                Trouble("KB106", place, f"'{section}' is not a list", "Begin each entry with `- `")
            )
            continue
        key = SECTIONS[section][0]
        records: Any = entries
        for number, data in enumerate(records):
            line, column = records.marks[number]
            where = Place(path_text, line + 1, column + 1)
            if not isinstance(data, dict) or key not in data:
                reading.troubles.append(
                    Trouble("KB107", where, f"This entry has no '{key}'", f"Give it `{key}: NAME`")
                )
                continue
            if section == "rules" and step is not None and "step" not in data:
                data["step"] = step
            yield section, str(data[key]), data, where


def _take(
    section: str,
    name: str,
    data: Any,
    place: Place,
    path_text: str,
    folder: Path,
    reading: _Reading,
) -> None:
    _, model = SECTIONS[section]
    try:
        entry = model.model_validate(data)
    except ValidationError as error:
        for problem in error.errors():
            reading.troubles.append(misfits.trouble(problem, model, data, place, name))
        return
    key = (section, name)
    replaces = reading.places.get(key)
    if replaces is not None:
        original = reading.entries[section][name]
        if isinstance(entry, FactKind) and reading.folder_of[key] != reading.shipped:
            entry, strife = facts.join(original, entry)
            if strife:
                reading.troubles.append(facts.trouble(name, strife, place, replaces))
                return
            original = reading.shipped_facts.get(name, original)
        elif reading.folder_of[key] == folder:
            reading.troubles.append(
                Trouble(
                    "KB108",
                    place,
                    f"'{name}' stands twice in {section}; first at {replaces}",
                    "Give one of them another name",
                )
            )
            return
        code, why = guards.check_replacement(section, original, entry, reading.cold)
        if code:
            reading.troubles.append(guards.refusal(code, why, name, place, replaces))
            return
    troubles = list(guards.entry_troubles(section, entry, place, folder != reading.shipped))
    reading.troubles.extend(troubles)
    if troubles:
        return
    if replaces is not None:
        reading.overridden.append(Override(section, name, place, replaces))
    reading.entries[section][name] = entry
    reading.places[key] = place
    reading.trees[key] = data
    if isinstance(entry, FactKind) and folder == reading.shipped:
        reading.shipped_facts[name] = entry
    if section == "topologies":
        reading.places.update(_inner_places(data, name, path_text))
    reading.folder_of[key] = folder


def _inner_places(data: Any, path: str, path_text: str) -> Iterator[tuple[tuple[str, str], Place]]:
    """Where each word inside a topology stands, by its path: `lamp/stages/entry/parts/R1`."""
    for key, inner in data.items():
        line, column = data.marks[key]
        deeper = f"{path}/{key}"
        yield ("topologies", deeper), Place(path_text, line + 1, column + 1)
        if isinstance(inner, dict):
            yield from _inner_places(inner, deeper, path_text)
