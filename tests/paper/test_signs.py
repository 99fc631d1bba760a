"""Does a hazard get the registered sign and the words that are its own?"""

from __future__ import annotations

import pytest

from kb.language import loader
from render.drawing import signs


@pytest.mark.parametrize(
    ("hazard", "sign"),
    [
        # ISO 7010: W012 electricity, W017 hot surface, W027 optical radiation, W001 general
        ("high-dc", "W012"),
        ("no-rcd-protection", "W012"),
        ("live-led-board", "W012"),
        ("stored-charge", "W012"),
        ("hot-iron", "W017"),
        ("bright-light", "W027"),
        ("blade", "W001"),
    ],
)
def test_a_hazard_gets_its_registered_sign(hazard: str, sign: str) -> None:
    assert signs.for_hazard(hazard, "WARNING") == sign


def test_abbreviations_keep_their_capitals() -> None:
    assert signs.in_words("live-led-board") == "live boards"
    assert signs.in_words("no-rcd-protection") == "no RCD protection"


def test_every_shipped_hazard_of_electricity_bears_its_sign() -> None:
    """A general warning sign where electricity can kill would say too little."""
    deadly = {c.hazard for c in loader.read().cautions.values() if c.signal == "DANGER"}
    assert {signs.for_hazard(hazard, "DANGER") for hazard in deadly} == {"W012"}
