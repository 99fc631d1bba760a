"""What a shop is fed: saved walks, case documents, counts, lines typed at a walk, requests."""

from __future__ import annotations

import asyncio
import contextlib
import functools
import io
import json
import re
import sys
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

from starlette.types import ASGIApp, Message

from engine.cases import exchange, lessons, photographs
from engine.cases.opening import open_shop
from engine.cases.shop import Shop
from engine.walk import record
from engine.walk.entry import admit
from render.cli import attendance, casebook, keeping, outset
from render.cli.briefing import Brief, as_begun, as_saved
from render.cli.options import Depth, Mains
from render.station.desk import Desk
from render.station.door import Doorway
from render.station.keys import Keys
from render.station.routes import application
from tests.bench.fuzz.readers import FOLDER, LANTERN, decoded, put, typed
from tests.bench.fuzz.trial import Reader
from tests.cases.intakes import JPEG, PNG, VERDICT, answer, intake, standing
from tests.words.cli import CAME_IN_WHOLE

FORM = b"application/x-www-form-urlencoded"
attendance._PATIENCE = 0.01  # pricing other ways is another matter, and waits for the clock
_LOOKS = ("", "/note", "/trail", "/known", "/close", "/sheet.pdf", "/cannot", "/undo", "/why")


def brief(model: Path | None = LANTERN, topology: str | None = None) -> Brief:
    """What the command line would have been told."""
    return Brief(topology, Mains("230/50"), Depth.PART, None, None, (), model, seconds=0.05)


# ---- walks ----


@functools.cache
def walks() -> tuple[str, ...]:
    """Walks of the lantern: left at once, half-way, at their verdict, with all that may happen."""
    scripts = (
        "stop\n", "done\ndead\nstop\n", "done\nworks\n" + "done\n0.1 V\n" * 3 + "3.1 V\nstop\n",
        "done\nx\ndone\n3 V\nundo\nx\nx\nx\nx\nx\n", "lacks isolated\nknown\nstop\n",
        "done\nlit\ndone\n0 V\n" + "a\n" * 12, "done\nworks\n" + "b\n" * 12,
    )  # fmt: skip
    texts = []
    for number, script in enumerate(scripts):
        path = FOLDER / f"walk-{number}.json"
        said, stdin = io.StringIO(), sys.stdin
        typed(CAME_IN_WHOLE + script)
        try:
            with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
                keeper = keeping.keeping_of(brief(), path, None, "")
                attendance.attend(brief(), keeper, as_json=False)
        finally:
            sys.stdin = stdin
        texts.append(path.read_text(encoding="utf-8"))
    return tuple(texts)


def _walk(text: str) -> None:
    told = as_saved(brief(None), put("walk.json", text))
    # Another model, or knowledge, is another reader's matter.
    _resumed(replace(told, model=LANTERN, topology=None, kb=None, good=None))


def _resumed(told: Brief) -> None:
    first = outset.model_of(told)
    attendance._check_unit(told, first)
    admission = admit(first, outset.entry_of(told))
    if not admission.is_admitted:
        record.turned_away(first, admission, told.options)
        return
    planner = attendance.foresight.patient(told.seconds, told.kb, told.model)
    walk = outset.opening_walk(told, first, admission, planner)
    record.document(walk)


def _dialogue(text: str) -> None:
    path = FOLDER / "dialogue.json"
    stdin = sys.stdin
    typed((CAME_IN_WHOLE if len(text) % 4 else "") + text)
    try:
        attendance.attend(brief(), keeping.keeping_of(brief(), path, None, ""), as_json=False)
    finally:
        sys.stdin = stdin


_DIALOGUES = (
    "done\ndead\nwhy\nhow\nundo\nhelp\nmore\nstop\n", "done\nworks\ndone\n3.1 V\nx\nknown\nq\n",
    "where R1\nwhere\ngood\nknown rail-volts=3 V\nknown L1=none\nstill\nproofs\ntraced\nx\ny\nq\n",
    "1\n2\na\nb\nc\n0.113\n<1000\n0-3 kV\nOL\n-\n?\nd\nd\nd\nq\n", "done\n" * 30, "a\n" * 40,
    "unplugged\n0 V\n0.4\n230\n230\n230 V\nquit\n", "lacks meter\ncan't\nno iron\n2\nx\n1\nq\n",
)  # fmt: skip


def _alone(text: str) -> None:
    attendance.run_alone(brief(), put("alone.yaml", text), as_json=len(text) % 2 == 0)


_ALONE = (
    "other-socket: dead\nrail-volts: 3.1 V\n",
    "other-socket: works\nrail-volts: [0.1 V, 3 V]\n",
    "whole: yes\ndry: no\nother-socket: lit\n",
    '{"other-socket": "dead", "rail-volts": "OL"}',
)


# ---- cases ----


@functools.cache
def shop() -> Shop:
    """A shop with two cases."""
    books = open_shop(FOLDER / "shop.db", who="Ann", clock=lambda: datetime.now(UTC))
    number, version = books.begin(intake())
    version = books.keep(number, version, standing([answer("volts-TP1", "3 V")], VERDICT))
    books.note(number, "came back")
    books.photograph(number, JPEG, "the board")
    books.begin(intake(unit="lamp two"))
    return books


@functools.cache
def cases() -> tuple[str, ...]:
    """Documents of cases, with and without photographs' bytes, one of a walk."""
    books = shop()
    case = books.case(1)
    plain = exchange.document(case, (JPEG,))
    walk = json.loads(walks()[3])
    walked = {
        **plain,
        "uid": "f" * 32,
        "events": [
            {"at": plain["opened_at"], "who": "Bo", "event": event} for event in walk["events"]
        ],
    }
    texts = [plain, exchange.document(case, None), walked, [plain, walked]]
    return tuple(json.dumps(one) for one in texts)


def _case(text: str) -> None:
    plain = decoded(text)
    documents = plain if isinstance(plain, list) else [plain]
    parcels = [exchange.unpack(one, "case.json") for one in documents]
    place = FOLDER / "taken.db"
    for left in FOLDER.glob("taken.db*"):
        left.unlink()
    books = open_shop(place, who="Ann", clock=lambda: datetime.now(UTC))
    try:
        for number in books.take_over([(parcel.case, parcel.contents) for parcel in parcels]):
            case = books.case(number)
            exchange.document(case, None)
            exchange.table(books.rows())
            list(casebook.page(case))
            list(casebook.index(books.rows(), "shop", False))
            as_begun(brief(None), record.reopen(_walk_of(case), "case"), "case")
    finally:
        books.engine.dispose()


def _walk_of(case: Any) -> Mapping[str, Any]:
    """What a case is resumed from."""
    saved = json.loads(walks()[0])
    return {
        **saved,
        "topology": case.intake.topology,
        "options": dict(case.standing.options),
        "entry": dict(case.standing.entry),
        "events": [dict(e) for e in case.standing.events],
    }


def _counts(text: str) -> None:
    plain = decoded(text)
    if lessons.is_counts(plain):
        lessons.merge(shop(), plain, 0.5, "counts.json")
        lessons.foreign(shop())


_COUNTS = json.dumps(
    {
        "format": lessons.FORMAT,
        "counts": [
            {"topology": "buck-lamp", "complaint": "", "fault": "J2-open", "cases": 2.0},
            {
                "topology": "buck-lamp",
                "complaint": "never-lights",
                "fault": "C1-open",
                "cases": 0.5,
            },
        ],
    }
)


def _photograph(text: str) -> None:
    content = text.encode("latin-1", "replace")
    photographs.check(content, "picture")
    shop().photograph(2, content, text[:30], "picture")


# ---- requests ----


@functools.cache
def station() -> tuple[ASGIApp, Keys]:
    """The page on that shop."""
    keys = Keys(b"k" * 32, None)
    return application(shop(), Desk(None, Mains("230/50"), 0.05), keys, Doorway(False)), keys


_SESSION = "s" * 32
_REQUESTS = (
    "GET / host=localhost\n", "GET /?q=lamp host=localhost\n", "GET /case/1 host=127.0.0.1:80\n",
    *(f"GET /case/1{at} host=localhost\n" for at in _LOOKS),
    *(f"GET /case/2{at} host=localhost\n" for at in _LOOKS),
    "GET /take-in host=localhost\n", "GET /wall host=localhost\n",
    "GET /take-in/meaning?topology=buck-lamp&words=dead&unit=x&mains=230/50 host=localhost\n",
    "GET /static/station.css host=localhost if-none-match=\"x\"\n",
    "GET /case/2/reading?text=3V&test=volts-TP1 host=localhost\n",
    "GET /passcode?to=/ host=localhost\n",
    "POST /take-in host=localhost origin=http://localhost\ntopology=buck-lamp&unit=x&words=y"
    "&mains=230/50&complaint=never-lights&once=1\n",
    "POST /who host=localhost\nwho=Ann&to=/\n", "POST /case/2/note host=localhost\nsays=hello\n",
    "POST /case/2/entry host=localhost\nat=1&step=entry whole&answer=0\n",
    "POST /case/2/answer host=localhost\nat=1&step=test x&outcome=0&reading=3 V\n",
    "POST /case/2/setup host=localhost\nat=1&step=setup&did=0&volts-C1=0.4 V\n",
    "POST /case/1/close host=localhost\nat=2&outcome=mended&fault=J2-open&done=x&cost=3\n",
    "POST /case/2/undo host=localhost\nat=1&to=0\n",
    "POST /case/2/cannot host=localhost\nat=1&why=0\n",
    "POST /case/2/known host=localhost\nat=1&test=volts-TP1&reading=3 V\n",
    "POST /passcode host=localhost\npasscode=x&to=//evil.example\n", "PUT / host=localhost\n",
)  # fmt: skip


def _request(text: str) -> None:
    """`METHOD TARGET NAME=VALUE ...` and, on the lines after it, a form; its token is put in."""
    head, _, body = text.partition("\n")
    method, target, *pairs = [*head.split(" "), "", ""]
    path, _, query = target.partition("?")
    headers = [
        (name.encode("latin-1", "replace").lower(), value.encode("latin-1", "replace"))
        for name, _, value in (pair.partition("=") for pair in pairs if "=" in pair)
    ]
    headers.append((b"cookie", f"nextprobe={_SESSION}".encode()))
    app, keys = station()
    form = b""
    if method == "POST":
        fields = [pair.partition("=")[::2] for pair in body.strip("\n").split("&")]
        token = keys.form_token(_SESSION)
        form = urlencode([*fields, ("token", token)], errors="surrogatepass").encode()
        if not any(name == b"content-type" for name, _ in headers):
            headers.append((b"content-type", FORM))
    raw = quote(path, safe="/%", errors="replace").encode()
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method[:20],
        "scheme": "http", "path": path, "raw_path": raw, "root_path": "", "headers": headers,
        "query_string": quote(query, safe="=&%+", errors="replace").encode(),
        "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80), "extensions": {},
    }  # fmt: skip
    replies: list[Message] = []

    async def receive() -> Message:
        return {"type": "http.request", "body": form, "more_body": False}

    async def send(message: Message) -> None:
        replies.append(message)

    asyncio.run(app(scope, receive, send))
    _check(replies)


def _check(replies: list[Message]) -> None:
    """No fault told, no header broken, no script within."""
    start = replies[0]
    said = b"".join(m.get("body", b"") for m in replies[1:])
    if start["status"] >= 500:
        raise RuntimeError(re.sub(rb"<[^>]+>|\s+", b" ", said).decode()[-600:])
    for name, value in start["headers"]:
        if re.search(rb"[\r\n\0]", name + value):
            raise RuntimeError(f"a broken header {name!r}: {value!r}")
    if b"<script>" in said or b"<img src=x" in said:
        raise RuntimeError("script within a page")


READERS = (
    Reader("walks", walks, _walk),
    Reader("dialogues", lambda: _DIALOGUES, _dialogue),
    Reader("alone", lambda: _ALONE, _alone),
    Reader("cases", cases, _case),
    Reader("counts", lambda: (_COUNTS,), _counts),
    Reader("photographs", lambda: tuple(p.decode("latin-1") for p in (JPEG, PNG)), _photograph),
    Reader("requests", lambda: _REQUESTS, _request, 60.0),
)  # fmt: skip
