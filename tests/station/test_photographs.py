"""Are photographs taken at the page by what their bytes say, and given back with safe headers?"""

from __future__ import annotations

import hashlib
import io
from uuid import uuid4

import pytest
from PIL import Image

from engine.cases import photographs
from tests.station.house import Server, take_in
from tests.station.visitor import Visitor

BORDER = "----border7f2c"


def picture(kind: str) -> bytes:
    """A small picture as a general library writes it, of its own each time."""
    colour = tuple(uuid4().bytes[:3])
    file = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(file, kind)
    return file.getvalue()


@pytest.fixture(scope="module")
def number(host: Server) -> int:
    """A case."""
    return take_in(Visitor(host.address))


@pytest.fixture
def at_pictures(visitor: Visitor, number: int) -> Visitor:
    """Somebody at its photographs."""
    return visitor.go(f"/case/{number}/photographs")


def send(
    visitor: Visitor, content: bytes, name: str = "board.jpg", kind: str = "image/jpeg",
    token: str | None = None, says: str = "the board",
) -> Visitor:
    """The form as a browser sends it (RFC 7578)."""
    held = {str(e.get("name")): str(e.get("value")) for e in visitor.tree.iter("input")
            if e.get("type") == "hidden"}  # fmt: skip
    fields = {**held, "token": held["token"] if token is None else token, "says": says}
    body = b"".join(
        f'--{BORDER}\r\nContent-Disposition: form-data; name="{n}"\r\n\r\n{v}\r\n'.encode()
        for n, v in fields.items()
    )
    head = f'--{BORDER}\r\nContent-Disposition: form-data; name="picture"; filename="{name}"\r\n'
    body += head.encode() + f"Content-Type: {kind}\r\n\r\n".encode() + content
    body += f"\r\n--{BORDER}--\r\n".encode()
    visitor.reply = visitor.ask(
        "POST", visitor.path, body, Origin=visitor.address,
        Content_Type=f"multipart/form-data; boundary={BORDER}",
    )  # fmt: skip
    return visitor._follow()


@pytest.mark.parametrize(("kind", "media"), [
    ("JPEG", "image/jpeg"), ("PNG", "image/png"), ("WEBP", "image/webp"),
])  # fmt: skip
def test_a_photograph_comes_back_as_what_its_bytes_are(
    at_pictures: Visitor, kind: str, media: str
) -> None:
    """Whatever its name and the browser call it; nosniff and a policy that runs nothing."""
    content = picture(kind)
    send(at_pictures, content, name="../../x.html", kind="text/html")
    assert at_pictures.reply.status == 200, at_pictures.words
    place = f"{at_pictures.path}/{hashlib.sha256(content).hexdigest()}"
    assert place in {str(e.get("src")) for e in at_pictures.tree.iter("img")}
    reply = at_pictures.ask("GET", place)
    assert reply.body == content
    assert reply.headers["content-type"] == media
    assert reply.headers["x-content-type-options"] == "nosniff"
    assert "default-src 'none'" in reply.headers["content-security-policy"]
    assert "x.html" not in reply.headers["content-disposition"]


def test_a_browser_that_has_it_is_told_in_a_line(at_pictures: Visitor) -> None:
    """RFC 9110, 13.1.2 and 15.4.5: 304 with the tag and no content."""
    content = picture("PNG")
    place = f"{at_pictures.path}/{hashlib.sha256(content).hexdigest()}"
    send(at_pictures, content)
    tag = at_pictures.ask("GET", place).headers["etag"]
    again = at_pictures.ask("GET", place, If_None_Match=f'"other", {tag}')
    assert (again.status, again.body, again.headers["etag"]) == (304, b"", tag)
    assert at_pictures.ask("GET", place, If_None_Match='"other"').status == 200


@pytest.mark.parametrize("content", [
    b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
    b"<html><script>alert(1)</script>", b"GIF89a" + bytes(40), b"%PDF-1.7", b"\x89PNG", b"MZ",
])  # fmt: skip
def test_what_is_no_photograph_is_not_taken(at_pictures: Visitor, content: bytes) -> None:
    """Even where it is called one."""
    before = list(at_pictures.tree.iter("img"))
    send(at_pictures, content)
    assert at_pictures.reply.status == 422
    assert "no JPEG, PNG or WebP" in at_pictures.words
    assert len(list(at_pictures.tree.iter("img"))) == len(before)


def test_no_picture_at_all_is_told_beside_its_field(at_pictures: Visitor) -> None:
    send(at_pictures, b"")
    assert at_pictures.reply.status == 422
    assert "Choose a picture" in at_pictures.words


def test_one_that_is_too_large_is_refused(at_pictures: Visitor) -> None:
    """By what is announced, before a byte of it is read (ASVS 12.1.1)."""
    reply = at_pictures.ask(
        "POST", at_pictures.path, b"", Origin=at_pictures.address,
        Content_Type=f"multipart/form-data; boundary={BORDER}",
        Content_Length=str(photographs.LARGEST + 10**6),
    )  # fmt: skip
    assert reply.status == 413


def test_a_photograph_of_another_visit_is_refused(at_pictures: Visitor) -> None:
    """Without the session's token nothing is kept (ASVS 4.2.2)."""
    assert send(at_pictures, picture("PNG"), token="0" * 64).reply.status == 403


def test_files_are_taken_nowhere_else(at_pictures: Visitor, number: int) -> None:
    at_pictures.path = f"/case/{number}/note"
    assert send(at_pictures, picture("PNG")).reply.status == 415


@pytest.mark.parametrize("sha256", ["0" * 64, "x", "..", "%2e%2e%2fshop.db"])
def test_a_photograph_that_is_not_there_is_not_there(
    at_pictures: Visitor, number: int, sha256: str
) -> None:
    assert at_pictures.ask("GET", f"/case/{number}/photographs/{sha256}").status == 404
