"""All knowledge that was read, indexed by name; plain and frozen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kb.schema import (
    ArrangementEntry,
    CautionEntry,
    ComplaintEntry,
    DoctrineNumber,
    EntryCheck,
    FactKind,
    Instrument,
    PartKind,
    PlaceWord,
    Quantity,
    Rule,
    SceneWord,
    StageKind,
    Topology,
)
from kb.trouble import Place


@dataclass(frozen=True, slots=True)
class Knowledge:
    """The knowledge base; each mapping is keyed by the entry's own name, in reading order.

    `places` (of entries) maps (section, name) to where the entry stands; `version` is a hash of
    the text of all files read, without the topologies; `versions` holds one for each topology.
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
    topologies: Mapping[str, Topology]
    places: Mapping[tuple[str, str], Place]
    version: str
    overridden: tuple[str, ...] = ()

    def place(self, section: str, name: str) -> Place:
        """Where an entry stands, for messages."""
        return self.places.get((section, name), Place(section))
