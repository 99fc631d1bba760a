"""From a template and its content to a response; what goes wrong, as a page with the way on."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import jinja2
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from kb.trouble import TroubleError
from render.drawing import markup
from render.terminal.replies import sentences

_HERE = Path(__file__).parent
STATIC = {
    "station.css": "text/css; charset=utf-8",
    "station.js": "text/javascript; charset=utf-8",
    "sign.svg": "image/svg+xml",
}
"""What is served as it is, with its type."""
_STATUS = {"CS111": 404, "CS112": 409, "CS113": 409}
_SHOP_DOWN = ("CS101", "CS102", "CS103", "CS104", "CS105", "CS106", "CS107", "CS109", "CS110")


@cache
def _environment() -> jinja2.Environment:
    return jinja2.Environment(
        loader=jinja2.FileSystemLoader(_HERE / "leaves"),
        autoescape=True,
        finalize=markup.finish,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@cache
def static(name: str) -> tuple[bytes, str]:
    """The bytes of a file of `STATIC`, and its entity tag (RFC 9110, 8.8.3)."""
    content = (_HERE / name).read_bytes()
    return content, f'"{hashlib.sha256(content).hexdigest()[:20]}"'


@cache
def _stamp() -> str:
    """By which a browser sees that style or script are new."""
    return hashlib.sha256(b"".join(static(name)[0] for name in STATIC)).hexdigest()[:10]


def page(
    request: Request, name: str, content: Mapping[str, Any], *, token: str, who: str,
    status: int = 200,
) -> Response:
    """A page by its template. Every word in it is escaped."""
    usual = {
        "title": "nextprobe", "amiss": {}, "word": "", "fields": {}, "token": token, "who": who,
        "here": request.url.path, "stamp": _stamp(),
    }  # fmt: skip
    text = _environment().get_template(f"{name}.html.j2").render({**usual, **content})
    return HTMLResponse(text, status)


def status_of(wrong: TroubleError) -> int:
    """A trouble's status: not there, in conflict, the shop out of reach, or not to be taken."""
    code = wrong.troubles[0].code
    return 503 if code in _SHOP_DOWN else _STATUS.get(code, 422)


def told(wrong: TroubleError) -> str:
    """A trouble in sentences, as the terminal says them."""
    return sentences(wrong)
