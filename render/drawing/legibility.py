"""How large type must be to be read from a distance.

Height of a capital h = 6.283 D MA / 21600 for MA arc-minutes at distance D: 16' is the least,
20' to 22' preferred (ISO 9241-3; NUREG-0700 1.3.1-4).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from kb.trouble import Place, Trouble, TroubleError

LEAST_MINUTES = 16.0
HANDS_MINUTES = 20.0
NEAREST_M = 0.25
FARTHEST_M = 20.0


@dataclass(frozen=True, slots=True)
class TypeSizes:
    """Capital heights in mm: of everything, and of what the hands are told to do."""

    least: float
    hands: float


def capital_height(distance_m: float, minutes: float) -> float:
    """Height in mm of a capital that fills `minutes` arc-minutes at `distance_m` metres."""
    return distance_m * 1000 * 2 * math.pi * minutes / 21600


def distance(text: float | str) -> float:
    """Metres from a number or from text such as `0.7m`, `70 cm` or `1,5 m`."""
    if isinstance(text, (int, float)):
        return float(text)
    match = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?|[.,]\d+)\s*(m|cm|mm)?\s*", text)
    if not match:
        raise TroubleError(
            Trouble(
                "PA103",
                Place("--read-from"),
                f"“{text}” is no distance",
                "Write it in metres, such as 0.7m",
            )
        )
    return float(match[1].replace(",", ".")) * _METRES[match[2] or "m"]


_METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001}


def type_sizes(distance_m: float) -> TypeSizes:
    """Capital heights for reading from `distance_m` metres; TroubleError for an absurd distance."""
    if not (math.isfinite(distance_m) and NEAREST_M <= distance_m <= FARTHEST_M):
        raise TroubleError(
            Trouble(
                "PA101",
                Place("--read-from"),
                f"A reading distance of {distance_m:g} m is outside {NEAREST_M:g} m to "
                f"{FARTHEST_M:g} m",
                "Give the distance of the reader's eyes from the sheet in metres, such as 0.7",
            )
        )
    return TypeSizes(
        least=_no_lower(capital_height(distance_m, LEAST_MINUTES)),
        hands=_no_lower(capital_height(distance_m, HANDS_MINUTES)),
    )


def _no_lower(height: float) -> float:
    """Up to the next hundredth of a millimetre, so that a ruler can't find it too low."""
    return math.ceil(height * 100) / 100
