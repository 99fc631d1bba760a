"""Panels that say how: methods step by step, supplies, rigs, and what to have ready for them.

Methods come with the model document. A supply arrangement, rig or proof that no method is about
is told by its own words, so that nothing on the chart is asked for without saying how.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from render.drawing.typeset import Run, fine
from render.layout.panels import Leaf, Row
from render.wording import fixedwords
from render.wording.equipment import (
    Needs,
    have_ready,
    method_source,
    method_steps,
    method_title,
    methods_of,
    told_by_methods,
)
from render.wording.phrasing import capital, words_of
from render.wording.unrigging import removal

Document = Mapping[str, Any]
KIND = "how"


def how_leaves(model: Document, chart: Document) -> Iterator[Leaf]:
    """The methods as panels, then supplies and rigs that no method is about, in their own words."""
    needs = Needs.of(model, chart)
    methods = methods_of(model, needs)
    for method in methods:
        yield _method(method, needs)
    by_methods = told_by_methods(methods)
    for title, rows in (
        (fixedwords.SUPPLIES_TITLE, tuple(_supplies(model, needs, by_methods))),
        (fixedwords.RIGS_TITLE, tuple(_rigs(model, needs, by_methods))),
    ):
        if rows:
            yield Leaf(KIND, title, rows)


def ready(model: Document, chart: Document) -> Leaf | None:
    """What to have ready, as a panel."""
    rows = tuple(
        Row((Run(name),), marker="•") for name in have_ready(model, Needs.of(model, chart))
    )
    return Leaf("instruments", fixedwords.INSTRUMENTS_TITLE, rows) if rows else None


def _method(method: Document, needs: Needs) -> Leaf:
    rows = [
        Row((Run(step),), marker=str(number))
        for number, step in enumerate(method_steps(method), start=1)
    ]
    if method_source(method):
        rows.append(Row((Run(f"Source: {method_source(method)}"),)))
    return Leaf(KIND, method_title(method, needs), tuple(rows))


def _supplies(model: Document, needs: Needs, by_methods: frozenset[str]) -> Iterator[Row]:
    for one in model["supply"]["arrangements"]:
        if one["id"] in needs.supplies - by_methods and one.get("how"):
            yield _name_row(one, str(one["how"]), f"supply {one['id']}")


def _rigs(model: Document, needs: Needs, by_methods: frozenset[str]) -> Iterator[Row]:
    """Rigs by what is done to fit them: those that differ in the point alone are told once."""
    bare = model["start"]["rig"]
    points = [str(point["id"]) for point in model.get("points") or ()]
    patterns: set[str] = set()
    for rig in model["rigs"]:
        if rig["id"] == bare or rig["id"] not in needs.rigs - by_methods or not rig.get("how"):
            continue
        off = fixedwords.COMES_OFF.format(words=removal(rig))
        words = f"{str(rig['how']).rstrip('. ')}. {capital(off)}"
        pattern = words
        for point in points:
            pattern = pattern.replace(point, "the point")
        if pattern not in patterns:
            patterns.add(pattern)
            yield _name_row(rig, words, f"rig {rig['id']}")


def _name_row(item: Document, how: str, where: str) -> Row:
    name = fine(capital(words_of(item, str(item["id"]))), where)
    return Row((Run(name + ": ", bold=True), Run(fine(how, where))))
