"""Whatever is thrown at the reader of model documents: a model, or troubles that say what to do."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.model.file import read_model
from kb.trouble import TroubleError

TEXT = (Path(__file__).parents[1] / "safety" / "gate-lantern.model.json").read_text()
GOOD = json.loads(TEXT)


PATHS: list[tuple[str | int, ...]] = []


def _paths(value: Any, path: tuple[str | int, ...]) -> None:
    PATHS.append(path)
    if isinstance(value, dict):
        for key, inner in value.items():
            _paths(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            _paths(inner, (*path, index))


_paths(GOOD, ())

ODDITIES = st.sampled_from(
    [None, True, -1, 0, 1e300, 10**400, "", "none", "\x07", [], {}, [[]], {"a": {}}, [None], "ü"]
)


def answers_for(text: str) -> bool:
    """Whether the text gives a model, or troubles that all say what to do."""
    try:
        return read_model(text, "odd.json").format == GOOD["format"]
    except TroubleError as error:
        return all(trouble.mend or "more troubles" in trouble.what for trouble in error.troubles)


@settings(max_examples=400, deadline=None)
@given(path=st.sampled_from(PATHS[1:]), oddity=ODDITIES)
def test_any_value_replaced_gives_a_model_or_a_trouble(
    path: tuple[str | int, ...], oddity: object
) -> None:
    plain = copy.deepcopy(GOOD)
    inner = plain
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = oddity
    assert answers_for(json.dumps(plain))


@settings(max_examples=200, deadline=None)
@given(cut=st.integers(0, len(TEXT.rstrip()) - 1))
def test_any_cut_text_is_told(cut: int) -> None:
    with pytest.raises(TroubleError, match="MD10"):
        read_model(TEXT[:cut].rstrip(), "cut.json")
