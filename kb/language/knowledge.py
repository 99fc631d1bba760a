"""All knowledge that was read, indexed by name; plain and frozen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from kb.language import lines
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
from kb.trouble import Place


@dataclass(frozen=True, slots=True)
class Override:
    """An entry of one's own that stands in place of another of its section and name."""

    section: str
    name: str
    place: Place
    replaces: Place

    def __str__(self) -> str:
        return f"{self.section} {self.name}: {self.place} replaces {self.replaces}"


@dataclass(frozen=True, slots=True)
class Knowledge:
    """The knowledge base; each mapping is keyed by the entry's own name, in reading order.

    `places` (of entries) maps (section, name) to where the entry stands; `version` is a hash of
    all files read, names and bytes; `editions` holds one for each folder, the shipped one first.
    `own` holds (section, name) of each entry that stands in a folder of one's own.
    """

    parts: Mapping[str, PartKind]
    stages: Mapping[str, StageKind]
    rules: Mapping[str, Rule]
    cautions: Mapping[str, CautionEntry]
    facts: Mapping[str, FactKind]
    quantities: Mapping[str, Quantity]
    place_words: Mapping[str, PlaceWord]
    scenes: Mapping[str, SceneWord]
    arrangements: Mapping[str, ArrangementEntry]
    complaints: Mapping[str, ComplaintEntry]
    entry: Mapping[str, EntryCheck]
    numbers: Mapping[str, DoctrineNumber]
    instruments: Mapping[str, Instrument]
    published: Mapping[str, PublishedShares]
    doubts: Mapping[str, Doubt]
    topologies: Mapping[str, Topology]
    places: Mapping[tuple[str, str], Place]
    version: str
    overridden: tuple[Override, ...] = ()
    editions: tuple[str, ...] = ()
    symbols: Mapping[str, SymbolEntry] = field(default_factory=dict)
    doings: Mapping[str, DoingWord] = field(default_factory=dict)
    reaches: Mapping[str, ReachWord] = field(default_factory=dict)
    actions: Mapping[str, ActionWord] = field(default_factory=dict)
    own: frozenset[tuple[str, str]] = frozenset()
    methods: Mapping[str, MethodEntry] = field(default_factory=dict)
    duties: Mapping[str, DutyWord] = field(default_factory=dict)
    unopened: Mapping[str, Unopened] = field(default_factory=dict)
    looks: Mapping[str, Look] = field(default_factory=dict)
    outer: Mapping[str, OuterFault] = field(default_factory=dict)
    appearances: Mapping[str, Appearance] = field(default_factory=dict)
    trees: Mapping[tuple[str, str], Any] = field(default_factory=dict, repr=False)
    """Each entry as its file has it, for the lines of its words."""

    @property
    def edition(self) -> str:
        """The knowledge as documents name it: 12 digits for what is shipped, `+` 12 for one's own.

        Each are the first digits of a hash of all files of a folder, names and bytes.
        """
        return "+".join(edition[:12] for edition in self.editions) or self.version[:12]

    def place(self, section: str, name: str) -> Place:
        """Where an entry stands, for messages."""
        return self.places.get((section, name), Place(section))

    def at(self, section: str, name: str, *path: str | int) -> Place:
        """Where a word inside an entry stands, by the words and numbers that lead to it."""
        return lines.deepest(self.trees.get((section, name)), path, self.place(section, name))
