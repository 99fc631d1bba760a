"""Is what a form does to a case right: the guard of energised steps, stale forms, undo, can't?"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

from engine.cases.opening import open_shop
from engine.cases.shop import Shop
from engine.model.records import Model
from render.terminal import replies
from render.terminal.replies import Told
from render.wording.fixedwords import STILL_CHARGED
from tests.cases.conftest import Ticking
from tests.station.house import (
    INTAKE,
    Server,
    model,
    one_step,
    prove_and_close,
    serving,
    step_of,
    take_in,
    walk,
)
from tests.station.visitor import Visitor


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the shop is."""
    return tmp_path_factory.mktemp("turns")


@pytest.fixture(scope="module")
def host(folder: Path) -> Iterator[Server]:
    """A server on it."""
    with serving(folder, str(folder / "shop.db")) as server:
        yield server


@pytest.fixture(scope="module")
def shop(host: Server, folder: Path) -> Shop:
    """The same shop, to see what was kept."""
    return open_shop(str(folder / "shop.db"), who="looker", clock=Ticking())


@pytest.fixture(scope="module")
def unit() -> Model:
    """What is walked."""
    return model()


@pytest.fixture
def visitor(host: Server) -> Visitor:
    """Somebody with a case of their own, its entry check passed."""
    someone = Visitor(host.address)
    take_in(someone)
    while "entry" in someone.forms():
        someone.send("entry", answer="0")
    return someone


def number_of(visitor: Visitor) -> int:
    """The case that is shown."""
    return int(visitor.path.split("/")[2])


def kept(shop: Shop, visitor: Visitor) -> list[dict[str, Any]]:
    """What the shop keeps of it."""
    return [dict(event) for event in shop.case(number_of(visitor)).standing.events]


def ticks_of(visitor: Visitor) -> list[str]:
    """The lines of the set-up list that are to be ticked."""
    inputs = visitor.forms()["setup"].iter("input")
    return [str(e.get("value")) for e in inputs if e.get("name") == "did"]


# ---- the guard ----


def test_an_energised_step_wants_its_list_ticked(visitor: Visitor, shop: Shop, unit: Model) -> None:
    """Each line; nothing else counts, and nothing is kept before."""
    walk(visitor, unit, until="setup normal-mains")
    ticks, before = ticks_of(visitor), kept(shop, visitor)
    assert ticks
    for did in ([], ticks[1:], [*ticks, "7"], ["x"]):
        visitor.send("setup", did=did)
        assert visitor.reply.status == 422
        assert "Tick each line" in visitor.words
        assert kept(shop, visitor) == before
    visitor.send("setup", did=ticks)
    assert visitor.reply.status == 200
    assert kept(shop, visitor)[-1]["supply"] == "normal-mains"


def test_no_answer_counts_before_the_bench_is_set_up(visitor: Visitor, shop: Shop) -> None:
    """Whoever sends the form of a test by hand."""
    before = kept(shop, visitor)
    form = visitor.forms()["setup"]
    fields = {str(e.get("name")): str(e.get("value")) for e in form.iter("input")}
    for step in (fields["step"], "test known-good-socket"):
        sending = [("token", fields["token"]), ("at", fields["at"]), ("step", step)]
        visitor.post(f"/case/{number_of(visitor)}/answer", [*sending, ("outcome", "0")])
        assert visitor.reply.status == 409
        assert kept(shop, visitor) == before


@pytest.mark.parametrize(("volts", "says"), [
    ("", "Type what the meter reads"), ("done", "Type what the meter reads"),
    ("30", STILL_CHARGED), ("-31 V", STILL_CHARGED), ("4 ohm", "Type what the meter reads"),
])  # fmt: skip
def test_hands_go_in_only_after_volts_below_the_limit(
    visitor: Visitor, shop: Shop, unit: Model, volts: str, says: str
) -> None:
    """A word is no measurement."""
    while "volts-0" not in visitor.reply.text:
        one_step(visitor, unit)
    before = kept(shop, visitor)
    visitor.send("setup", **{"volts-0": volts})
    assert visitor.reply.status == 422
    assert says in visitor.words
    assert kept(shop, visitor) == before
    visitor.send("setup", **{"volts-0": "1.2 V"})
    assert kept(shop, visitor)[-1]["measured"][0]["volts"] == 1.2


def test_what_is_out_of_reach_counts_as_charged(
    visitor: Visitor, shop: Shop, unit: Model
) -> None:
    """The walk goes to what shows it, or halts; no test comes before."""
    while "volts-0" not in visitor.reply.text:
        one_step(visitor, unit)
    visitor.send("setup", **{"out-0": "yes"})
    assert kept(shop, visitor)[-1]["measured"][0]["out_of_reach"] is True
    assert step_of(visitor).partition(" ")[0] in ("setup", "halt")


def test_the_way_round_is_to_say_that_it_cant_be_done(
    visitor: Visitor, shop: Shop, unit: Model
) -> None:
    """Then the rest is planned anew without it."""
    walk(visitor, unit, until="setup normal-mains")
    visitor.go(f"/case/{number_of(visitor)}/cannot").send("cannot", lack="0")
    assert visitor.reply.status == 200
    event = kept(shop, visitor)[-1]
    assert event["event"] in ("cannot-do", "lacking")
    assert "normal-mains" not in step_of(visitor)


# ---- forms that come late, twice, or amiss ----


def test_a_form_sent_twice_counts_once(visitor: Visitor, shop: Shop, unit: Model) -> None:
    walk(visitor, unit, until="test")
    form = visitor.forms()["answer"]
    fields = [(str(e.get("name")), str(e.get("value"))) for e in form.iter("input")
              if e.get("type") == "hidden"]  # fmt: skip
    path = f"/case/{number_of(visitor)}/answer"
    visitor.post(path, [*fields, ("outcome", "1")])
    assert visitor.reply.status == 200
    visitor.path = path
    events = kept(shop, visitor)
    visitor.post(path, [*fields, ("outcome", "1")])
    assert visitor.reply.status == 409
    assert "Not taken" in visitor.words
    assert kept(shop, visitor) == events


def test_a_unit_taken_in_twice_by_one_form_is_one_case(host: Server, shop: Shop) -> None:
    visitor = Visitor(host.address).go("/take-in").send("/take-in/meaning", **INTAKE)
    page = visitor.reply
    visitor.send("/take-in", complaint="")
    first = visitor.path
    visitor.reply = page
    visitor.send("/take-in", complaint="")
    assert visitor.path == first
    assert shop.case(number_of(visitor)).standing.complaint is None


@pytest.mark.parametrize("outcome", ["99", "-1", "x", "1e3"])
def test_an_answer_that_is_none_is_not_taken(
    visitor: Visitor, shop: Shop, unit: Model, outcome: str
) -> None:
    walk(visitor, unit, until="test")
    before = kept(shop, visitor)
    visitor.send("answer", outcome=outcome)
    assert visitor.reply.status == 422
    assert kept(shop, visitor) == before


def test_a_kind_of_unit_that_nobody_knows_is_not_taken_in(host: Server) -> None:
    visitor = Visitor(host.address).go("/take-in/meaning?topology=toaster")
    assert visitor.reply.status == 422
    assert "Say which kind" in visitor.words


def test_a_complaint_that_nobody_knows_begins_nothing(host: Server, shop: Shop) -> None:
    before = shop.rows()
    visitor = Visitor(host.address).go("/take-in").send("/take-in/meaning", **INTAKE)
    visitor.send("/take-in", complaint="sings")
    assert visitor.reply.status == 422
    assert shop.rows() == before


# ---- words of the owner, readings, undo ----


def test_the_owners_words_suggest_and_never_force(host: Server) -> None:
    visitor = Visitor(host.address).go("/take-in").send("/take-in/meaning", **INTAKE)
    radios = [e for e in visitor.tree.iter("input") if e.get("name") == "complaint"]
    assert radios[0].get("value") == "never-lights"
    assert [e.get("value") for e in radios if e.get("checked") is not None] == [""]


@pytest.mark.parametrize(
    "text", ["0.4 ohm", "OL", "4k7", "3.1 V", "b", "sound", "undo", "", "1e9 V"]
)
def test_a_typed_reading_is_taken_as_at_the_terminal(
    visitor: Visitor, unit: Model, text: str
) -> None:
    test = unit.test("continuity-J2")
    query = urlencode({"text": text, "test": test.id})
    reply = json.loads(visitor.ask("GET", f"/case/{number_of(visitor)}/reading?{query}").body)
    there = replies.to_test(text, test, unit.arrangement(unit.start.supply))
    assert reply["taken"] is isinstance(there, Told)
    if isinstance(there, Told):
        assert test.outcome(there.answer.outcome).says in reply["says"]


def test_undo_takes_back_what_was_said_last(visitor: Visitor, shop: Shop, unit: Model) -> None:
    """The bench stays as it is."""
    walk(visitor, unit, until="test")
    step, before = step_of(visitor), kept(shop, visitor)
    one_step(visitor, unit)
    assert kept(shop, visitor)[-1]["event"] == "answered"
    visitor.send("undo")
    assert kept(shop, visitor) == before
    assert step_of(visitor) == step


def test_undo_goes_back_in_the_entry_check_and_from_a_refusal(host: Server, shop: Shop) -> None:
    visitor = Visitor(host.address)
    number = take_in(visitor)
    first = visitor.heading
    visitor.send("entry", answer="1")
    assert "refused" in visitor.words
    assert shop.case(number_of(visitor)).state == "verdict"
    assert visitor.go("/wall").reply.status == 200
    visitor.go(f"/case/{number}").send("undo")
    assert shop.case(number).state == "open"
    assert visitor.heading == first


def test_a_marking_and_what_is_known_are_events_like_others(
    visitor: Visitor, shop: Shop
) -> None:
    number = number_of(visitor)
    visitor.go(f"/case/{number}/known").send("mark", mark="nonsense")
    assert visitor.reply.status == 422
    visitor.go(f"/case/{number}/known").send("mark", mark="L1=none")
    assert kept(shop, visitor)[-1]["event"] == "not-fitted"
    visitor.go(f"/case/{number}/known?test=how-is-it-used").send("known", outcome="0")
    assert kept(shop, visitor)[-1] == {
        "event": "known", "test": "how-is-it-used", "answer": "plain", "reading": None
    }  # fmt: skip


def test_whoever_leaves_comes_back_to_an_unknown_bench(visitor: Visitor, unit: Model) -> None:
    walk(visitor, unit, until="test")
    one_step(visitor, unit)
    number = number_of(visitor)
    visitor.go(f"/case/{number}/leave").send("leave")
    assert visitor.path == "/"
    assert "Back at the bench" in visitor.go(f"/case/{number}").heading


# ---- is it worth going on ----


def test_whether_going_on_is_worth_it_stands_on_a_page(visitor: Visitor, unit: Model) -> None:
    """Minutes always; advice only where somebody said what the unit is worth."""
    walk(visitor, unit, until="test")
    number = number_of(visitor)
    words = visitor.go(f"/case/{number}/worth").words
    assert "to a verdict" in words
    assert "Nobody said what the unit is worth" in words
    visitor.go(f"/case/{number}/worth?unit=200&minute=0.1&parts=1&named=U1%3D2.5&currency=EUR")
    assert "worth it? go on:" in visitor.words
    assert "of 200.00 EUR" in visitor.words
    for query in ("unit=x", "minute=-1", "parts=1e9", "named=U1"):
        amiss = visitor.go(f"/case/{number}/worth?{query}")
        assert "Not taken yet" in amiss.words


# ---- the end ----


def test_a_unit_that_fails_a_proof_is_not_mended(visitor: Visitor, shop: Shop, unit: Model) -> None:
    """Nor is one whose proofs were not done; what was written stays on the page."""
    walk(visitor, unit)
    number = number_of(visitor)
    visitor.go(f"/case/{number}/close").send("close", outcome="mended", done="new wires")
    assert visitor.reply.status == 422
    assert "new wires" in visitor.reply.text
    proofs = {n: "as it is" for n in _names(visitor) if n.startswith("read-")}
    failure = {n: "yes" for n in _names(visitor) if n.startswith("pass-")} | {"pass-0": "no"}
    visitor.send("close", outcome="mended", **proofs, **failure)
    assert visitor.reply.status == 422
    assert "a unit that fails a proof is not mended" in visitor.words
    assert shop.case(number).closing is None
    visitor.go(f"/case/{number}")
    prove_and_close(visitor)
    assert shop.case(number).state == "closed"
    visitor.send("reopen")
    assert shop.case(number).state == "verdict"


def test_whoever_comes_back_to_a_verdict_measures_before_the_repair(
    visitor: Visitor, shop: Shop, unit: Model
) -> None:
    """How it is mended stands there only then; the volts are left with the case."""
    walk(visitor, unit)
    number = number_of(visitor)
    visitor.go(f"/case/{number}/leave").send("leave")
    visitor.go(f"/case/{number}")
    assert "Prove and close" not in visitor.words
    names = [n for n in _names(visitor, "safe") if n.startswith("volts-")]
    assert names
    visitor.send("safe", **dict.fromkeys(names, "200 V"))
    assert visitor.reply.status == 422
    assert "Prove and close" not in visitor.words
    visitor.send("safe", **dict.fromkeys(names, "0.7 V"))
    assert "Prove and close" in visitor.words
    assert "0.7 V" in shop.case(number).notes[-1].says


def _names(visitor: Visitor, form: str = "close") -> set[str]:
    return {str(e.get("name")) for e in visitor.forms()[form].iter("input")}
