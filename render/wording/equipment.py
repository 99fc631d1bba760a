"""What the nodes of a chart need at the bench, and how it is done: kit and methods in words.

Methods come with the model document.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from render.drawing.typeset import fine
from render.wording import fixedwords
from render.wording.phrasing import capital, words_of

Document = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Needs:
    """What the nodes of a chart need: ids of supplies, rigs, tests and proofs, instruments.

    `circuits` are those of the supplies that are built at the bench to feed an opened unit.
    """

    supplies: frozenset[str]
    circuits: frozenset[str]
    rigs: frozenset[str]
    tests: frozenset[str]
    proofs: frozenset[str]
    instruments: tuple[str, ...]

    @staticmethod
    def of(model: Document, chart: Document) -> Needs:
        """The needs of every node of the chart and of the proofs after its verdicts."""
        nodes = [*chart["nodes"].values()]
        nodes += [n for step in chart.get("confirm") or () for n in step["nodes"].values()]
        tests = {str(node["test"]) for node in nodes if node["kind"] == "test"}
        remedies = {str(node["remedy"]) for node in nodes if node["kind"] == "verdict"}
        proofs = {
            str(proof)
            for remedy in model["remedies"]
            if remedy["id"] in remedies
            for proof in remedy.get("proofs") or ()
        }
        setups = [node for node in nodes if node["kind"] == "setup"]
        test_notes = [t for t in model["tests"] if t["id"] in tests]
        supplies = frozenset(str(node["supply"]) for node in setups)
        supplies |= {str(p["supply"]) for p in model["proofs"] if p["id"] in proofs}
        instruments = dict.fromkeys(str(t["instrument"]) for t in test_notes if t.get("instrument"))
        circuits = (
            str(a["id"])
            for a in model["supply"]["arrangements"]
            if a["energy"] in ("mains", "hvdc") and not a.get("closed_only")
        )
        return Needs(
            frozenset({*supplies, str(model["start"]["supply"])}),
            supplies & frozenset(circuits),
            frozenset(str(node["rig"]) for node in setups),
            frozenset(tests),
            frozenset(proofs),
            tuple(instruments),
        )

    @property
    def every(self) -> frozenset[str]:
        """All ids needed."""
        return self.supplies | self.rigs | self.tests | self.proofs | {*self.instruments}


def methods_of(model: Document, needs: Needs) -> list[Document]:
    """The methods that the chart has a use for; one about nothing in particular always counts."""
    return [
        method
        for method in model.get("methods") or ()
        if not method.get("of") or needs.every.intersection(map(str, method["of"]))
    ]


def told_by_methods(methods: Iterable[Document]) -> frozenset[str]:
    """The ids of what those methods are about."""
    return frozenset(str(name) for method in methods for name in method.get("of") or ())


def have_ready(model: Document, needs: Needs) -> tuple[str, ...]:
    """Every instrument that a test of the chart asks for, and what else the bench needs."""
    kit = (str(item) for item in model.get("kit") or ())
    return tuple(fine(name, "kit") for name in dict.fromkeys((*needs.instruments, *kit)))


def method_title(method: Document, needs: Needs) -> str:
    """What a method is about; one about a live supply tells how that is built."""
    name = capital(words_of(method, str(method["id"])))
    if needs.circuits.intersection(map(str, method.get("of") or ())):
        name = fixedwords.METHOD_BUILT.format(name=name)
    return fine(name, f"method {method['id']}")


def method_steps(method: Document) -> tuple[str, ...]:
    """Its steps, in the order of the hands."""
    return tuple(fine(str(s), f"method {method['id']}") for s in method.get("steps") or ())


def method_source(method: Document) -> str:
    """Who says so; empty where nobody is named."""
    return fine(str(method.get("source") or ""), f"method {method['id']}")
