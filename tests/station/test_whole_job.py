"""Can a case be taken in, walked, proven and closed by a browser without script, with the server
killed on the way, and shared with a terminal?"""

from __future__ import annotations

from pathlib import Path

from engine.cases.shop import Shop
from tests.cases.conftest import at_bench, place, server, shop  # noqa: F401
from tests.station.house import (
    FAULT,
    environment,
    model,
    one_step,
    prove_and_close,
    serving,
    start,
    step_of,
    take_in,
    walk,
)
from tests.station.visitor import Visitor
from tests.words.cli import PROGRAM, Terminal

Address = str


def test_from_take_in_to_closed_with_a_kill_in_the_middle(
    place: Address, shop: Shop, tmp_path: Path  # noqa: F811
) -> None:
    """Nothing acknowledged is lost; the bench counts as left; forms of before work on."""
    unit = model()
    first = start(tmp_path, place)
    visitor = Visitor(first.address)
    number = take_in(visitor)
    done = walk(visitor, unit, until="setup")
    assert [step for step in done if step.startswith("entry")]
    one_step(visitor, unit)
    walk(visitor, unit, until="test")
    one_step(visitor, unit)
    before = shop.case(number).standing.events
    assert [event["event"] for event in before].count("answered") >= 1
    first.kill()
    with serving(tmp_path, place, port=first.port):
        visitor.go(f"/case/{number}")
        assert "Back at the bench" in visitor.heading
        assert shop.case(number).standing.events == before
        walk(visitor, unit)
        prove_and_close(visitor)
        assert "Closed" in visitor.words
        assert visitor.go(f"/case/{number}/sheet.pdf").reply.body.startswith(b"%PDF-")
    case = shop.case(number)
    assert case.closing is not None
    assert case.closing.faults == (FAULT,)
    assert case.closing.outcome == "mended"
    assert all(proof.passed for proof in case.closing.proofs)
    assert len(case.closing.proofs) >= 1
    assert {happening.who for happening in case.happenings} == {"Ann"}
    assert case.standing.events[: len(before)] == before


def test_begun_at_a_terminal_and_gone_on_with_in_the_page(
    place: Address, shop: Shop, tmp_path: Path  # noqa: F811
) -> None:
    """And back again: each comes to a bench that was left."""
    terminal = Terminal(
        [*PROGRAM, "walk", "buck-lamp", "--complaint", "never-lights", "--shop", place],
        tmp_path, {**environment(tmp_path), "TERM": "xterm"},
    )  # fmt: skip
    for line in ("no", "no", "no", "yes", "no"):
        terminal.wait("answer, or why")
        terminal.type(line + "\n")
    terminal.wait("help ›")
    terminal.type("stop\n")
    terminal.end()
    number = shop.last()
    assert number is not None
    unit = model()
    with serving(tmp_path, place) as host:
        visitor = Visitor(host.address).go(f"/case/{number}")
        assert "entry" not in visitor.forms()
        walk(visitor, unit, until="test")
        one_step(visitor, unit)
        step = step_of(visitor)
        answers = len(shop.case(number).standing.events)
        again = Terminal(
            [*PROGRAM, "resume", str(number), "--shop", place], tmp_path,
            {**environment(tmp_path), "TERM": "xterm"},
        )  # fmt: skip
        assert "back at the bench" in again.wait("done, can't")
        again.type("stop\n")
        again.end()
        # The terminal has written since: a form of before is not taken over it.
        assert len(shop.case(number).standing.events) > answers
        visitor.send("answer" if step.startswith("test") else "setup")
        assert visitor.reply.status == 409
        assert "Not taken" in visitor.words
        assert "Back at the bench" in visitor.words
