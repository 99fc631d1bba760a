"""Does the door hold: hosts, origins, tokens, sizes, passcode? Is HTTP spoken right?"""

from __future__ import annotations

from pathlib import Path

import pytest

from render.station.keys import machine_key
from tests.station.conftest import PASSCODE
from tests.station.house import INTAKE, Server, take_in
from tests.station.visitor import Visitor
from tests.words.cli import Desk

FORM = "application/x-www-form-urlencoded"
HOSTILE = '"><script>alert(1)</script><img src=x onerror=alert(2)>{{ 7*7 }}'


# ---- who may ask ----


@pytest.mark.parametrize("name", ["evil.example", "evil.example:80", "localhost.evil.example", "",
                                  "127.0.0.1.evil.example", "10.0.0.9", "[::1", "localhost@e.vil"])
def test_a_host_that_is_not_this_machine_is_refused(visitor: Visitor, name: str) -> None:
    """DNS rebinding comes by a name."""
    assert visitor.ask("GET", "/", Host=name or " ").status in (400, 421)


@pytest.mark.parametrize("name", ["localhost:1", "127.0.0.1", "[::1]:80", "LOCALHOST"])
def test_this_machine_is_let_in(visitor: Visitor, name: str) -> None:
    assert visitor.ask("GET", "/", Host=name).status == 200


@pytest.mark.parametrize("headers", [
    {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Sec_Fetch_Site": "cross-site"},
    {"Sec_Fetch_Site": "same-site"}, {"Origin": "https://localhost.evil.example"},
])  # fmt: skip
def test_a_form_of_another_site_is_refused(visitor: Visitor, headers: dict[str, str]) -> None:
    """Even with the right token."""
    visitor.go("/take-in/meaning?topology=buck-lamp")
    token = next(e.get("value") for e in visitor.tree.iter("input") if e.get("name") == "token")
    body = f"token={token}&topology=buck-lamp"
    reply = visitor.ask("POST", "/take-in", body, Content_Type=FORM, **headers)
    assert reply.status == 403


@pytest.mark.parametrize("token", ["", "0" * 64, "é"])
def test_a_form_without_its_token_is_refused(visitor: Visitor, token: str) -> None:
    visitor.go("/")
    visitor.post("/take-in", [("token", token), ("topology", "buck-lamp")])
    assert visitor.reply.status == 403


def test_a_token_of_another_session_is_refused(host: Server, visitor: Visitor) -> None:
    other = Visitor(host.address).go("/")
    token = next(e.get("value") for e in other.tree.iter("input") if e.get("name") == "token")
    visitor.go("/").post("/who", [("token", str(token)), ("who", "Eve")])
    assert visitor.reply.status == 403


def test_nothing_is_begun_by_a_refused_form(visitor: Visitor) -> None:
    before = visitor.go("/").words
    visitor.post("/take-in", [("token", ""), ("topology", "buck-lamp")])
    assert visitor.go("/").words == before


# ---- what may be sent ----


@pytest.mark.parametrize(("body", "kind", "status"), [
    ("{}", "application/json", 415), ("a=b", "text/plain", 415), ("a=b", "", 415),
    ("a=" + "x" * 70_000, FORM, 413), ("&".join("a=b" for _ in range(400)), FORM, 400),
    (b"a=\xff\xfe", FORM, 400), ("a=%ff", FORM, 400),
])  # fmt: skip
def test_what_is_no_form_of_ours_is_refused(
    visitor: Visitor, body: str | bytes, kind: str, status: int
) -> None:
    assert visitor.ask("POST", "/take-in", body, Content_Type=kind).status == status


def test_a_form_without_a_length_is_counted(visitor: Visitor) -> None:
    """Sent in chunks, it ends where it grows too large."""
    chunk = b"%x\r\n" % 8192 + b"x" * 8192 + b"\r\n"
    reply = visitor.ask(
        "POST", "/take-in", chunk * 10 + b"0\r\n\r\n", Content_Type=FORM,
        Transfer_Encoding="chunked",
    )  # fmt: skip
    assert reply.status == 413


def test_words_stay_words(visitor: Visitor) -> None:
    """Whatever is typed is shown as it was typed, on every page that shows it."""
    visitor.go("/take-in").send(
        "/take-in/meaning", **{**INTAKE, "unit": HOSTILE, "words": HOSTILE}
    )
    visitor.send("/take-in", complaint="never-lights")
    number = visitor.path.rpartition("/")[2]
    visitor.go(f"/case/{number}/note").send("note", says=HOSTILE)
    for path in ("/", "/wall", f"/case/{number}", f"/case/{number}/note", f"/case/{number}/trail",
                 "/?q=" + "%22%3E%3Cscript%3E", f"/case/{number}/known?q=%3Cscript%3E"):
        visitor.go(path)
        scripts = [e for e in visitor.tree.iter("script") if not e.get("src")]
        assert scripts == []
        assert not list(visitor.tree.iter("img"))
    assert HOSTILE in visitor.go(f"/case/{number}/note").words


@pytest.mark.parametrize("to", ["//evil.example", "https://evil.example/", "/\\evil.example",
                                "javascript:alert(1)", "/a\r\nSet-Cookie: x=y"])
def test_no_redirect_leads_elsewhere(visitor: Visitor, to: str) -> None:
    visitor.go("/")
    token = next(e.get("value") for e in visitor.tree.iter("input") if e.get("name") == "token")
    body = f"token={token}&who=Ann&to={to.replace(':', '%3A').replace(chr(13), '%0D')}"
    reply = visitor.ask("POST", "/who", body.replace("\n", "%0A"), Content_Type=FORM)
    assert reply.status == 303
    place = reply.headers["location"]
    assert place.startswith("/")
    assert not place.startswith(("//", "/\\"))
    assert "x" not in visitor.cookies


# ---- what goes out ----


@pytest.mark.parametrize("path", ["/", "/nowhere", "/case/999", "/static/station.js", "/wall"])
def test_every_answer_bears_its_headers(visitor: Visitor, path: str) -> None:
    headers = visitor.ask("GET", path).headers
    policy = headers["content-security-policy"]
    assert policy.startswith("default-src 'none'; ")
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert "server" not in headers


def test_a_session_is_out_of_the_reach_of_script(visitor: Visitor) -> None:
    line = visitor.ask("GET", "/").headers["set-cookie"]
    assert "HttpOnly" in line
    assert "SameSite=Lax" in line


def test_pages_have_no_script_or_style_within(visitor: Visitor) -> None:
    for path in ("/", "/take-in", "/take-in/meaning?topology=buck-lamp", "/wall"):
        for element in visitor.go(path).tree.iter():
            assert not [name for name in element.attrib if name.startswith("on")]
            assert "style" not in element.attrib
            assert element.tag != "style"


# ---- HTTP (RFC 9110) ----


@pytest.mark.parametrize("path", ["/", "/static/station.css", "/nowhere"])
def test_head_says_what_get_would_without_a_body(visitor: Visitor, path: str) -> None:
    get, head = visitor.ask("GET", path), visitor.ask("HEAD", path)
    assert (head.status, head.body) == (get.status, b"")
    assert head.headers["content-length"] == str(len(get.body))


@pytest.mark.parametrize(("method", "path", "allowed"), [
    ("PUT", "/", {"GET", "HEAD"}), ("DELETE", "/take-in", {"GET", "HEAD", "POST"}),
    ("GET", "/who", {"POST"}), ("GET", "/case/1/answer", {"POST"}),
])  # fmt: skip
def test_a_method_that_is_not_there_names_those_that_are(
    visitor: Visitor, method: str, path: str, allowed: set[str]
) -> None:
    reply = visitor.ask(method, path)
    assert reply.status == 405
    assert set(reply.headers["allow"].split(", ")) == allowed


@pytest.mark.parametrize("path", ["/nowhere", "/case/999", "/case/abc", "/static/../routes.py",
                                  "/static/%2e%2e%2froutes.py", "/case/999/sheet.pdf",
                                  "/case/99999999999999999999"])
def test_what_is_not_there_is_not_there(visitor: Visitor, path: str) -> None:
    reply = visitor.ask("GET", path)
    assert reply.status == 404
    assert b"Traceback" not in reply.body


def test_what_a_browser_has_is_not_sent_again(visitor: Visitor) -> None:
    """By its entity tag; a page of a case is kept by nobody."""
    first = visitor.ask("GET", "/static/station.css")
    tag = first.headers["etag"]
    for line in (tag, f'"other", {tag}', f"W/{tag}", "*"):
        again = visitor.ask("GET", "/static/station.css", If_None_Match=line)
        assert (again.status, again.body, again.headers["etag"]) == (304, b"", tag)
    assert visitor.ask("GET", "/static/station.css", If_None_Match='"other"').status == 200
    assert visitor.ask("GET", "/").headers["cache-control"] == "no-store"


# ---- the passcode ----


def test_nothing_is_shown_before_the_passcode(behind_passcode: Server) -> None:
    visitor = Visitor(behind_passcode.address)
    for path in ("/", "/wall", "/case/1", "/take-in", "/case/1/sheet.pdf", "/passcodes"):
        reply = visitor.ask("GET", path)
        assert (reply.status, reply.body) == (303, b"")
        assert reply.headers["location"].startswith("/passcode?to=/")
    assert visitor.ask("POST", "/take-in", "a=b", Content_Type=FORM).status == 403


def test_the_passcode_lets_one_browser_in_and_no_other(behind_passcode: Server) -> None:
    visitor = Visitor(behind_passcode.address).go("/wall")
    assert "not encrypted" in visitor.words
    visitor.send("/passcode", passcode="not this one")
    assert visitor.reply.status == 403
    visitor.send("/passcode", passcode=PASSCODE)
    assert visitor.path == "/wall"
    assert visitor.reply.status == 200
    assert take_in(visitor) >= 1
    stranger = Visitor(behind_passcode.address)
    stranger.cookies["nextprobe-in"] = visitor.cookies["nextprobe-in"]
    assert stranger.ask("GET", "/").status == 303


def test_guessing_has_to_wait(behind_passcode: Server) -> None:
    """After eight in a minute nobody gets in, not even with the right one."""
    visitor = Visitor(behind_passcode.address).go("/")
    statuses = [visitor.send("/passcode", passcode=f"guess {n}").reply.status for n in range(9)]
    assert statuses[-1] == 429
    assert visitor.send("/passcode", passcode=PASSCODE).reply.status == 429


def test_a_short_passcode_is_refused(desk: Desk) -> None:
    run = desk.run("serve", "--network", "--passcode", "short", "--shop", "shop.db")
    assert run.code == 2
    assert "CL162" in run.err


def test_a_port_that_is_taken_is_told(desk: Desk, host: Server) -> None:
    run = desk.run("serve", "--port", str(host.port), "--shop", "shop.db")
    assert run.code == 2
    assert "CL163" in run.err


def test_the_key_is_its_owners_alone(tmp_path: Path) -> None:
    """And stays the same, so that forms outlive a restart."""
    place = tmp_path / "there" / "page.key"
    key = machine_key(place)
    assert place.stat().st_mode & 0o077 == 0
    assert len(key) == 32
    assert machine_key(place) == key
    assert machine_key(tmp_path / "other.key") != key
