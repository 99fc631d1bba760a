"""Is a plan that the audit rejects neither drawn nor walked, and is the rule behind it named?"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace

import pytest

from engine import library, safetygate
from engine.chart.drawing import document, draw_up
from engine.model.plan import Plan, State
from engine.model.records import Mains, Model
from engine.planner import plan
from kb.trouble import TroubleError
from tests.words.cli import LANTERN, Desk


def lamp(depth: str = "stage") -> Model:
    return library.model("buck-lamp", mains=Mains(230.0, 50.0), depth=depth)


def unproved(model: Model) -> Model:
    """As from knowledge that forgets the proofs: the audit must see it, for the reader is not
    asked."""
    return replace(model, remedies=tuple(replace(r, proofs=()) for r in model.remedies))


def planner(
    model: Model,
    *,
    belief: Mapping[str, float] | None,
    state: State | None,
    withdrawn: frozenset[str],
    tests_done: frozenset[str],
    answers: tuple[tuple[str, str], ...],
) -> Plan:
    return plan(model, belief=belief, state=state, withdrawn=withdrawn, tests_done=tests_done,
                answers=answers, seconds=0.0, effort=4e8)  # fmt: skip


def guarded(model: Model, state: State | None = None) -> Plan:
    return safetygate.guard(planner)(
        model, belief=None, state=state, withdrawn=frozenset(), tests_done=frozenset(), answers=()
    )


def test_a_sound_plan_passes_and_is_followed() -> None:
    model = lamp()
    made = guarded(model)
    safetygate.check(model, document(draw_up(model, made)))


def test_a_breach_is_a_refusal_at_the_file_and_line_of_the_rule() -> None:
    model = unproved(lamp())
    with pytest.raises(TroubleError) as caught:
        safetygate.check(model, document(draw_up(model, plan(model, seconds=0.0, effort=4e8))))
    said = [t for t in caught.value.troubles if t.code == "AU308"]
    assert said
    assert all(t.place.source.startswith("kb/rules/") and t.place.line for t in said)


def test_a_chart_changed_on_its_way_to_paper_is_refused() -> None:
    """As by a fault of ours between plan and page: a store is not measured."""
    model = lamp()
    chart = document(draw_up(model, plan(model, seconds=0.0, effort=4e8)))
    for node in chart["nodes"].values():
        if "make_safe" in node:
            node["make_safe"] = []
    with pytest.raises(TroubleError, match="AU305"):
        safetygate.check(model, chart)


def test_a_walk_is_given_no_plan_that_breaks_a_law() -> None:
    with pytest.raises(TroubleError, match="AU308"):
        guarded(unproved(lamp()))


def test_a_supply_that_lets_hands_touch_mains_is_refused_before_the_first_step() -> None:
    model = lamp()
    arrangements = tuple(
        replace(a, hands_on=True) if a.energy == "mains" else a for a in model.supply.arrangements
    )
    lied = replace(model, supply=replace(model.supply, arrangements=arrangements))
    with pytest.raises(TroubleError) as caught:
        guarded(lied)
    said = [t for t in caught.value.troubles if t.code == "AU302"]
    assert all(t.place.source == "kb/words/supply.yaml" and t.place.line for t in said)


@pytest.mark.parametrize("form", ["json", "pdf", "svg", "png", "html"])
def test_no_chart_is_written_in_any_format_where_the_gate_is_shut(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, form: str
) -> None:
    """And the program says why, with code 2."""
    honest = plan

    def careless(model: Model, **asked: object) -> Plan:
        made = honest(model)
        return replace(made, proof=replace(made.proof, expected_cost=1.0))

    monkeypatch.setattr("render.cli.planning.plan", careless)
    ran = desk.run("chart", "--model", str(LANTERN), "-o", f"lamp.{form}")
    assert ran.code == 2
    assert "AU208" in ran.err
    assert not (desk.folder / f"lamp.{form}").exists()


def test_a_document_is_said_to_be_of_unknown_origin(desk: Desk) -> None:
    ran = desk.run("chart", "--model", str(LANTERN), "-o", "lamp.json")
    assert ran.code == 0
    assert "Made from a model of unknown origin" in ran.err
    json.loads((desk.folder / "lamp.json").read_text(encoding="utf-8"))
