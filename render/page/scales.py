"""What a check's answers are measured on, for the page's reader of typed readings."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from engine.model.records import Arrangement, Outcome, Test
from engine.readings import bands
from render.wording.script import Document


def grammar() -> str:
    """The grammar of readings as JSON, for the script to go by."""
    return json.dumps(bands.grammar(), ensure_ascii=False, separators=(",", ":"))


def scale(test: Document, supply: Document) -> Mapping[str, Any]:
    """What a reading at a test of the model document is taken for, fed by that supply arrangement:
    `engine.readings.bands.scale_of`."""
    outcomes = tuple(
        Outcome(o["id"], str(o["says"]), o.get("low"), o.get("high"), o.get("unit"))
        for o in test["outcomes"]
    )
    record = Test(
        id=str(test["id"]), says=str(test["says"]), minutes=float(test["minutes"]), opened=(),
        supply=str(test["supply"]), rig=str(test["rig"]), hands_on=bool(test["hands_on"]),
        outcomes=outcomes, instrument=str(test.get("instrument") or ""),
        how=str(test.get("how") or ""),
    )  # fmt: skip
    arrangement = Arrangement(
        str(supply["id"]), str(supply["energy"]), float(supply["max_volts"]),
        bool(supply["hands_on"]), bool(supply["closed_only"]),
    )  # fmt: skip
    return bands.scale_of(record, arrangement)
