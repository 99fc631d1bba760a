"""Is a lamp that nobody has opened led through the page to what it is, with nothing lost?"""

from __future__ import annotations

from pathlib import Path

import pytest

from engine import library
from engine.cases.opening import open_shop
from engine.cases.shop import Shop
from engine.model.records import Mains, Model
from tests.cases.conftest import Ticking
from tests.station.house import INTAKE, serving, step_of
from tests.station.visitor import Visitor
from tests.walk.test_unopened import BY_A_CAP, LAMP

TOPOLOGY = "light-controlled-lamp"


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the shop is."""
    return tmp_path_factory.mktemp("unopened") / "shop.db"


def test_a_lamp_is_led_to_what_it_is_by_undo_and_kill(place: Path) -> None:
    """One walk, for it takes long: undo reaches back before what it turned out to be; a server that
    was killed shows it again; what was answered stands as known in it, and a marking told then
    tells nothing twice."""
    lamp = library.model(LAMP, mains=Mains(230, 50))
    shop = open_shop(str(place), who="looker", clock=Ticking())
    with serving(place.parent, str(place)) as first:
        visitor = Visitor(first.address).go("/take-in")
        visitor.send("/take-in/meaning", **{**INTAKE, "topology": LAMP, "words": ""})
        visitor.send("/take-in", complaint="")
        number = int(visitor.path.rpartition("/")[2])
        _until_turned_out(visitor, lamp)
        events = shop.case(number).standing.events
        visitor.send("undo")
        assert not step_of(visitor).startswith("turned-out")
        assert len(shop.case(number).standing.events) < len(events)
        _until_turned_out(visitor, lamp)
    assert shop.case(number).intake.topology == LAMP
    answers = {e["test"]: e["answer"] for e in events if e["event"] == "answered"}
    assert answers
    with serving(place.parent, str(place)) as second:
        visitor = Visitor(second.address).go(f"/case/{number}")
        assert step_of(visitor) == f"turned-out {TOPOLOGY}"
        assert visitor.heading == TOPOLOGY.replace("-", " ")
        visitor.send("go-on")
        after = shop.case(number)
        assert after.intake.topology == TOPOLOGY
        assert after.standing.options["topology"] == TOPOLOGY
        own = {test.id for test in library.model(TOPOLOGY, mains=Mains(230, 50)).tests}
        known = {name: answer for name, answer in answers.items() if name in own}
        assert _known(shop, number) == list(known.items())
        withdrawn = [h for h in after.happenings if h.withdrawn_at]
        assert [after.is_taken_back(h) for h in withdrawn].count(True) == 1  # by undo
        assert len(withdrawn) > len(answers)
        assert step_of(visitor).removeprefix("test ") not in answers
        visitor.go(f"/case/{number}/known").send("mark", mark="R2=470k")
        assert visitor.reply.status == 200, visitor.words
        assert _known(shop, number) == list(known.items())


def _known(shop: Shop, number: int) -> list[tuple[str, str]]:
    events = shop.case(number).standing.events
    return [(e["test"], e["answer"]) for e in events if e["event"] == "known"]


def _until_turned_out(visitor: Visitor, lamp: Model) -> None:
    while not step_of(visitor).startswith("turned-out"):
        _one_look(visitor, lamp)


def _one_look(visitor: Visitor, lamp: Model) -> None:
    step, forms = step_of(visitor), visitor.forms()
    if "entry" in forms:
        visitor.send("entry", answer="0")
    elif "setup" in forms:
        inputs = [e for e in forms["setup"].iter("input") if e.get("name")]
        ticks = [str(e.get("value")) for e in inputs if e.get("name") == "did"]
        volts = {str(e.get("name")): "3 V" for e in inputs
                 if str(e.get("name")).startswith("volts-")}  # fmt: skip
        visitor.send("setup", did=ticks, **volts)
    else:
        name = step.removeprefix("test ")
        answers = [outcome.id for outcome in lamp.test(name).outcomes]
        if name in BY_A_CAP:
            visitor.send("answer", outcome=str(answers.index(BY_A_CAP[name])))
        else:
            visitor.send("unknown" if "unknown" in forms else "answer", outcome="0")
    assert visitor.reply.status == 200, visitor.words


def _number(visitor: Visitor) -> int:
    return int(visitor.path.split("/")[2])
