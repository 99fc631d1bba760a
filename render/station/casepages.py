"""What can be looked at of a case, and what its forms do, by their place in its address."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from engine.cases import photographs
from engine.cases.shop import Shop
from engine.model.records import Test
from kb.trouble import TroubleError
from render.cli import casebook
from render.station import sheets, turns
from render.station.seats import Archive, Check, Place, Seat
from render.station.turns import AmissError, Form, StaleError
from render.terminal import replies
from render.terminal.replies import Told, Unclear

Look = Callable[[Place, Form], tuple[str, Mapping[str, Any]]]
"""From a case and the address's query to a template and its content; StaleError where there is
nothing of that sort to look at just now."""
Turn = Callable[[Shop, Place, Form], str | None]
"""What a form does to a case; where to go then, if not to the case."""
_MOST_CAPTION = 200
_PICTURE_AMISS = ("CS114", "CS115", "CS117")
ADDITIONS = ("/note", "/photographs")
"""Forms that are welcome whatever step is due: they add to a case and change none of its walk."""
_OUTCOMES = (
    ("mended", "mended: it works and passed its proofs"), ("unmended", "not mended, given back so"),
    ("scrapped", "scrapped"), ("no-fault", "no fault in it"),
)  # fmt: skip


def echo(test: Test, reply: Told | Unclear) -> dict[str, Any]:
    """What a reading is taken for, in words."""
    if not isinstance(reply, Told):
        return {"taken": False, "says": reply.says}
    says = " or ".join(test.outcome(outcome).says for outcome, _ in reply.answer.shares)
    return {"taken": True, "says": f"{reply.answer.reading or ''}: {says}".lstrip(": ")}


def _seat(place: Place) -> Seat:
    """The walk of a case; StaleError where none is under way."""
    if not isinstance(place, Seat):
        raise StaleError
    return place


def _of_walk(turn: Callable[[Seat, Form], None]) -> Turn:
    def run(shop: Shop, place: Place, form: Form) -> None:
        turn(_seat(place), form)

    return run


def _make_safe(shop: Shop, place: Place, form: Form) -> None:
    turns.make_safe(shop, _seat(place), form)


def _check_in(shop: Shop, place: Place, form: Form) -> None:
    if not isinstance(place, Check):
        raise StaleError
    turns.check_in(shop, place, form)


def _undo(shop: Shop, place: Place, form: Form) -> None:
    if isinstance(place, Check):
        turns.check_in(shop, place, Form({**form.fields, "do": ("undo",)}))
    elif not _seat(place).take_back():
        raise StaleError


def note(shop: Shop, place: Place, form: Form) -> str:
    """Words left with a case. AmissError for none."""
    words = form.one("says")[: turns.MOST_WORDS]
    if not words:
        raise AmissError(says="There is nothing to note.")
    shop.note(place.case.number, words)
    return f"/case/{place.case.number}/note"


def photograph(shop: Shop, place: Place, form: Form) -> str:
    """A photograph left with a case. AmissError for none, and for what is none."""
    if not form.files:
        raise AmissError(picture="Choose a picture, or take one.")
    says = form.one("says")[:_MOST_CAPTION]
    try:
        for content in form.files:
            shop.photograph(place.case.number, content, says)
    except TroubleError as wrong:
        if wrong.troubles[0].code not in _PICTURE_AMISS:
            raise
        says = replies.sentences(wrong)
        raise AmissError(picture=says[:1].upper() + says[1:]) from wrong
    return f"/case/{place.case.number}/photographs"


def _close(shop: Shop, place: Place, form: Form) -> None:
    turns.close(shop, place, form, sheets.closing(place)["proofs"])


def _reopen(shop: Shop, place: Place, form: Form) -> None:
    if not isinstance(place, Archive):
        raise StaleError
    shop.reopen(place.case.number)


def _lines(
    place: Place, title: str, lines: Callable[..., sheets.Lines]
) -> tuple[str, Mapping[str, Any]]:
    return "told", {"title": title, "lines": list(lines(_seat(place).walk))}


def _cannot(place: Place) -> dict[str, Any]:
    choices = turns.choices_of_cannot(_seat(place).walk)
    return {"choices": sheets.lettered(says for says, _ in choices)}


def _known(place: Place, query: Form) -> tuple[str, Mapping[str, Any]]:
    return "known", sheets.knowing(_seat(place).walk, query.one("test"), query.one("q"))


def closing(place: Place, form: Form) -> dict[str, Any]:
    """What the closing page offers, with what was ticked on it already."""
    if isinstance(place, Archive):
        raise StaleError
    offers = sheets.closing(place)
    rest = {name for name, _ in offers["rest"]}
    return {**offers, "outcomes": _OUTCOMES, "rest_open": bool(rest & set(form.all("fault")))}


LOOKS: Mapping[str, Look] = {
    "": lambda place, query: sheets.of(place),
    "/why": lambda place, query: _lines(place, "Why", sheets.why),
    "/how": lambda place, query: _lines(place, "How do you know", sheets.how),
    "/more": lambda place, query: _lines(place, "All of this step", sheets.more),
    "/worth": lambda place, query: ("worth", sheets.worth(_seat(place), query)),
    "/cannot": lambda place, query: ("cannot", _cannot(place)),
    "/known": _known,
    "/note": lambda place, query: ("note", {"notes": place.case.notes}),
    "/photographs": lambda place, query: (
        "photographs",
        {"pictures": place.case.photographs, "most": photographs.LARGEST // 10**6},
    ),
    "/trail": lambda place, query: (
        "told",
        {"title": "The case so far", "lines": list(casebook.entries(place.case))},
    ),
    "/leave": lambda place, query: ("leave", sheets.leaving(_seat(place).walk)),
    "/close": lambda place, query: ("close", closing(place, Form({}))),
}
FORMS: Mapping[str, tuple[str, Turn]] = {
    "/entry": ("", _check_in),
    "/setup": ("", _of_walk(turns.set_up)),
    "/measured": ("", _of_walk(turns.measure)),
    "/answer": ("", _of_walk(turns.answer)),
    "/unknown": ("", _of_walk(turns.pass_over)),
    "/undo": ("", _undo),
    "/safe": ("", _make_safe),
    "/still": ("", _of_walk(turns.no_help)),
    "/cannot": ("/cannot", _of_walk(turns.cannot)),
    "/known": ("/known", _of_walk(turns.know)),
    "/mark": ("/known", _of_walk(turns.mark)),
    "/traced": ("/known", _of_walk(turns.trace)),
    "/note": ("/note", note),
    "/photographs": ("/photographs", photograph),
    "/close": ("/close", _close),
    "/reopen": ("", _reopen),
}
