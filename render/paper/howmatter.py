"""Panels that say how: methods step by step, supplies, rigs, and what to have ready for them.

Methods come with the model document. A supply arrangement, rig or proof that no method is about
is told by its own words, so that nothing on the chart is asked for without saying how.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from render.drawing.typeset import Run, fine
from render.layout.panels import Leaf, Row
from render.wording import fixedwords
from render.wording.phrasing import capital, said
from render.wording.unrigging import removal

Document = Mapping[str, Any]
KIND = "how"


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
        used = [t for t in model["tests"] if t["id"] in tests]
        fed = frozenset(str(node["supply"]) for node in setups)
        fed |= {str(p["supply"]) for p in model["proofs"] if p["id"] in proofs}
        found = dict.fromkeys(str(t["instrument"]) for t in used if t.get("instrument"))
        built = (
            str(a["id"])
            for a in model["supply"]["arrangements"]
            if a["energy"] in ("mains", "hvdc") and not a.get("closed_only")
        )
        return Needs(
            frozenset({*fed, str(model["start"]["supply"])}),
            fed & frozenset(built),
            frozenset(str(node["rig"]) for node in setups),
            frozenset(tests),
            frozenset(proofs),
            tuple(found),
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


def how_leaves(model: Document, chart: Document) -> Iterator[Leaf]:
    """The methods as panels, then supplies and rigs that no method is about, in their own words."""
    needs = Needs.of(model, chart)
    methods = methods_of(model, needs)
    for method in methods:
        yield _method(method, needs)
    told = told_by_methods(methods)
    for title, rows in (
        (fixedwords.SUPPLIES_TITLE, tuple(_supplies(model, needs, told))),
        (fixedwords.RIGS_TITLE, tuple(_rigs(model, needs, told))),
    ):
        if rows:
            yield Leaf(KIND, title, rows)


def ready(model: Document, chart: Document) -> Leaf | None:
    """What to have ready, as a panel."""
    rows = tuple(
        Row((Run(name),), marker="•") for name in have_ready(model, Needs.of(model, chart))
    )
    return Leaf("instruments", fixedwords.INSTRUMENTS_TITLE, rows) if rows else None


def method_title(method: Document, needs: Needs) -> str:
    """What a method is about; one about a live supply tells how that is built."""
    name = capital(said(method, str(method["id"])))
    if needs.circuits.intersection(map(str, method.get("of") or ())):
        name = fixedwords.METHOD_BUILT.format(name=name)
    return fine(name, f"method {method['id']}")


def method_steps(method: Document) -> tuple[str, ...]:
    """Its steps, in the order of the hands."""
    return tuple(fine(str(s), f"method {method['id']}") for s in method.get("steps") or ())


def method_source(method: Document) -> str:
    """Who says so; empty where nobody is named."""
    return fine(str(method.get("source") or ""), f"method {method['id']}")


def _method(method: Document, needs: Needs) -> Leaf:
    rows = [
        Row((Run(step),), marker=str(number))
        for number, step in enumerate(method_steps(method), start=1)
    ]
    if method_source(method):
        rows.append(Row((Run(f"Source: {method_source(method)}"),)))
    return Leaf(KIND, method_title(method, needs), tuple(rows))


def _supplies(model: Document, needs: Needs, told: frozenset[str]) -> Iterator[Row]:
    for one in model["supply"]["arrangements"]:
        if one["id"] in needs.supplies - told and one.get("how"):
            yield _named(one, str(one["how"]), f"supply {one['id']}")


def _rigs(model: Document, needs: Needs, told: frozenset[str]) -> Iterator[Row]:
    """Rigs by what is done to fit them: those that differ in the point alone are told once."""
    bare = model["start"]["rig"]
    points = [str(point["id"]) for point in model.get("points") or ()]
    seen: set[str] = set()
    for rig in model["rigs"]:
        if rig["id"] == bare or rig["id"] not in needs.rigs - told or not rig.get("how"):
            continue
        off = fixedwords.COMES_OFF.format(words=removal(rig))
        words = f"{str(rig['how']).rstrip('. ')}. {capital(off)}"
        pattern = words
        for point in points:
            pattern = pattern.replace(point, "the point")
        if pattern not in seen:
            seen.add(pattern)
            yield _named(rig, words, f"rig {rig['id']}")


def _named(item: Document, how: str, where: str) -> Row:
    name = fine(capital(said(item, str(item["id"]))), where)
    return Row((Run(name + ": ", bold=True), Run(fine(how, where))))
