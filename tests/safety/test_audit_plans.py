"""Do the charts of planned models pass the checker that knows nothing of the planner?

Over random models with set-ups, split outcomes, stores and cautions: costs recomputed from the two
documents to 1e-6, every fault in a verdict that lists it, the safety invariants on every path.
"""

from __future__ import annotations

import ast
import json
from pathlib import Path

import pytest

import engine.audit as checker
from engine.audit import audit
from engine.chart.drawing import document as chart_document
from engine.chart.drawing import draw_up
from engine.model.file import read_model
from engine.model.records import document as model_document
from engine.planner import plan
from engine.studies.trial import confirm_keys, confirms
from tests.safety.shop_models import mistaken, random_model

LANTERN = Path(__file__).parent / "gate-lantern.model.json"


def imported(path: Path) -> set[str]:
    """The modules a source file imports."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}.{name.name}" for name in node.names} | {str(node.module)}
        elif isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
    return found


def test_checker_is_not_the_maker() -> None:
    makers = ("engine.planner", "engine.model.setup", "engine.model.plan", "engine.chart")
    makers = (*makers, "engine.walk")
    for path in Path(checker.__file__).parent.glob("*.py"):
        taken = imported(path)
        assert not [name for name in taken if name.startswith(makers)], path.name


@pytest.mark.parametrize("seed", range(40))
def test_chart_of_a_random_model_has_no_breach(seed: int) -> None:
    model = random_model(seed)
    chart = chart_document(draw_up(model, plan(model, seconds=0.0, effort=4e8)))
    assert audit(model_document(model), json.loads(json.dumps(chart))) == ()


@pytest.mark.parametrize("seed", range(20))
def test_confirm_steps_of_a_random_model_have_no_breach(seed: int) -> None:
    model = mistaken(random_model(seed), 0.08)
    made = plan(model, seconds=0.0, effort=4e8)
    chart = chart_document(draw_up(model, made))
    chart |= confirm_keys(model, made, confirms(model, made), chart)
    assert audit(model_document(model), json.loads(json.dumps(chart))) == ()


def test_chart_of_the_lantern_is_the_one_written_by_hand() -> None:
    """The planner comes to the cost of the hand-written chart of `test_audit_chart.py`."""
    model = read_model(LANTERN.read_text(), "lantern")
    chart = chart_document(draw_up(model, plan(model)))
    assert audit(json.loads(LANTERN.read_text()), chart) == ()
    assert chart["expected_cost"] == pytest.approx(30.775, abs=1e-9)
