"""Who and what comes in: hosts, origins, sessions, sizes; and the headers on all that goes out.

By the numbers of OWASP ASVS 4.0.3 (from memory): 3.4 cookies, 4.2.2 forms, 13.2.5 content types,
12.1.1 sizes, 14.4 headers, 14.5.3 origins. A host that is a name other than this machine's is
refused, so that no page elsewhere reaches in by a name that it has made to mean this machine.
"""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import parse_qsl, quote, unquote, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from render.station import uploads
from render.station.keys import ADMISSION_SECONDS, Keys

LARGEST_FORM = 64 * 1024
"""Bytes of a form: the longest of ours has some two thousand."""
MOST_FIELDS = 300
MOST_LETTERS = 40
"""Letters of the name of who is at a bench."""
SESSION, ADMISSION, WHO = "nextprobe", "nextprobe-in", "nextprobe-who"
LOGIN = "/passcode"
_OPEN_TO_ALL = "/static/"
_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "content-security-policy": _POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",  # a stricter one would hide a form's origin from us
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}
_FORM = "application/x-www-form-urlencoded"


@dataclass(frozen=True, slots=True)
class Doorway:
    """Which hosts a request may name: those of this machine alone, or any of its addresses too."""

    on_network: bool
    names: frozenset[str] = frozenset({"localhost"})

    @staticmethod
    def of(on_network: bool) -> Doorway:
        """The doorway of this machine."""
        if not on_network:
            return Doorway(False)
        own = socket.gethostname().casefold()
        return Doorway(True, frozenset({"localhost", own, f"{own}.local", own.partition(".")[0]}))

    def admits(self, host: str) -> bool:
        """Whether a Host header (RFC 9110, 7.2) names this machine."""
        try:
            name = urlsplit(f"//{host}").hostname or ""
        except ValueError:
            return False
        if name.casefold() in self.names:
            return True
        try:
            address = ipaddress.ip_address(name)
        except ValueError:
            return False
        return self.on_network or address.is_loopback


class Door:
    """The outermost layer of the page: refuses what may not come in, marks what goes out."""

    def __init__(self, app: ASGIApp, keys: Keys, doorway: Doorway) -> None:
        self.app, self.keys, self.doorway = app, keys, doorway

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        session = request.cookies.get(SESSION, "")
        fresh = not (len(session) == 32 and session.isalnum() and session.isascii())
        if fresh:
            session = self.keys.new_session()
        scope["state"] = {**scope.get("state", {}), "session": session}

        async def marked(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers[name] = value
                headers.setdefault("cache-control", "no-store")
                if fresh:
                    headers.append("set-cookie", cookie(SESSION, session))
            await send(message)

        refusal = self._refusal(request, session)
        app: ASGIApp = self.app if refusal is None else refusal
        await app(scope, receive, marked)

    def _refusal(self, request: Request, session: str) -> Response | None:
        headers, path = request.headers, request.scope["path"]
        if not self.doorway.admits(headers.get("host", "")):
            return PlainTextResponse("This machine is not called so.\n", 421)
        is_form = request.method == "POST"  # whatever else is no method of ours: 405
        if is_form and (refusal := _foreign(headers) or _unfit(headers, path)) is not None:
            return refusal
        is_open = path == LOGIN or path.startswith(_OPEN_TO_ALL)
        if is_open or self.keys.is_admitted(session, request.cookies.get(ADMISSION, "")):
            return None
        if is_form:
            return PlainTextResponse(f"First the passcode: {LOGIN}\n", 403)
        return RedirectResponse(f"{LOGIN}?to={quote(path)}", 303)


def _foreign(headers: Headers) -> Response | None:
    """Refused: a form that another site's page sent."""
    origin, site = headers.get("origin"), headers.get("sec-fetch-site")
    ours = origin is None or urlsplit(origin).netloc == headers.get("host", "")
    if ours and site in (None, "same-origin", "none"):
        return None
    return PlainTextResponse("This form comes from another page than ours.\n", 403)


def _unfit(headers: Headers, path: str) -> Response | None:
    kind = headers.get("content-type", "").partition(";")[0].strip().casefold()
    length = headers.get("content-length", "0")
    if kind == uploads.KIND and uploads.is_place(path):
        if not length.isdigit() or int(length) > uploads.LARGEST:
            return PlainTextResponse(uploads.TOO_LARGE, 413)
        return None
    if kind != _FORM:
        return PlainTextResponse(f"Send forms as {_FORM}.\n", 415)
    if not length.isdigit() or int(length) > LARGEST_FORM:
        return _too_large()
    return None


def _too_large() -> Response:
    return PlainTextResponse("That is more than a form of ours ever holds.\n", 413)


class ReadingError(Exception):
    """A form that can't be taken; `response` says so."""

    def __init__(self, response: Response) -> None:
        self.response = response
        super().__init__("form")


async def form_of(request: Request, keys: Keys) -> Mapping[str, tuple[str, ...]]:
    """The fields of a form, each with all of its values, control characters out.

    ReadingError for one that is too large, is no text, or does not bring its session's token."""
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > LARGEST_FORM:
            raise ReadingError(_too_large())
    try:
        pairs = parse_qsl(
            body.decode("ascii"), keep_blank_values=True, max_num_fields=MOST_FIELDS,
            encoding="utf-8", errors="strict",
        )  # fmt: skip
    except ValueError as wrong:
        raise ReadingError(PlainTextResponse("That is no form of ours.\n", 400)) from wrong
    fields: dict[str, tuple[str, ...]] = {}
    for name, text in pairs:
        fields[name] = (*fields.get(name, ()), plain(text))
    _check_token(request, keys, fields)
    return fields


async def upload_of(
    request: Request, keys: Keys
) -> tuple[Mapping[str, tuple[str, ...]], tuple[bytes, ...]]:
    """As `form_of`, of a form with files, and what those hold."""
    try:
        texts, files = await uploads.read(request)
    except uploads.UploadError as wrong:
        raise ReadingError(wrong.response) from wrong
    fields = {name: tuple(plain(text) for text in values) for name, values in texts.items()}
    _check_token(request, keys, fields)
    return fields, files


def is_upload(request: Request) -> bool:
    """Whether a form comes with files; `Door` has let it in only where those are taken."""
    return request.headers.get("content-type", "").strip().casefold().startswith(uploads.KIND)


def _check_token(
    request: Request, keys: Keys, fields: Mapping[str, tuple[str, ...]]
) -> None:
    token = (fields.get("token") or ("",))[0]
    if not keys.is_form_token(request.state.session, token):
        raise ReadingError(
            PlainTextResponse("This form is of another visit. Load its page anew.\n", 403)
        )


def has_already(request: Request, tag: str) -> bool:
    """Whether the browser has what this entity tag names (RFC 9110, 13.1.2)."""
    tags = [one.strip().removeprefix("W/")
            for one in request.headers.get("if-none-match", "").split(",")]  # fmt: skip
    return tag in tags or "*" in tags


def plain(text: str) -> str:
    """Text without control characters; line ends stay, as line feeds."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return "\n".join("".join(c for c in line if c.isprintable()) for line in lines).strip()


def cookie(name: str, value: str, seconds: int = 0) -> str:
    """A Set-Cookie line that no script reads and no other site's form sends (RFC 6265).

    No Secure: what is served is http, on this machine or the shop's own network."""
    age = f"; Max-Age={seconds}" if seconds else ""
    return f"{name}={quote(value, safe='')}; Path=/; HttpOnly; SameSite=Lax{age}"


def admission_cookie(keys: Keys, session: str) -> str:
    """What lets a browser in for a working day."""
    return cookie(ADMISSION, keys.admission(session), ADMISSION_SECONDS)


def who_of(request: Request, usual: str) -> str:
    """Who is at this bench, as the browser was told; else `usual`."""
    return plain(unquote(request.cookies.get(WHO, "")))[:MOST_LETTERS] or usual
