"""A browser without script: follows links, fills in forms as they stand, keeps cookies."""

from __future__ import annotations

import http.client
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode, urlsplit

from tests.page.reading import tree_of, words_of

Fields = list[tuple[str, str]]


@dataclass
class Reply:
    """What came back."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def text(self) -> str:
        """The body as text."""
        return self.body.decode("utf-8")


@dataclass
class Visitor:
    """Somebody at a browser; `page` is what it shows."""

    address: str
    cookies: dict[str, str] = field(default_factory=dict)
    path: str = "/"
    reply: Reply = field(default_factory=lambda: Reply(0, {}, b""))

    def ask(
        self, method: str, path: str, body: str | bytes | None = None, **headers: str
    ) -> Reply:
        """One request as it is; a redirect is not followed."""
        parts = urlsplit(self.address)
        connection = http.client.HTTPConnection(parts.hostname or "", parts.port, timeout=120)
        send = {"Cookie": "; ".join(f"{n}={v}" for n, v in self.cookies.items()),
                **{name.replace("_", "-"): value for name, value in headers.items()}}  # fmt: skip
        connection.request(method, path, body, {n: v for n, v in send.items() if v})
        response = connection.getresponse()
        names = {name.lower(): value for name, value in response.getheaders()}
        for line in response.msg.get_all("Set-Cookie", []):
            name, _, value = line.partition(";")[0].partition("=")
            self.cookies[name] = value
        reply = Reply(response.status, names, response.read())
        connection.close()
        return reply

    def go(self, path: str) -> Visitor:
        """Open an address and go where it leads."""
        self.path, self.reply = path, self.ask("GET", path)
        return self._follow()

    def post(self, path: str, fields: Fields, **headers: str) -> Visitor:
        """Send a form and go where it leads."""
        form = {"Content_Type": "application/x-www-form-urlencoded", "Origin": self.address}
        self.reply = self.ask("POST", path, urlencode(fields), **{**form, **headers})
        self.path = path
        return self._follow()

    def _follow(self) -> Visitor:
        for _ in range(5):
            if self.reply.status != 303:
                break
            self.path = self.reply.headers["location"]
            self.reply = self.ask("GET", self.path)
        return self

    # ---- what stands on the page ----

    @property
    def tree(self) -> Any:
        """The page as elements."""
        return tree_of(self.reply.text)

    @property
    def words(self) -> str:
        """All that one reads on it."""
        return " ".join(words_of(self.tree).split())

    @property
    def heading(self) -> str:
        """Its first heading."""
        return " ".join(words_of(next(self.tree.iter("h1"))).split())

    def forms(self) -> dict[str, Any]:
        """The forms on it by where they lead, the case's number left out."""
        return {
            re.sub(r"^/case/\d+/", "", str(form.get("action"))): form
            for form in self.tree.iter("form")
        }

    def send(self, name: str, **answers: str | Sequence[str]) -> Visitor:
        """Fill in a form and send it: what it holds already goes along."""
        form = self.forms()[name]
        fields = [pair for pair in _held(form) if pair[0] not in answers]
        for key, value in answers.items():
            texts = [value] if isinstance(value, str) else value
            fields += [(key.replace("_", "-") if key not in _plain(form) else key, t)
                       for t in texts]  # fmt: skip
        action = str(form.get("action"))
        if form.get("method") == "get":
            return self.go(f"{action}?{urlencode(fields)}")
        return self.post(action, fields)


def _plain(form: Any) -> set[str]:
    return {str(e.get("name")) for tag in ("input", "textarea", "button") for e in form.iter(tag)}


def _held(form: Any) -> Iterator[tuple[str, str]]:
    """What a form sends if nothing is touched."""
    for element in form.iter("input"):
        kind = element.get("type", "text")
        if kind in ("radio", "checkbox") and element.get("checked") is None:
            continue
        if element.get("name"):
            yield str(element.get("name")), str(element.get("value", "on"))
    for element in form.iter("textarea"):
        yield str(element.get("name")), words_of(element)
