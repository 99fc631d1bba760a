"""Do paper, page and terminal set the bench up in one order, the safe one?"""

from __future__ import annotations

import re
from collections.abc import Iterator

from engine.model.plan import State
from render.drawing.bench_marks import Bench
from render.page.pagewriter import write_page
from render.page.screens import SetUp
from render.wording import setupwords
from render.wording.confirms import confirms_folded, with_confirms
from render.wording.course import Course
from render.wording.phrasing import Phrasing, Wording
from render.wording.turn import Turn
from tests.page import charts
from tests.page.test_page_confirms import SEEDS, documents

BEFORE = State(frozenset(), "normal", "meter")
OPENING = [{"id": "cap", "says": "take the cap off"}]


def order(then: State, *, dead: bool) -> tuple[list[str], list[str]]:
    """What is done before stores are measured and after, from a fed bench with a meter on it."""
    turn = Turn.between(OPENING, [BEFORE], then, bare="none", dead=dead)
    before, after = turn.in_order(
        supply=["supply"] * turn.supply,
        opening=[access.says for access in turn.accesses],
        rigging=[*(f"off {rig}" for rig in turn.off), *([f"fit {turn.fit}"] if turn.fit else [])],
    )
    return list(before), list(after)


def test_towards_the_dead_bench_the_plug_comes_first_and_rigs_after_the_stores() -> None:
    """Nobody opens a fed unit, nobody reaches for a rig beside an unmeasured store."""
    assert order(State(frozenset({"cap"}), "unplugged", "clip"), dead=True) == (
        ["supply", "take the cap off"],
        ["off meter", "fit clip"],
    )


def test_towards_a_fed_bench_the_supply_comes_last() -> None:
    """All that hands do is done by then."""
    assert order(State(frozenset({"cap"}), "limited", "clip"), dead=False) == (
        ["take the cap off"],
        ["off meter", "fit clip", "supply"],
    )


def test_what_stays_is_not_told() -> None:
    """Neither the supply nor the rig that stands already."""
    same = State(frozenset({"cap"}), "normal", "meter")
    assert order(same, dead=False) == (["take the cap off"], [])


def setups() -> Iterator[tuple[SetUp, setupwords.Doings]]:
    """Each set-up of some plans that is come to in one way: page and paper."""
    for model, chart in (charts.documents("lantern"), *(documents(seed) for seed in SEEDS)):
        nodes = confirms_folded(with_confirms(chart))
        course = Course.of(chart["root"], nodes, model["start"])
        page = write_page(model, chart, charts.DATE)
        screens = {screen.here.node: screen for screen in page.screens}
        for name in course.order:
            screen, stands = screens[name], course.stands[name]
            if isinstance(screen, SetUp) and len(stands) == 1:
                phrasing = Phrasing(Wording.FULL)
                yield screen, setupwords.doings(
                    model, nodes[name], stands, Bench.of(model), phrasing, name
                )


def test_paper_and_page_tell_as_much_before_and_after_measuring() -> None:
    """Sentence by sentence."""
    count = 0
    for screen, doings in setups():
        sentences = [len(re.findall(r"[^.]+", words)) for words in (doings.before, doings.after)]
        assert sentences == [len(screen.before), len(screen.after)]
        count += 1
    assert count > 5
