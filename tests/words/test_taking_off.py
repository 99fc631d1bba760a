"""Does a step that takes a rig off say so, and how?"""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine.model.file import read_model
from engine.model.records import Model
from engine.model.setup import taking_off
from tests.words.cli import LANTERN


def with_off(words: str) -> tuple[Model, str]:
    """The lantern's model, its bridge taken off by these words; the bridge's id."""
    model = read_model(LANTERN.read_text(encoding="utf-8"), "lantern.json")
    rig = next(rig for rig in model.rigs if rig.id != model.start.rig)
    rigs = tuple(
        replace(r, off=words, says="bridge the switch") if r == rig else r for r in model.rigs
    )
    return replace(model, rigs=rigs), rig.id


@pytest.mark.parametrize(
    ("off", "said"),
    [("solder the leg back", "solder the leg back"), ("", "take off: bridge the switch")],
)
def test_a_rig_comes_off_by_its_own_words_or_by_its_name(off: str, said: str) -> None:
    model, bridge = with_off(off)
    assert taking_off(model, bridge, model.start.rig) == said


def test_where_nothing_comes_off_nothing_is_said() -> None:
    model, bridge = with_off("solder the leg back")
    assert taking_off(model, model.start.rig, bridge) == ""
    assert taking_off(model, bridge, bridge) == ""
