"""Paper sizes in mm: ISO 216 A4 to A0 and ASME Y14.1 Letter and Tabloid."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from kb.trouble import Place, Trouble, TroubleError

_INCH = 25.4
_PORTRAIT: dict[str, tuple[float, float]] = {
    "A0": (841.0, 1189.0),
    "A1": (594.0, 841.0),
    "A2": (420.0, 594.0),
    "A3": (297.0, 420.0),
    "A4": (210.0, 297.0),
    "Letter": (8.5 * _INCH, 11 * _INCH),
    "Tabloid": (11 * _INCH, 17 * _INCH),
}


class Orientation(Enum):
    """Which way up a sheet hangs; AUTO takes what serves the chart better."""

    AUTO = "auto"
    LANDSCAPE = "landscape"
    PORTRAIT = "portrait"


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet: name, width and height in mm as it hangs, and the unprinted margin."""

    name: str
    width: float
    height: float
    margin: float

    @property
    def says(self) -> str:
        """Name and way up, such as `A3 landscape`."""
        way = Orientation.PORTRAIT if self.height > self.width else Orientation.LANDSCAPE
        return f"{self.name} {way.value}"

    @property
    def inner_width(self) -> float:
        """Width inside the margins, mm."""
        return self.width - 2 * self.margin

    @property
    def inner_height(self) -> float:
        """Height inside the margins, mm."""
        return self.height - 2 * self.margin


def names() -> tuple[str, ...]:
    """The paper names known, largest first."""
    return tuple(_PORTRAIT)


def ways_up(name: str, orientation: Orientation) -> tuple[Paper, ...]:
    """The paper as it may hang: one way, or both for AUTO. TroubleError for an unknown name."""
    if orientation is Orientation.AUTO:
        return find(name, Orientation.LANDSCAPE), find(name, Orientation.PORTRAIT)
    return (find(name, orientation),)


def find(name: str, orientation: Orientation) -> Paper:
    """The paper of that name (any case); AUTO is landscape. TroubleError for an unknown name."""
    for size, (short, long) in _PORTRAIT.items():
        if size.lower() == name.strip().lower():
            portrait = orientation is Orientation.PORTRAIT
            width, height = (short, long) if portrait else (long, short)
            return Paper(size, width, height, margin=5.0)
    raise TroubleError(
        Trouble(
            "PA102",
            Place("--paper"),
            f"There is no paper called “{name}” here",
            f"Choose one of {', '.join(_PORTRAIT)}",
        )
    )
