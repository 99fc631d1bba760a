"""Are the words beside a branch as short as its bands allow?"""

from __future__ import annotations

from typing import Any

import pytest

from render.wording.bands import tight_branch

NOTHING = {"id": "nothing", "says": "nothing", "low": None, "high": 11.5, "unit": "V"}
LOW = {"id": "low", "says": "low", "low": 11.5, "high": 180.0, "unit": "V"}
DUE = {"id": "as-due", "says": "as due", "low": 180.0, "high": 258.0, "unit": "V"}
HIGH = {"id": "high", "says": "high", "low": 258.0, "high": None, "unit": "V"}
DARK = {"id": "dark", "says": "stays dark"}


@pytest.mark.parametrize(
    ("outcomes", "words"),
    [
        ([NOTHING, LOW], "under 180 V"),
        ([LOW, DUE], "11.5 to 258 V"),
        ([DUE, HIGH], "180 V or more"),
        ([LOW, HIGH], "11.5 to 180 V or 258 V or more"),
        ([DARK, LOW], "stays dark or 11.5 to 180 V"),
        ([LOW, HIGH, DUE], "11.5 V or more"),
    ],
)
def test_bands_that_meet_are_told_as_one(outcomes: list[dict[str, Any]], words: str) -> None:
    assert tight_branch(outcomes) == words


def test_a_branch_of_all_answers_has_no_bands() -> None:
    """The check is done for what the verdict asks: a part is measured before it is renewed."""
    assert tight_branch([NOTHING, LOW, DUE, HIGH]) == "whatever it reads"
