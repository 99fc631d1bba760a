"""Elements of SVG as text: the one place where its markup is written, every word escaped."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from typing import Any

from markupsafe import Markup

from kb.signs import plain

Attributes = Mapping[str, str | float]
SPACE = "http://www.w3.org/2000/svg"


def element(tag: str, attributes: Attributes, *content: str) -> str:
    """An element; attributes in their order, numbers written as `number` does, empty texts left
    out. `content` is markup already; an element without any is closed at once."""
    listing = "".join(
        f' {name}="{_in_quotes(value if isinstance(value, str) else number(value))}"'
        for name, value in attributes.items()
        if value != ""
    )
    if not content:
        return f"<{tag}{listing}/>"
    return f"<{tag}{listing}>{''.join(content)}</{tag}>"


def words(text: str) -> str:
    """Text as content of an element."""
    return escape(plain(text))


def finish(value: Any) -> Any:
    """What a template puts on a page, without signs that hide or turn letters round; markup stays
    markup. For a template's environment (`finalize`)."""
    if isinstance(value, Markup):
        return Markup(plain(value))
    return plain(value) if isinstance(value, str) else value


def number(value: float) -> str:
    """A number with at most three decimals, none of them idle."""
    return f"{value:.3f}".rstrip("0").rstrip(".") if value else "0"


def view(*numbers: float) -> str:
    """The window of a picture: its left, top, width and height."""
    return " ".join(number(n) for n in numbers)


def _in_quotes(text: str) -> str:
    return escape(plain(text), quote=False).replace('"', "&quot;")
