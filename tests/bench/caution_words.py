"""How many words of caution a printed chart bears: signal words and hazards at the steps, and the
full texts of the panels, each as often as it is printed."""

from __future__ import annotations

from typing import Any

from render.drawing.ink import Sheets
from render.wording.phrasing import Wording
from render.wording.script import Script
from render.wording.scriptwriter import write_script

_TIGHT_RANKS = (2, 3, 5)
_PANELS = ("cautions", "every-repair")


def caution_words(model: dict[str, Any], chart: dict[str, Any], laid: Sheets) -> tuple[int, int]:
    """Words of caution at the steps, and in the panels of all sheets."""
    wording = Wording.TIGHT if laid.rank in _TIGHT_RANKS else Wording.FULL
    return at_steps(write_script(model, chart, wording)), in_panels(laid)


def at_steps(script: Script) -> int:
    """Words of the signals that stand at the steps."""
    signals = (s for step in script.steps.values() for part in step.parts for s in part.signals)
    return sum(len(" ".join((signal.word, *signal.hazards)).split()) for signal in signals)


def in_panels(laid: Sheets) -> int:
    """Words of the panels that tell cautions in full."""
    panels = (panel for sheet in laid.sheets for panel in sheet.panels if panel.kind in _PANELS)
    return sum(len(word.text.split()) for panel in panels for word in panel.words)
