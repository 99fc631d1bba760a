"""The model document as the checker reads it: names, the set-up rule, the odds as arrays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.model.absence import UNENERGISED

Floats = NDArray[np.float64]
Document = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Stand:
    """Where the bench stands: openings made, supply arrangement, rig."""

    opened: frozenset[str]
    supply: str
    rig: str


@dataclass(frozen=True, slots=True)
class Bench:
    """A model document by name. `odds[test][outcome]` and `prior` run over faults in order."""

    document: Document
    faults: tuple[str, ...]
    prior: Floats
    tests: Mapping[str, Document]
    remedies: Mapping[str, Document]
    proofs: Mapping[str, Document]
    cautions: Mapping[str, Document]
    openings: Mapping[str, Document]
    rigs: Mapping[str, Document]
    arrangements: Mapping[str, Document]
    odds: Mapping[str, Mapping[str, Floats]]
    cures: Mapping[str, Floats]
    dead: str
    start: Stand

    @classmethod
    def of(cls, model: Document) -> Bench:
        """The bench of a valid model document; KeyError where a key of the format is missing."""
        faults = tuple(fault["id"] for fault in model["faults"])
        start = model["start"]
        arrangements = _by_id(model["supply"]["arrangements"])
        return cls(
            document=model,
            faults=faults,
            prior=np.array([fault["prior"] for fault in model["faults"]], dtype=np.float64),
            tests=_by_id(model["tests"]),
            remedies=_by_id(model["remedies"]),
            proofs=_by_id(model["proofs"]),
            cautions=_by_id(model["cautions"]),
            openings=_by_id(model["openings"]),
            rigs=_by_id(model["rigs"]),
            arrangements=arrangements,
            odds={t["id"]: _odds(t, model["likelihood"][t["id"]], faults) for t in model["tests"]},
            cures={
                r["id"]: np.array([fault in r["cures"] for fault in faults], dtype=np.float64)
                for r in model["remedies"]
            },
            dead=next(a["id"] for a in arrangements.values() if a["energy"] == UNENERGISED),
            start=Stand(frozenset(start["opened"]), start["supply"], start["rig"]),
        )

    @property
    def parts(self) -> dict[str, frozenset[str]]:
        """The parts of each fault."""
        return {
            fault["id"]: frozenset(part["part"] for part in fault["parts"])
            for fault in self.document["faults"]
        }

    @property
    def wrong_verdict_minutes(self) -> float:
        """Minutes that a remedy which does not cure costs on top."""
        return float(self.document["wrong_verdict_minutes"])

    def energy(self, supply: str) -> str:
        """none, elv, hvdc or mains."""
        return str(self.arrangements[supply]["energy"])

    def shows_short(self, test: str, outcome: str) -> bool:
        """Whether an outcome of a test shows a short that must not be energised."""
        outcomes = self.tests[test]["outcomes"]
        return any(o["id"] == outcome and o.get("short", False) for o in outcomes)

    def change_minutes(self, old: str, new: str) -> float:
        """Minutes between two arrangements; between energised ones through the dead one."""
        if old == new:
            return 0.0
        table = self.document["supply"]["minutes"]
        if self.dead in (old, new):
            return float(table[old][new])
        return float(table[old][self.dead]) + float(table[self.dead][new])

    def touches(self, old: Stand, new: Stand) -> bool:
        """Whether getting from one stand to another takes hands on the unit."""
        if new.opened - old.opened:
            return True
        new_rig = old.rig != new.rig
        return new_rig and bool(self.rigs[old.rig]["hands_on"] or self.rigs[new.rig]["hands_on"])

    def setup_minutes(self, old: Stand, new: Stand) -> float:
        """Minutes by the set-up rule of the document format."""
        rig = float(self.rigs[new.rig]["minutes"]) if old.rig != new.rig else 0.0
        if not self.touches(old, new):
            return self.change_minutes(old.supply, new.supply) + rig
        opening = sum(float(self.openings[o]["minutes"]) for o in new.opened - old.opened)
        down = self.change_minutes(old.supply, self.dead)
        return down + opening + rig + self.change_minutes(self.dead, new.supply)

    def with_drawing(self, stage: str) -> Bench:
        """The bench with the drawing of a stage at hand: its tracing takes no minutes."""
        openings = {
            name: {**opening, "minutes": 0.0} if _draws(opening, stage) else opening
            for name, opening in self.openings.items()
        }
        return replace(self, openings=openings)

    def with_rows(self, rows: Mapping[str, Document]) -> Bench:
        """The bench with the odds of some tests as these rows have them, by test."""
        odds = {test: _odds(self.tests[test], own, self.faults) for test, own in rows.items()}
        return replace(self, odds={**self.odds, **odds})

    def closure(self, openings: frozenset[str] | set[str]) -> frozenset[str]:
        """The openings with all that come before them."""
        closure: set[str] = set()
        ahead = list(openings)
        while ahead:
            opening = ahead.pop()
            if opening not in closure:
                closure.add(opening)
                ahead.extend(self.openings[opening]["after"])
        return frozenset(closure)


def _draws(opening: Document, stage: str) -> bool:
    return opening.get("kind") == "tracing" and opening.get("stage") == stage


def _by_id(records: Any) -> dict[str, Document]:
    return {record["id"]: record for record in records}


def _odds(test: Document, rows: Document, faults: tuple[str, ...]) -> dict[str, Floats]:
    return {
        outcome["id"]: np.array([rows[f].get(outcome["id"], 0.0) for f in faults], dtype=np.float64)
        for outcome in test["outcomes"]
    }


def misreads(test: Document) -> dict[tuple[str, str], float]:
    """By true and by reported outcome of a test, the odds of the report; the rest is read right."""
    names = [outcome["id"] for outcome in test["outcomes"]]
    odds: dict[tuple[str, str], float] = {}
    for true in names:
        row = test.get("misread", {}).get(true, {})
        wrong = sum(float(p) for outcome, p in row.items() if outcome != true)
        odds |= {(true, told): float(row.get(told, 0.0)) for told in names}
        odds[true, true] = 1.0 - wrong
    return odds
