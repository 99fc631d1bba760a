"""The law of stored charge as a stranger reads it off a model document, and nothing else.

Nothing here imports the engine: what a unit holds, what its openings bring within reach and which
arrangement is energised is read from the keys of `nextprobe-model/1`. Where a document is silent
the worse is taken: a store that doesn't say what exposes it is exposed by whatever is opened first.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

Document = Mapping[str, Any]

NONE = "none"
CHARGING = ("mains", "hvdc")
"""Energies under which stores charge up, and where hands have no business."""

HANDS_ON_REMEDIES = ("repair", "downgrade", "scrap", "salvage")
OPENING_REMEDIES = ("repair", "downgrade", "salvage")
"""Remedies that go into the unit; what is scrapped is not opened for it."""


@dataclass(frozen=True, slots=True)
class Breach:
    """One thing that the law forbids: its kind, where it stands, and what is wrong in words."""

    kind: str
    place: str
    says: str


@dataclass(frozen=True, slots=True)
class Limit:
    """A store that is asked for: its limit in volts, and what exposes it; None: not told."""

    below: float
    point: str
    exposed_by: frozenset[str] | None


@dataclass(frozen=True, slots=True)
class Law:
    """What a model document says of energy, reach and charge."""

    energy: Mapping[str, str]
    closed_only: frozenset[str]
    after: Mapping[str, frozenset[str]]
    inner: frozenset[str]
    stores: Mapping[str, Limit]
    harmless: frozenset[str]
    hands_on_rigs: frozenset[str]
    cautions: Mapping[str, Mapping[str, frozenset[str]]]
    hazards: Mapping[str, str]
    tests: Mapping[str, Document]
    remedies: Mapping[str, Document]
    shorts: frozenset[tuple[str, str]]
    start: tuple[frozenset[str], str, str]

    @classmethod
    def of(cls, model: Document) -> Law:
        """The law of a unit, read off its model document."""
        arrangements = model["supply"]["arrangements"]
        stores = {s["part"]: s for s in model["stores"] if s["max_volts"] > s["below"]}
        return cls(
            energy={a["id"]: a["energy"] for a in arrangements},
            closed_only=frozenset(a["id"] for a in arrangements if a["closed_only"]),
            after={o["id"]: frozenset(o["after"]) for o in model["openings"]},
            inner=frozenset(o["id"] for o in model["openings"] if o.get("inside", True)),
            stores={part: _limit(store) for part, store in stores.items()},
            harmless=frozenset(s["part"] for s in model["stores"]) - set(stores),
            hands_on_rigs=frozenset(r["id"] for r in model["rigs"] if r["hands_on"]),
            cautions={
                "opening": _warned(model["openings"]),
                "rig": _warned(model["rigs"]),
                "supply": _warned(arrangements),
                "remedy": _warned(model["remedies"]),
                "test": _warned(model["tests"]),
            },
            hazards={c["id"]: c["hazard"] for c in model["cautions"]},
            tests={t["id"]: t for t in model["tests"]},
            remedies={r["id"]: r for r in model["remedies"]},
            shorts=frozenset(
                (t["id"], o["id"]) for t in model["tests"] for o in t["outcomes"] if o.get("short")
            ),
            start=(
                frozenset(model["start"]["opened"]),
                model["start"]["supply"],
                model["start"]["rig"],
            ),
        )

    def dead(self, supply: str) -> bool:
        """Whether nothing feeds the unit there."""
        return self.energy[supply] == NONE

    def charging(self, supply: str) -> bool:
        """Whether stores charge up there."""
        return self.energy[supply] in CHARGING

    def inside(self, opened: Collection[str]) -> bool:
        """Whether the unit counts as opened."""
        return not self.inner.isdisjoint(opened)

    def exposed(self, opened: Collection[str]) -> frozenset[str]:
        """The stores whose terminals hands can reach once these openings are made."""
        return frozenset(part for part in self.stores if self._reached(part, opened))

    def _reached(self, part: str, opened: Collection[str]) -> bool:
        by = self.stores[part].exposed_by
        if by is None:
            return self.inside(opened)
        return not by or not by.isdisjoint(opened)

    def exposers(self, part: str) -> frozenset[str]:
        """The openings any of which exposes the store."""
        by = self.stores[part].exposed_by
        return self.inner if by is None else by

    def ways_on(self, part: str, opened: Collection[str]) -> frozenset[str]:
        """Openings not made yet that expose the store, with all that must be made before them."""
        found: set[str] = set()
        waiting = [o for o in self.exposers(part) if o not in opened]
        while waiting:
            opening = waiting.pop()
            if opening in self.after and opening not in found and opening not in opened:
                found.add(opening)
                waiting.extend(self.after[opening])
        return frozenset(found)

    def touched(self, before: str, after: str) -> bool:
        """Whether hands go to the circuit as one rig is changed for the other."""
        return before != after and not self.hands_on_rigs.isdisjoint((before, after))


def named(parts: Iterable[str]) -> str:
    """Parts in words, in a settled order."""
    return ", ".join(sorted(parts))


def _limit(store: Document) -> Limit:
    by = store.get("exposed_by")
    return Limit(store["below"], store["point"], None if by is None else frozenset(by))


def _warned(records: Iterable[Document]) -> Mapping[str, frozenset[str]]:
    return {record["id"]: frozenset(record.get("cautions", ())) for record in records}
