"""Safety signs as vectors of our own, in the form of ISO 7010 and ISO 3864.

Warning: yellow triangle with a black band; mandatory: blue disc; prohibition: red ring and bar.
Shape and pictogram carry the meaning without colour. Signs are drawn in a unit square and scaled.
"""

from __future__ import annotations

from collections.abc import Callable

from render.drawing.ink import Stroke

YELLOW, BLUE, RED, ORANGE = "#F9A800", "#005387", "#9B2423", "#F08000"
_INK = "#000000"

Segment = tuple[str | float, ...]

# Colours of the signal words: background and letters (ANSI Z535.4, ISO 3864-2).
SIGNAL_COLOURS = {
    "DANGER": ("#C1121C", "#FFFFFF"),
    "WARNING": ("#F79433", "#000000"),
    "CAUTION": ("#FFD93B", "#000000"),
    "NOTICE": ("#005387", "#FFFFFF"),
}

_HAZARD_WORDS: tuple[tuple[tuple[str, ...], str], ...] = (
    (("shock", "electric", "live", "mains", "voltage", "charge", "source", "current"), "W012"),
    ((" dc ", " rcd "), "W012"),
    (("hot", "burn", "heat", "warm", "fire"), "W017"),
    (("light", "optical", "glare", "radiation"), "W027"),
    (("eye", "splinter", "vent", "burst", "glass"), "M004"),
)


_NAMES = {"live-led-board": "live boards"}
"""Hazards whose words would be untrue of some units: not every unit has LEDs."""
_ABBREVIATIONS = {"led": "LED", "rcd": "RCD", "dc": "DC", "ac": "AC"}


def in_words(hazard: str) -> str:
    """A hazard's id as words: no-rcd-protection is "no RCD protection"."""
    if hazard in _NAMES:
        return _NAMES[hazard]
    return " ".join(_ABBREVIATIONS.get(word, word) for word in hazard.replace("-", " ").split())


def for_hazard(hazard: str, signal: str) -> str:
    """The registered sign that fits a hazard's words; W001 where none does, M001 for a NOTICE."""
    words = f" {hazard.lower().replace('-', ' ')} "
    for keys, sign in _HAZARD_WORDS:
        if any(key in words for key in keys):
            return sign
    return "M001" if signal == "NOTICE" else "W001"


def draw(sign: str, x: float, y: float, size: float) -> tuple[Stroke, ...]:
    """The sign's strokes in a `size` mm square whose top left corner is (x, y)."""
    frame, pictogram = _SIGNS[sign]
    return tuple(_scale(stroke, x, y, size) for stroke in (*frame(), *pictogram))


def known_signs() -> tuple[str, ...]:
    """The registered names of the signs that can be drawn."""
    return tuple(_SIGNS)


def _scale(stroke: Stroke, x: float, y: float, size: float) -> Stroke:
    def place(segment: Segment) -> Segment:
        command, *numbers = segment
        if command == "A":
            rx, ry, turn, large, sweep, ex, ey = (float(n) for n in numbers)
            return (
                "A",
                rx * size,
                ry * size,
                turn,
                large,
                sweep,
                ex * size + x,
                ey * size + y,
            )
        values = [float(n) * size + (x if i % 2 == 0 else y) for i, n in enumerate(numbers)]
        return (str(command), *values)

    return Stroke(
        tuple(place(segment) for segment in stroke.path),
        weight=stroke.weight * size,
        ink=stroke.ink,
        fill=stroke.fill,
    )


def _polygon(*points: tuple[float, float]) -> tuple[Segment, ...]:
    first, *rest = points
    return (("M", *first), *(("L", *point) for point in rest), ("Z",))


def _circle(cx: float, cy: float, r: float) -> tuple[Segment, ...]:
    return (
        ("M", cx - r, cy),
        ("A", r, r, 0, 1, 1, cx + r, cy),
        ("A", r, r, 0, 1, 1, cx - r, cy),
        ("Z",),
    )


def _fill(path: tuple[Segment, ...], colour: str = _INK) -> Stroke:
    return Stroke(path, weight=0.0, ink="none", fill=colour)


def _warning() -> tuple[Stroke, ...]:
    corner = _polygon((0.5, 0.09), (0.96, 0.88), (0.04, 0.88))
    return (Stroke(corner, weight=0.05, ink=_INK, fill=YELLOW),)


def _mandatory() -> tuple[Stroke, ...]:
    return (_fill(_circle(0.5, 0.5, 0.48), BLUE),)


def _prohibition() -> tuple[Stroke, ...]:
    return (Stroke(_circle(0.5, 0.5, 0.43), weight=0.1, ink=RED, fill="#FFFFFF"),)


_BAR = Stroke((("M", 0.2, 0.2), ("L", 0.8, 0.8)), weight=0.1, ink=RED)
_LINE = 0.055


def _line(*points: tuple[float, float], ink: str = _INK, weight: float = _LINE) -> Stroke:
    first, *rest = points
    return Stroke((("M", *first), *(("L", *p) for p in rest)), weight=weight, ink=ink)


_EXCLAMATION = (
    _fill(_polygon((0.445, 0.36), (0.555, 0.36), (0.53, 0.63), (0.47, 0.63))),
    _fill(_circle(0.5, 0.73, 0.05)),
)
_FLASH = (
    _fill(
        _polygon(
            (0.52, 0.32),
            (0.40, 0.58),
            (0.50, 0.57),
            (0.44, 0.80),
            (0.61, 0.50),
            (0.51, 0.51),
            (0.58, 0.32),
        )
    ),
)
_HEAT = (
    _line((0.28, 0.78), (0.72, 0.78)),
    *(
        Stroke(
            (("M", x, 0.71), ("C", x - 0.06, 0.63, x + 0.06, 0.58, x, 0.49)),
            weight=0.05,
        )
        for x in (0.39, 0.5, 0.61)
    ),
)
_RAYS = (
    _fill(_circle(0.5, 0.63, 0.065)),
    *(
        _line(a, b, weight=0.035)
        for a, b in (
            ((0.5, 0.52), (0.5, 0.38)),
            ((0.41, 0.57), (0.35, 0.48)),
            ((0.59, 0.57), (0.65, 0.48)),
            ((0.39, 0.64), (0.27, 0.64)),
            ((0.61, 0.64), (0.73, 0.64)),
            ((0.41, 0.71), (0.33, 0.79)),
            ((0.59, 0.71), (0.67, 0.79)),
            ((0.5, 0.74), (0.5, 0.82)),
        )
    ),
)
_WHITE = "#FFFFFF"
_SPECTACLES = (
    Stroke(_circle(0.35, 0.5, 0.12), weight=0.05, ink=_WHITE),
    Stroke(_circle(0.65, 0.5, 0.12), weight=0.05, ink=_WHITE),
    _line((0.47, 0.48), (0.53, 0.48), ink=_WHITE),
    _line((0.23, 0.47), (0.12, 0.42), ink=_WHITE),
    _line((0.77, 0.47), (0.88, 0.42), ink=_WHITE),
)
_WHITE_EXCLAMATION = (
    _fill(_polygon((0.43, 0.2), (0.57, 0.2), (0.54, 0.58), (0.46, 0.58)), _WHITE),
    _fill(_circle(0.5, 0.72, 0.07), _WHITE),
)
_PLUG = (
    _fill(_polygon((0.34, 0.42), (0.66, 0.42), (0.66, 0.58), (0.34, 0.58)), _WHITE),
    _line((0.42, 0.42), (0.42, 0.28), ink=_WHITE, weight=0.06),
    _line((0.58, 0.42), (0.58, 0.28), ink=_WHITE, weight=0.06),
    _line((0.5, 0.58), (0.5, 0.82), ink=_WHITE, weight=0.06),
    _line((0.3, 0.2), (0.7, 0.2), ink=_WHITE, weight=0.05),
)
_HAND = (
    _fill(
        _polygon(
            (0.3, 0.45),
            (0.3, 0.72),
            (0.62, 0.76),
            (0.72, 0.5),
            (0.66, 0.46),
            (0.6, 0.56),
            (0.6, 0.26),
            (0.53, 0.26),
            (0.51, 0.5),
            (0.49, 0.22),
            (0.42, 0.22),
            (0.41, 0.5),
            (0.38, 0.28),
            (0.32, 0.29),
        )
    ),
)
_EYE = (
    Stroke((("M", 0.22, 0.5), ("C", 0.35, 0.34, 0.65, 0.34, 0.78, 0.5)), weight=0.045),
    Stroke((("M", 0.22, 0.5), ("C", 0.35, 0.66, 0.65, 0.66, 0.78, 0.5)), weight=0.045),
    _fill(_circle(0.5, 0.5, 0.08)),
)

_SIGNS: dict[str, tuple[Callable[[], tuple[Stroke, ...]], tuple[Stroke, ...]]] = {
    "W001": (_warning, _EXCLAMATION),
    "W012": (_warning, _FLASH),
    "W017": (_warning, _HEAT),
    "W027": (_warning, _RAYS),
    "M001": (_mandatory, _WHITE_EXCLAMATION),
    "M004": (_mandatory, _SPECTACLES),
    "M006": (_mandatory, _PLUG),
    "P010": (_prohibition, (*_HAND, _BAR)),
    "P075": (_prohibition, (*_EYE, _BAR)),
}
