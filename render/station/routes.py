"""Which address is which: every page, every form, and what each answers.

A form is answered with a redirect (303) to how the case then stands, one that was filled in amiss
with the page again (422), one of a step that is no longer due with the case as it is (409).
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from engine.cases import photographs
from engine.cases.shop import Shop
from engine.walk import job
from kb.trouble import TroubleError
from render.benchsheet import content as sheet_content
from render.benchsheet import press
from render.cli import casework
from render.cli.failure import log_fault
from render.drawing.issue import issue_date
from render.station import casepages, door, pages, roundpages, rounds, sheets, turns
from render.station.casepages import Look, Turn
from render.station.desk import MOST_TYPED, Desk, as_typed
from render.station.door import Door, Doorway, ReadingError
from render.station.keys import Keys
from render.station.seats import Place, Seat, Seats
from render.station.turns import AmissError, Form, StaleError

STALE = (
    "Not taken: the case has moved on since that page was made, here, at a terminal or by a "
    "restart. This is how it stands now."
)
NETWORK = (
    "Whoever is on this network and has the passcode can read and change every case of this shop, "
    "for a working day. What goes over the air or the wire is not encrypted: use it on a network "
    "of your own, never over the internet."
)
_MOST_ROUND = 8000
"""Letters of a round's lines: an address is no longer than that in any browser."""
_MOST_CASES = 2**31 - 1
"""PostgreSQL's integer."""
_TITLES = {
    404: "Not here", 405: "Not so", 409: "Changed elsewhere", 503: "The shop is out of reach",
}  # fmt: skip


class Station:
    """The page's addresses, for one shop."""

    def __init__(self, shop: Shop, desk: Desk, keys: Keys) -> None:
        self.shop, self.desk, self.keys = shop, desk, keys
        self.seats = Seats(shop, desk.seconds)

    def routes(self) -> list[Route]:
        """Every address."""
        forms = {
            **casepages.FORMS, "/leave": ("/leave", self._leave), "/go-on": ("", self._turn_out)
        }  # fmt: skip
        looks = casepages.LOOKS
        case = "/case/{number:int}"
        return [
            Route("/", self._get(self.cases)),
            Route("/wall", self._get(self.wall)),
            Route("/take-in", self._both(self.take_in, self.begin), methods=["GET", "POST"]),
            Route("/take-in/meaning", self._get(self.meaning)),
            Route("/round", self._both(self.round, self.begin_round), methods=["GET", "POST"]),
            Route("/round/take-in", self._get(self.take_in_round)),
            Route("/round/meaning", self._get(self.round_meaning)),
            Route("/who", self._post(self.rename), methods=["POST"]),
            Route(
                door.LOGIN, self._both(self.ask_passcode, self.come_in), methods=["GET", "POST"]
            ),
            Route("/static/{name}", self._get(self.static)),
            Route(f"{case}/sheet.pdf", self._get(self.sheet)),
            Route(f"{case}/photographs/{{sha256}}", self._get(self.picture)),
            Route(f"{case}/reading", self._get(self.reading)),
            *(
                Route(
                    case + at,
                    self._both(
                        self._look(looks[at]) if at in looks else None,
                        self._turn(looks[forms[at][0]], forms[at][1]) if at in forms else None,
                    ),
                    methods=[*(["GET"] if at in looks else []), *(["POST"] if at in forms else [])],
                )
                for at in dict.fromkeys((*looks, *forms))
            ),
        ]

    # ---- the layer between Starlette and what a page does ----

    def _get(self, handler: Callable[[Request], Response]) -> Callable[..., Any]:
        async def endpoint(request: Request) -> Response:
            return await run_in_threadpool(self._safely, request, lambda: handler(request))

        return endpoint

    def _post(self, handler: Callable[[Request, Form], Response]) -> Callable[..., Any]:
        async def endpoint(request: Request) -> Response:
            try:
                if door.is_upload(request):
                    form = Form(*await door.upload_of(request, self.keys))
                else:
                    form = Form(await door.form_of(request, self.keys))
            except ReadingError as wrong:
                return wrong.response
            return await run_in_threadpool(self._safely, request, lambda: handler(request, form))

        return endpoint

    def _both(
        self,
        look: Callable[[Request], Response] | None,
        turn: Callable[[Request, Form], Response] | None,
    ) -> Callable[..., Any]:
        get = self._get(look) if look else None
        post = self._post(turn) if turn else None

        async def endpoint(request: Request) -> Response:
            handler = post if request.method == "POST" else get
            assert handler is not None  # Starlette has answered 405 before
            response: Response = await handler(request)
            return response

        return endpoint

    def _safely(self, request: Request, work: Callable[[], Response]) -> Response:
        try:
            return work()
        except TroubleError as wrong:
            return self.trouble(request, pages.status_of(wrong), pages.told(wrong))
        except HTTPException:
            raise
        except Exception as wrong:  # a bench gets a sentence, the log the rest
            return self.trouble(request, 500, log_fault(wrong))

    def _look(
        self, view: Look
    ) -> Callable[[Request], Response]:
        def handler(request: Request) -> Response:
            number, who = _number(request), self.who(request)
            with self.seats.at(number, who) as place:
                try:
                    name, content = view(place, _query(request))
                except StaleError:  # nothing of that sort to look at just now
                    return RedirectResponse(f"/case/{number}", 303)
                return self.case_page(request, place, name, content)

        return handler

    def _turn(
        self, view: Look, turn: Turn
    ) -> Callable[[Request, Form], Response]:
        def handler(request: Request, form: Form) -> Response:
            number, who = _number(request), self.who(request)
            with self.seats.at(number, who) as place:
                shop = replace(self.shop, who=who)
                try:
                    if not request.url.path.endswith(casepages.ADDITIONS):
                        turns.check_fresh(place, form)
                    to = turn(shop, place, form)
                    return RedirectResponse(f"/case/{number}" if to is None else to, 303)
                except StaleError:
                    name, content = sheets.of(place)
                    return self.case_page(request, place, name, {**content, "word": STALE}, 409)
                except AmissError as wrong:
                    sentences = wrong.sentences
                except TroubleError as wrong:
                    if pages.status_of(wrong) != 422:
                        raise
                    sentences = {"": pages.told(wrong)}
                name, again = view(place, form)
                if name == "close":
                    again = casepages.closing(place, form)
                amiss = {"amiss": sentences, "fields": form.fields}
                return self.case_page(request, place, name, {**again, **amiss}, 422)

        return handler

    # ---- pages ----

    def page(
        self, request: Request, name: str, content: Mapping[str, Any], status: int = 200
    ) -> Response:
        """A page with this session's token."""
        token = self.keys.form_token(request.state.session)
        return pages.page(
            request, name, content, token=token, who=self.who(request), status=status
        )

    def case_page(
        self, request: Request, place: Place, name: str, content: Mapping[str, Any],
        status: int = 200,
    ) -> Response:
        """A page of a case: its forms name version and step."""
        stem = {
            "number": place.case.number, "unit": sheets.heading(place.case), "step": place.step,
            "at": turns.version_of(place), "here": f"/case/{place.case.number}",
        }  # fmt: skip
        return self.page(request, name, {**stem, **content}, status)

    def trouble(self, request: Request, status: int, text: str) -> Response:
        """A page that says what went wrong, and the way on."""
        number = request.path_params.get("number")
        is_case = number is not None and status != 404
        content = {
            "title": _TITLES.get(status, "That can't be"), "sentences": [text],
            "back": f"/case/{number}" if is_case else "/",
            "way_back": "To the case" if is_case else "To the cases",
        }  # fmt: skip
        return self.page(request, "trouble", content, status)

    def who(self, request: Request) -> str:
        """Who is at the bench that asks."""
        return door.who_of(request, self.shop.who)

    def cases(self, request: Request) -> Response:
        """The open cases, or those that hold certain words."""
        search = door.plain(request.query_params.get("q", ""))[:100]
        rows = self.shop.rows(search.split(), () if search else ("open", "verdict"))
        content = {"rows": rows, "search": search, "shop": _place_name(self.shop)}
        return self.page(request, "cases", content)

    def wall(self, request: Request) -> Response:
        """The open cases for a screen that everybody sees."""
        now = datetime.now(UTC).astimezone().strftime("%H:%M")
        rows = self.shop.rows((), ("open", "verdict"))
        content = {"rows": rows, "now": now, "shop": _place_name(self.shop)}
        return self.page(request, "wall", content)

    def take_in(self, request: Request) -> Response:
        """What is handed over."""
        return self.page(request, "take_in", self.desk.offers(_query(request)))

    def meaning(self, request: Request) -> Response:
        """What the owner's words may mean."""
        form = _query(request)
        try:
            content = {**self.desk.meanings(form), "once": secrets.token_hex(8)}
        except AmissError as wrong:
            again = {**self.desk.offers(form), "amiss": wrong.sentences}
            return self.page(request, "take_in", again, 422)
        return self.page(request, "meaning", content)

    def begin(self, request: Request, form: Form) -> Response:
        """A case is begun."""
        shop = replace(self.shop, who=self.who(request))
        try:
            brief, once = self.desk.begin(shop, form)
            number = self.desk.keep(shop, brief, self.seats.model_of(brief), once)
        except AmissError as wrong:
            again = {**self.desk.offers(form), "amiss": wrong.sentences}
            return self.page(request, "take_in", again, 422)
        return RedirectResponse(f"/case/{number}", 303)

    # ---- several units at one sitting ----

    def round(self, request: Request) -> Response:
        """What is due at each unit, closed checks first."""
        numbers = [int(n) for n in request.query_params.getlist("case")
                   if n.isascii() and n.isdigit() and len(n) < 10]  # fmt: skip
        picks = numbers or rounds.open_cases(self.shop)
        rows = rounds.groups(self.seats, picks, self.who(request))
        return self.page(request, "round", {"groups": rows, "heads": rounds.SAYS})

    def take_in_round(self, request: Request) -> Response:
        """A line for each unit that is handed over."""
        return self.page(request, "round_take_in", self._round_offers(_query(request)))

    def round_meaning(self, request: Request) -> Response:
        """What the owners' words may mean."""
        form = _query(request, _MOST_ROUND)
        try:
            content = {**roundpages.meanings(self.desk, form), "once": secrets.token_hex(8)}
        except AmissError as wrong:
            again = {**self._round_offers(form), "amiss": wrong.sentences}
            return self.page(request, "round_take_in", again, 422)
        return self.page(request, "round_meaning", content)

    def begin_round(self, request: Request, form: Form) -> Response:
        """A case for each unit."""
        shop = replace(self.shop, who=self.who(request))
        numbers = []
        try:
            for once, one in roundpages.forms(form):
                brief, _ = self.desk.begin(shop, one)
                numbers.append(self.desk.keep(shop, brief, self.seats.model_of(brief), once))
        except AmissError as wrong:
            again = {**self._round_offers(form), "amiss": wrong.sentences}
            return self.page(request, "round_take_in", again, 422)
        query = "&".join(f"case={number}" for number in numbers)
        return RedirectResponse(f"/round?{query}", 303)

    def _round_offers(self, form: Form) -> dict[str, Any]:
        return {**self.desk.offers(form), "units_text": form.one("units"), "most": rounds.MOST}

    def rename(self, request: Request, form: Form) -> Response:
        """Who is at this bench."""
        response = RedirectResponse(_own_path(form.one("to")), 303)
        name = form.one("who")[: door.MOST_LETTERS]
        response.headers.append("set-cookie", door.cookie(door.WHO, name, 31_536_000))
        return response

    def ask_passcode(self, request: Request) -> Response:
        """The door."""
        content = {"to": _own_path(request.query_params.get("to", "/")), "meaning": NETWORK}
        return self.page(request, "passcode", content)

    def come_in(self, request: Request, form: Form) -> Response:
        """A passcode was told."""
        to = _own_path(form.one("to"))
        amiss, status = "That is not the passcode.", 403
        if self.keys.is_waiting():
            amiss, status = "Too many wrong ones. Wait a minute.", 429
        elif self.keys.is_passcode(form.one("passcode")):
            response = RedirectResponse(to, 303)
            admission = door.admission_cookie(self.keys, request.state.session)
            response.headers.append("set-cookie", admission)
            return response
        content = {"to": to, "meaning": NETWORK, "amiss": {"passcode": amiss}}
        return self.page(request, "passcode", content, status)

    def static(self, request: Request) -> Response:
        """Style, script, sign: told to a browser that has them already in one line."""
        name = request.path_params["name"]
        if name not in pages.STATIC:
            raise HTTPException(404)
        content, tag = pages.static(name)
        headers = {"etag": tag, "cache-control": "no-cache"}
        if door.has_already(request, tag):
            return Response(status_code=304, headers=headers)
        return Response(content, media_type=pages.STATIC[name], headers=headers)

    def picture(self, request: Request) -> Response:
        """A photograph as its bytes say what it is; what was sent with it says nothing."""
        number, sha256 = _number(request), request.path_params["sha256"]
        headers = {"etag": f'"{sha256}"', "cache-control": "private, no-cache"}
        picture = self.shop.picture(number, sha256)
        if picture is None:
            raise HTTPException(404)
        if door.has_already(request, headers["etag"]):
            return Response(status_code=304, headers=headers)
        kind, content = picture
        if kind not in photographs.ENDINGS:  # a shop's database that another hand was in
            raise HTTPException(404)
        name = f"case-{number}-{sha256[:8]}{photographs.ENDINGS[kind]}"
        headers["content-disposition"] = f'inline; filename="{name}"'
        return Response(content, media_type=kind, headers=headers)

    def sheet(self, request: Request) -> Response:
        """The bench sheet of a case."""
        case = self.shop.case(_number(request))
        model = casework.model_of(case, self.shop)
        contents = self.shop.contents(case.number)
        pdf = press.pdf(sheet_content.content(case, model, contents), issue_date())
        name = f'inline; filename="case-{case.number}.pdf"'
        return Response(pdf, media_type="application/pdf", headers={"content-disposition": name})

    def reading(self, request: Request) -> Response:
        """What a typed reading is taken for, as JSON, while it is typed."""
        text = door.plain(request.query_params.get("text", ""))[:80]
        name = request.query_params.get("test", "")
        with self.seats.at(_number(request), self.who(request)) as place:
            walk = place.walk if isinstance(place, Seat) else None
            node = job.due(walk) if walk else None
            name = name or (node.test if node else "")
            if walk is None:
                return JSONResponse({"taken": False, "says": ""}, 404)
            tests = {test.id: test for test in walk.model.tests}
            if name not in tests:
                return JSONResponse({"taken": False, "says": ""}, 404)
            supply = walk.model.arrangement(walk.bench.supply)
            reply = turns.reading(tests[name], text, supply)
            return JSONResponse(casepages.echo(tests[name], reply))

    def _turn_out(self, shop: Shop, place: Place, form: Form) -> None:
        if not isinstance(place, Seat):
            raise StaleError
        self.seats.turn_out(place)

    def _leave(self, shop: Shop, place: Place, form: Form) -> str:
        self.seats.leave(place.case.number)
        return "/"


def _number(request: Request) -> int:
    """The case's number; one that no database counts up to is not there."""
    number = int(request.path_params["number"])
    if number > _MOST_CASES:
        raise HTTPException(404)
    return number


def _query(request: Request, most: int = MOST_TYPED) -> Form:
    names: dict[str, tuple[str, ...]] = {}
    for name, text in request.query_params.multi_items():
        names[name] = (*names.get(name, ()), door.plain(text))
    return as_typed(Form(names), most)


def _own_path(path: str) -> str:
    """A path of ours; the first page for anything that leads elsewhere."""
    is_ours = path.startswith("/") and not path.startswith(("//", "/\\")) and path.isprintable()
    return path if is_ours and "\\" not in path else "/"


def _place_name(shop: Shop) -> str:
    """The shop by the last part of its name: the whole path is nobody's business."""
    return shop.name.rstrip("/").replace("\\", "/").rpartition("/")[2].partition("?")[0]


def application(shop: Shop, desk: Desk, keys: Keys, doorway: Doorway) -> Door:
    """The page as an ASGI application, behind its door."""
    station = Station(shop, desk, keys)

    def miss(request: Request, wrong: Exception) -> Response:
        assert isinstance(wrong, HTTPException)
        words = {404: "There is no such page.", 405: "That can't be asked of this page."}
        text = words.get(wrong.status_code, wrong.detail)
        response = station.trouble(request, wrong.status_code, text)
        for name, value in (wrong.headers or {}).items():
            response.headers[name] = value
        return response

    app = Starlette(routes=station.routes(), exception_handlers={HTTPException: miss})
    return Door(app, keys, doorway)
