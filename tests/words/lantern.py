"""The good model document that the tests of `engine.model.file` spoil.

It has only the keys of the published format.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

Document = dict[str, Any]
Spoil = Callable[[Document], None]

TEXT = (Path(__file__).parents[1] / "safety" / "gate-lantern.model.json").read_text()
GOOD = json.loads(TEXT)


def spoiled(spoil: Spoil) -> str:
    """The good document spoiled in one place, as text."""
    plain = copy.deepcopy(GOOD)
    spoil(plain)
    return json.dumps(plain, indent=1)
