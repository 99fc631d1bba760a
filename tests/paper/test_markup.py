"""Does the one writer of SVG let no word through as markup?"""

from __future__ import annotations

from xml.etree import ElementTree

from render.drawing import markup
from render.drawing.markup import element

ODD = "<b>&amp; \"quoted\" 'so' </text>"


def test_words_and_attributes_come_back_as_they_were() -> None:
    """Read by another's parser."""
    text = element("text", {"id": ODD, "x": 1.5}, markup.words(ODD))
    read = ElementTree.fromstring(text)
    assert (read.text, dict(read.attrib)) == (ODD, {"id": ODD, "x": "1.5"})


def test_numbers_have_three_decimals_at_most_and_no_idle_ones() -> None:
    """Which keeps a sheet small."""
    assert [markup.number(n) for n in (0, 12.0, 0.12349, -3.5)] == ["0", "12", "0.123", "-3.5"]


def test_an_empty_attribute_is_left_out_and_an_empty_element_closed() -> None:
    """No fill is not a fill of nothing."""
    assert element("path", {"d": "M0 0", "stroke-dasharray": ""}) == '<path d="M0 0"/>'
