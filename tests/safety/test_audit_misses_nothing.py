"""Can any one number, pointer or list entry of a chart be wrong unseen?

Every number of the good chart is changed in turn, every pointer bent to every other node, every
entry of a list taken away. What may differ without being wrong is named here with its reason.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from engine.audit import audit
from engine.model.records import document_sha256

HERE = Path(__file__).parent
MODEL = json.loads((HERE / "gate-lantern.model.json").read_text())
CHART = json.loads((HERE / "gate-lantern.chart.json").read_text())
CHART["model_sha256"] = document_sha256(MODEL)

Path_ = tuple[str | int, ...]

FREE_NUMBERS = {
    ("lower_bound",),  # a lower bound proves less, which is no untruth
    ("nodes_expanded",),  # a record of the search, not of the plan
}


def members(value: Any, path: Path_ = ()) -> Iterator[tuple[Path_, Any]]:
    """Every value of a document with its path."""
    yield path, value
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from members(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from members(inner, (*path, index))


def inside(document: Any, path: Path_) -> Any:
    for step in path:
        document = document[step]
    return document


def changed(path: Path_, value: object) -> dict[str, Any]:
    chart: dict[str, Any] = copy.deepcopy(CHART)
    inside(chart, path[:-1])[path[-1]] = value
    return chart


NUMBERS = [
    (path, value)
    for path, value in members(CHART)
    if isinstance(value, (int, float)) and not isinstance(value, bool) and path not in FREE_NUMBERS
]
POINTERS = [
    path
    for path, value in members(CHART)
    if path[-1:] == ("root",) or path[-1:] == ("next",) or path[-2:-1] == ("branches",)
]
ENTRIES = [path for path, _ in members(CHART) if path and isinstance(path[-1], int)]


@pytest.mark.parametrize(("path", "value"), NUMBERS, ids=[str(path) for path, _ in NUMBERS])
@pytest.mark.parametrize("factor", [0.0, 0.999, 1.001, -1.0])
def test_wrong_number_is_seen(path: Path_, value: float, factor: float) -> None:
    if path[-1] == "below" and factor < 1:
        factor = 2 - factor  # going lower than the limit is safer, not wrong
    wrong = value * factor if value else factor + 0.001
    assert audit(MODEL, changed(path, wrong))


@pytest.mark.parametrize("path", POINTERS, ids=[str(path) for path in POINTERS])
def test_bent_pointer_is_seen(path: Path_) -> None:
    right = inside(CHART, path)
    for other in CHART["nodes"]:
        if other != right:
            assert audit(MODEL, changed(path, other)), f"bent to {other}"


@pytest.mark.parametrize("path", ENTRIES, ids=[str(path) for path in ENTRIES])
def test_missing_entry_is_seen(path: Path_) -> None:
    chart = copy.deepcopy(CHART)
    inside(chart, path[:-1]).pop(path[-1])
    assert audit(MODEL, chart)


WORDS = {
    "remedy": [remedy["id"] for remedy in MODEL["remedies"]],
    "test": [test["id"] for test in MODEL["tests"]],
    "supply": [arrangement["id"] for arrangement in MODEL["supply"]["arrangements"]],
    "rig": [rig["id"] for rig in MODEL["rigs"]],
}
NAMES = [path for path, _ in members(CHART) if path and path[-1] in WORDS]


@pytest.mark.parametrize("path", NAMES, ids=[str(path) for path in NAMES])
def test_other_name_of_the_model_is_seen(path: Path_) -> None:
    right = inside(CHART, path)
    for other in WORDS[str(path[-1])]:
        if other != right:
            assert audit(MODEL, changed(path, other)), f"{other} for {right}"
