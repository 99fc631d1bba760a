"""Do paper sizes, heights of letters and colours of signs agree with the published rules?"""

from __future__ import annotations

import colorsys
import math
from itertools import pairwise

import pytest

from render.drawing import papers, signs
from render.drawing.ink import Stroke
from render.drawing.legibility import capital_height, type_sizes
from render.drawing.papers import Orientation

SERIES = ("A0", "A1", "A2", "A3", "A4")


def size(name: str) -> tuple[float, float]:
    paper = papers.find(name, Orientation.PORTRAIT)
    return paper.width, paper.height


def test_a0_is_a_square_metre_in_the_ratio_of_the_root_of_two() -> None:
    # ISO 216: 1 m² and 1 : sqrt(2), to the millimetre.
    width, height = size("A0")
    assert width * height / 1e6 == pytest.approx(1.0, abs=0.002)
    assert height / width == pytest.approx(math.sqrt(2), abs=0.002)


def test_each_a_size_is_the_one_before_halved() -> None:
    # ISO 216: halves of the longer side, rounded down to the millimetre.
    for larger, smaller in pairwise(SERIES):
        (w, h), half = size(larger), size(smaller)
        assert half == (math.floor(h / 2), w)


@pytest.mark.parametrize(("name", "inches"), [("Letter", (8.5, 11)), ("Tabloid", (11, 17))])
def test_american_sizes_are_ansi_a_and_b(name: str, inches: tuple[float, float]) -> None:
    assert size(name) == pytest.approx([25.4 * inch for inch in inches])  # ASME Y14.1


@pytest.mark.parametrize(
    ("metres", "minutes", "millimetres"),
    [(0.7, 15, 3.05), (0.7, 16, 3.26), (0.7, 20, 4.07), (0.7, 22, 4.48), (2, 16, 9.31)],
)
def test_heights_of_capitals_by_arc_minutes(
    metres: float, minutes: float, millimetres: float
) -> None:
    # h = 6.283 D MA / 21600 (NUREG-0700 1.3.1-4); values computed from it.
    assert capital_height(metres, minutes) == pytest.approx(millimetres, abs=0.005)


def test_the_preferred_height_is_the_two_hundredth_part_of_the_distance() -> None:
    # The rule of thumb D/200 (FAA human factors guidance) is 17'.
    assert type_sizes(1.0).least <= 1000 / 200 <= type_sizes(1.0).hands


def luminance(colour: str) -> float:
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    bright, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_the_known_values() -> None:
    # WCAG 2.2, relative luminance; values on white computed from it.
    assert contrast("#FFFFFF", "#000000") == pytest.approx(21)
    assert contrast("#FFFFFF", "#767676") == pytest.approx(4.542, abs=0.001)
    assert contrast("#FFFFFF", "#FF0000") == pytest.approx(3.998, abs=0.001)


@pytest.mark.parametrize("word", signs.SIGNAL_COLOURS)
def test_signal_words_stand_out_from_their_ground(word: str) -> None:
    back, letters = signs.SIGNAL_COLOURS[word]
    assert contrast(back, letters) >= 4.5  # WCAG 2.2, 1.4.3 AA


def hue(colour: str) -> float:
    red, green, blue = (int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5))
    return colorsys.rgb_to_hsv(red, green, blue)[0] * 360


@pytest.mark.parametrize(
    ("word", "low", "high"),
    [("DANGER", 345, 375), ("WARNING", 20, 40), ("CAUTION", 40, 60), ("NOTICE", 195, 225)],
)
def test_signal_words_have_their_standard_colours(word: str, low: float, high: float) -> None:
    # ANSI Z535.4: red, orange, yellow, blue.
    found = hue(signs.SIGNAL_COLOURS[word][0])
    assert low <= (found if found > 180 or high <= 360 else found + 360) <= high


@pytest.mark.parametrize("sign", [name for name in signs.known_signs() if name.startswith("W")])
def test_warnings_are_triangles_that_are_yellow_for_the_larger_part(sign: str) -> None:
    # ISO 3864-1: the yellow takes at least half of the sign's area.
    triangle, *pictogram = signs.draw(sign, 0, 0, 1)
    corners = [(float(x), float(y)) for command, x, y in triangle.path[:-1]]
    assert (len(corners), triangle.fill) == (3, signs.YELLOW)
    sides = [math.dist(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]
    inner = 2 * area(corners) / sum(sides)
    # The band is drawn along the edge, half of it inside.
    whole, yellow = (
        area(corners) * ((inner + turn * triangle.weight / 2) / inner) ** 2 for turn in (1, -1)
    )
    black = sum(covered(stroke) for stroke in pictogram)
    assert (yellow - black) / whole >= 0.5


def covered(stroke: Stroke) -> float:
    """The area of a stroke of a pictogram: a filled shape, or a line."""
    points = [(float(segment[-2]), float(segment[-1])) for segment in stroke.path if segment[1:]]
    if any(segment[0] == "A" for segment in stroke.path):
        return math.pi * float(stroke.path[1][1]) ** 2
    if stroke.fill != "none":
        return area(points)
    return sum(math.dist(a, b) for a, b in pairwise(points)) * stroke.weight


def area(corners: list[tuple[float, float]]) -> float:
    turns = zip(corners, corners[1:] + corners[:1], strict=True)
    return abs(sum(x * v - u * y for (x, y), (u, v) in turns)) / 2
