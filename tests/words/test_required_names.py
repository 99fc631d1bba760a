"""Does a model document that requires what nobody can show say so, with the nearest name?"""

from __future__ import annotations

import json
from typing import Any

import pytest

from engine import library
from engine.model import file
from engine.model.records import Mains, document
from kb.trouble import TroubleError


@pytest.fixture(scope="module")
def plain() -> dict[str, Any]:
    """The shipped buck lamp as a document."""
    found: dict[str, Any] = document(library.model("buck-lamp", mains=Mains(230, 50)))
    return found


def troubles(plain: dict[str, Any]) -> str:
    """What reading the document says."""
    with pytest.raises(TroubleError) as caught:
        file.read_model(json.dumps(plain), "bench.json")
    return str(caught.value)


def test_a_requirement_names_a_test_that_there_is(plain: dict[str, Any]) -> None:
    """A slip of a letter is told with the test that is meant."""
    wrong = json.loads(json.dumps(plain))
    remedy = next(r for r in wrong["remedies"] if r["id"] == "renew-R3")
    remedy["requires"][0]["by"] = {"ohm-R3": ["above"]}
    said = troubles(wrong)
    assert "MD112" in said
    assert '"ohms-R3"' in said


def test_a_requirement_names_an_answer_of_its_test(plain: dict[str, Any]) -> None:
    """An outcome that the test has not."""
    wrong = json.loads(json.dumps(plain))
    remedy = next(r for r in wrong["remedies"] if r["id"] == "renew-R3")
    remedy["requires"][0]["by"] = {"ohms-R3": ["abov"]}
    assert "MD112" in troubles(wrong)


def test_a_repair_that_is_tried_names_its_remedy(plain: dict[str, Any]) -> None:
    """A test can't mend what no remedy does."""
    wrong = json.loads(json.dumps(plain))
    test = next(t for t in wrong["tests"] if t["mends"])
    test["mends"] = "remake-J9"
    assert "MD112" in troubles(wrong)
