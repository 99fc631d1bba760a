"""Where a chart says to compare with a good lamp: bands of one make only, and where that helps."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine import library
from engine.audit import audit
from engine.chart import drawing
from engine.circuit.dictionary import Cell, Dictionary, Sibling
from engine.evidence import witness
from engine.evidence.comparing import needs_comparison
from engine.model.records import Model, document
from engine.planner import plan
from render.page.pagewriter import write_page
from render.wording import bands
from render.wording.phrasing import Wording
from render.wording.scriptwriter import write_script
from tests.circuit.shipped_units import MAINS
from tests.sampled_rail import RAIL, rail_model, rail_readings


def makes(sound: list[float], weak: list[float]) -> Dictionary:
    """The rail of makes whose sound units and whose weak feeds read so, the nominal one first."""
    made = rail_readings()
    units = tuple(Sibling({}, weight=1 / (len(sound) - 1)) for _ in sound[1:])
    cells = {
        "no-fault": Cell(None, sound[0], tuple((None, v) for v in sound[1:])),
        "feed-weak": Cell(None, weak[0], tuple((None, v) for v in weak[1:])),
    }
    return replace(made, units=units, cells={"rail": cells})


def needs(sound: list[float], weak: list[float]) -> bool:
    """Whether the rail with a cut at 4 V is to be compared."""
    return needs_comparison(witness(rail_model(), makes(sound, weak)), RAIL)


def test_makes_that_lie_on_both_sides_are_compared() -> None:
    """Sound ones read 3 to 6 V, each weak feed half of its own: no cut parts them, a good unit
    of the make does."""
    assert needs([4.8, 3.0, 3.6, 5.9, 5.5, 3.3], [2.4, 1.5, 1.8, 4.1, 4.05, 1.6])


def test_makes_that_one_cut_parts_are_not() -> None:
    """However far apart they are."""
    assert not needs([4.8, 4.2, 5.0, 5.9, 5.5, 4.5], [2.4, 1.5, 1.8, 3.1, 3.0, 1.6])


def test_what_a_good_unit_would_not_tell_either_is_not_compared() -> None:
    """Weak feeds that read as their own sound unit does."""
    sound = [4.8, 3.0, 3.6, 5.9, 5.5, 3.3]
    assert not needs(sound, [value * 0.98 for value in sound])


def test_a_test_nothing_was_derived_for_is_not_compared() -> None:
    assert not needs_comparison(witness(rail_model()), RAIL)


@pytest.fixture(scope="module")
def lamp() -> Model:
    """The plain lamp at 230 V."""
    return library.model("buck-lamp", mains=MAINS[0])


def test_volts_across_the_string_are_compared(lamp: Model) -> None:
    """Makers' strings have 36 V to 200 V: one package open is a twelfth more of one's own. What a
    resistor reads against its own marking is not."""
    found = {test.id for test in lamp.tests if test.compare}
    assert "volts-TP4" in found
    assert not any(name.startswith(("ohms-R", "continuity")) for name in found)
    assert len(found) < 6


def test_chart_paper_and_page_say_so_and_only_there(lamp: Model) -> None:
    """One sentence, by the one writer; the audit holds the chart to the model."""
    part = replace(lamp, tests=tuple(t for t in lamp.tests if t.compare or not t.cuts))
    rows = {t.id: lamp.likelihood[t.id] for t in part.tests}
    small = replace(part, likelihood=rows)
    chart = drawing.document(drawing.draw_up(small, plan(small, seconds=1.0)))
    nodes = [n for n in chart["nodes"].values() if n["kind"] == "test"]
    compared = {n["test"] for n in nodes if n.get("compare")}
    assert compared == {n["test"] for n in nodes} & {t.id for t in small.tests if t.compare}
    assert {b.code for b in audit(document(small), chart)} == set()
    plain = document(small)
    for wording in Wording:
        script = write_script(plain, chart, wording)
        for step in script.steps.values():
            for part_ in step.parts:
                text = " ".join(run.text for p in part_.paragraphs for run in p.runs)
                node = chart["nodes"].get(part_.node, {})
                is_compared = part_.kind == "test" and node.get("test") in compared
                assert (bands.COMPARE in text.replace("\u00a0", " ")) == is_compared
    assert compared
    screens = {s.here.node: s for s in write_page(plain, chart, "30 November 2026").screens}
    for name, node in chart["nodes"].items():
        if node["kind"] == "test":
            good = screens[name].good.replace("\u00a0", " ")  # type: ignore[union-attr]
            assert (bands.COMPARE in good) == (node["test"] in compared)
    for node in nodes:
        node["compare"] = not node.get("compare", False)
    assert {b.code for b in audit(document(small), chart)} == {"AU213"}
