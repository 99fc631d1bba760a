"""Binds a page into one file: words into HTML, type and signs into it, nothing fetched.

All text goes through jinja2's escaping; the policy in the page's head lets it run its own script
and style by their SHA-256 and load nothing at all (Content Security Policy level 3), so that text
from a knowledge base can neither run nor fetch, even if it slipped through.
"""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from render.drawing import markup
from render.drawing.face import FAMILY, load_family
from render.drawing.markup import element
from render.drawing.svg import subset_in_base64
from render.drawing.typeset import fine
from render.page import pagewords
from render.page.marks import marks
from render.page.screens import Page
from render.wording.odds import percent

_FOLDER = Path(__file__).resolve().parent
_ALWAYS = "0123456789.,% ·+:\u202f"  # what the script writes besides words of the page


def bind(page: Page) -> str:
    """The page as one HTML document; equal pages give equal text."""
    script = _text("readings.js") + _text("page.js")
    return dress(
        "body.html.j2", "page.css", script, page=page, w=pagewords, title=page.title,
        mark=page.digest,
    )  # fmt: skip


def dress(template: str, style: str, script: str = "", **content: object) -> str:
    """A template's text with signs, type, style and script, as one HTML document.

    `content` is what the template is told; of it the document's head takes `title` and `mark`.
    """
    attributes = {"class": "signs", "aria-hidden": "true", "width": "0", "height": "0"}
    signs = Markup(element("svg", attributes, marks()))
    body = _environment().get_template(template).render(**content)
    style = _faces(body) + _text(style)
    return _environment().get_template("page.html.j2").render(
        title=content["title"],
        mark=content.get("mark", ""),
        body=signs + Markup(body),
        style=Markup(style),
        script=Markup(script),
        policy=policy(style, script),
    )  # fmt: skip


def policy(style: str, script: str) -> str:
    """A policy under which that style and that script work and nothing else does."""
    return (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; "
        "font-src data:; img-src data:; base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode()).digest()
    return "sha256-" + base64.b64encode(digest).decode("ascii")


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(_FOLDER), autoescape=True, undefined=StrictUndefined,
        finalize=markup.finish,
    )  # fmt: skip
    environment.filters["percent"] = lambda odds: fine(percent(odds), "odds")
    environment.filters["sure"] = lambda odds: pagewords.SURE.format(fine(percent(odds), "odds"))
    return environment


def _text(name: str) -> str:
    return (_FOLDER / name).read_text(encoding="utf-8")


def _faces(body: str) -> str:
    """The type of the page, each weight with the letters that stand on it."""
    family = load_family()
    letters = {letter for letter in (*body, *_ALWAYS) if letter in family.regular.advances}
    return "".join(
        f'@font-face {{ font-family: "{FAMILY}"; font-weight: {weight}; font-display: block; '
        f'src: url(data:font/woff2;base64,{subset_in_base64(face, letters)}) format("woff2") }}\n'
        for weight, face in ((400, family.regular), (700, family.strong))
    )
