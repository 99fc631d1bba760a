"""Do the sample jobs end as their page tells, and safely?"""

from __future__ import annotations

import json
from typing import Any

import pytest

from engine.audit import audit_walk
from kb.language.answersfile import read_answers
from tests.docs.blocks import ROOT
from tests.docs.printouts import PORCH, READING, said, verdict_of

SAMPLES = {"porch-lamp": PORCH, "reading-lamp": READING}


@pytest.fixture(scope="module")
def walks() -> dict[str, dict[str, Any]]:
    """The walk document of each sample, walked once."""
    return {name: verdict_of(sample) for name, sample in SAMPLES.items()}


@pytest.mark.parametrize(("name", "part"), [("porch-lamp", "R2"), ("reading-lamp", "J2")])
def test_a_sample_ends_at_the_part_that_was_found_bad(
    walks: dict[str, dict[str, Any]], name: str, part: str
) -> None:
    """The dropper that reads six times its marking; the wire that jumps."""
    verdict = walks[name]["verdict"]
    likeliest = max(verdict["faults"], key=lambda fault: float(fault["p"]))
    assert verdict["kind"] == "repair"
    assert likeliest["id"].startswith(f"{part}-")
    assert verdict["remedy"].endswith(part)


@pytest.mark.parametrize("name", SAMPLES)
def test_a_samples_walk_keeps_minutes_belief_and_safety(
    walks: dict[str, dict[str, Any]], name: str
) -> None:
    """Recomputed from the model and walk documents alone."""
    topology, complaint, _ = SAMPLES[name]
    model = json.loads(said(f"nextprobe model {topology} --complaint {complaint}"))
    assert audit_walk(model, walks[name]) == ()


@pytest.mark.parametrize("name", SAMPLES)
def test_every_line_of_a_sample_is_a_check_of_its_topology(name: str) -> None:
    """No answer lies there unused because its test was renamed."""
    topology, complaint, file = SAMPLES[name]
    model = json.loads(said(f"nextprobe model {topology} --complaint {complaint}"))
    known = {test["id"] for test in model["tests"]} | {asked["id"] for asked in model["entry"]}
    assert set(read_answers(ROOT / file)) <= known
