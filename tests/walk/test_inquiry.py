"""What is worth asking of the unit itself: by its value before it is asked, and never in vain."""

from __future__ import annotations

from dataclasses import replace
from io import StringIO

import numpy as np
import pytest

from engine.circuit.dictionary import Dictionary
from engine.evidence import Witness, witness
from engine.evidence.make import apply_markings
from engine.planner import plan
from engine.walk import inquiry, job
from engine.walk.events import Fitted, Known, NotFitted, OfKind
from engine.walk.inquiry import GOOD, KIND, MARKING, PRESENCE, good_tests, worth_asking
from engine.walk.job import Outset, Walk
from kb.language import loader
from render.terminal import known
from render.terminal.leaving import Left
from render.terminal.screen import Screen
from render.terminal.session import Session
from tests.sampled_rail import FEED, RAIL, rail_model, rail_readings


def begun(made: Dictionary | None) -> Walk:
    """The rail before anything was read."""
    model = rail_model()
    return job.begin(Outset(model, witness=witness(model, made)), plan)


def built() -> Dictionary:
    """Four designs; the last has no R2, the third one of another kind."""
    made = rail_readings()
    units = (
        *made.units[:2], replace(made.units[2], kinds={"R2": "film-resistor"}),
        replace(made.units[3], values={}, absent=frozenset({"R2"})),
    )  # fmt: skip
    return replace(made, units=units)


def asked(walk: Walk) -> dict[tuple[str, str], float]:
    """All that is worth asking before the rail is read, with what it saves."""
    found: dict[tuple[str, str], float] = {}
    while (one := worth_asking(walk, RAIL, frozenset(found))) is not None:
        found[one.kind, one.part] = one.saves
    return found


def test_a_marking_is_asked_for_where_designs_differ_in_it() -> None:
    """And the second unit, which tells the design by what it reads."""
    found = asked(job.take(begun(rail_readings()), Known("feed", "at-or-below", "400 kΩ")))
    assert (MARKING, "R2") in found
    assert found[MARKING, "R2"] > 0.0


def test_whether_a_part_is_there_is_asked_and_taken() -> None:
    """Once it is known, by whichever event, it isn't asked any more."""
    before = begun(built())
    assert (PRESENCE, "R2") in asked(before)
    for event in (Fitted("R2"), NotFitted("R2")):
        assert (PRESENCE, "R2") not in asked(job.take(before, event))


def test_a_kind_is_asked_where_designs_have_two() -> None:
    """With its two names, as they may be typed."""
    made = built()
    other = [replace(unit, kinds={"R2": "wire"}) for unit in made.units[:2]]
    walk = begun(replace(made, units=(*other, *made.units[2:])))
    found = list(inquiry._questions(walk, RAIL, walk.joint.witness.dictionary))  # type: ignore[arg-type]
    assert [(q.answers, q.odds[:, 1:5].tolist()) for q in found if q.kind == KIND] == [
        (("R2=film-resistor", "R2=wire"), [[0, 0, 1, 1], [1, 1, 0, 0]])
    ]
    told = job.take(walk, OfKind("R2", "wire"))
    assert all(q.kind != KIND for q in inquiry._questions(told, RAIL, made))


def test_a_second_unit_is_read_at_what_comes_next() -> None:
    """Only where sound designs differ, and only while none was read."""
    walk = begun(rail_readings())
    assert good_tests(walk, RAIL) == ("rail",)
    assert any(kind == GOOD for kind, _ in asked(walk))
    made = rail_readings()
    alike = replace(made.cells["rail"]["no-fault"], samples=((None, 4.8),) * 4)
    cells = {**made.cells, "rail": {**made.cells["rail"], "no-fault": alike}}
    assert good_tests(begun(replace(made, cells=cells)), RAIL) == ()
    assert good_tests(begun(None), RAIL) == ()


def test_nothing_is_asked_without_designs() -> None:
    assert worth_asking(begun(None), RAIL) is None


def test_nothing_is_asked_where_one_remedy_is_best_whatever_is_read() -> None:
    """No answer could change the verdict."""
    model = rail_model()
    one = replace(model.remedies[0], cures=tuple(fault.id for fault in model.faults))
    only = replace(model, remedies=(one,))
    walk = job.begin(Outset(only, witness=witness(only, rail_readings())), plan)
    sure = {**walk.belief, "load-heavy": 0.0}
    assert worth_asking(replace(walk, belief=sure), RAIL) is None


def test_what_costs_more_than_it_saves_is_not_asked() -> None:
    """By the minutes that the knowledge tells: with wrong verdicts cheap, nothing pays."""
    model = replace(rail_model(), wrong_verdict_minutes=0.05)
    walk = job.begin(Outset(model, witness=witness(model, rail_readings())), plan)
    assert worth_asking(walk, RAIL) is None


def test_what_it_saves_is_the_sum_over_all_answers_and_readings() -> None:
    """Enumerated over fault, design and cell for one test to come; the even points come near it."""
    model = rail_model()
    alone = replace(model, tests=(FEED,), likelihood={"feed": model.likelihood["feed"]})
    heard: Witness = witness(alone, built())
    walk = job.begin(Outset(alone, witness=heard), plan)
    joint = walk.joint
    odds = np.array([f.prior for f in alone.faults])[:, None] * joint.prior[None, :]
    odds = odds[:, :, None] * inquiry._cells(joint, FEED)
    faults = [fault.id for fault in alone.faults]
    costs = [
        [r.minutes + alone.wrong_verdict_minutes * (f not in r.cures) for f in faults]
        for r in alone.remedies
    ]
    lacks = np.array([0.0, 0.0, 0.0, 0.0, 1.0, 0.0])
    lacks[-1] = (joint.prior[:-1] @ lacks[:-1]) / joint.prior[:-1].sum()
    total = 0.0
    for cell in range(odds.shape[2]):
        blind = odds[:, :, cell].sum(axis=1)
        total += min(float(blind @ cost) for cost in np.array(costs))
        for answer in (lacks, 1.0 - lacks):
            told = odds[:, :, cell] @ answer
            total -= min(float(told @ cost) for cost in np.array(costs))
    minutes = loader.as_shipped().numbers["fitted-minutes"].value
    past = {(GOOD, ""), (MARKING, "R2"), (KIND, "R2")}
    found = worth_asking(walk, FEED, past)
    assert total > 1.0
    assert found is not None
    assert found.saves + minutes == pytest.approx(total, rel=0.25)


def test_cells_hold_all_there_is() -> None:
    """Odds of cells sum to 1 for each fault and design, as those of outcomes do."""
    joint = begun(rail_readings()).joint
    for test in (RAIL, FEED):
        assert inquiry._cells(joint, test).sum(axis=2) == pytest.approx(1.0)


def test_each_kind_of_question_has_its_minutes() -> None:
    """In the knowledge, with what they are and where they are known from."""
    numbers = loader.as_shipped().numbers
    for kind in (MARKING, PRESENCE, KIND, GOOD):
        assert numbers[f"{kind}-minutes"].value > 0.0
        assert numbers[f"{kind}-minutes"].source


def test_words_name_part_gain_and_what_to_type() -> None:
    """One line for each kind; nothing where nothing is asked."""
    walk = job.take(begun(built()), Known("feed", "at-or-below", "400 kΩ"))
    model = walk.model
    one = worth_asking(walk, RAIL)
    assert one is not None
    for kind, part, answers, tests, words in (
        (MARKING, "R2", ("R2=330kΩ", "R2=470kΩ"), (), "printed on R2 (330kΩ or 470kΩ is usual)"),
        (PRESENCE, "R2", ("R2=fitted", "R2=none"), (), "Type known R2=fitted or known R2=none"),
        (KIND, "R2", ("R2=film-resistor", "R2=wire"), (), "kind R2 is: film resistor or wire"),
        (GOOD, "", (), ("rail",), "Unplug this one first"),
    ):
        ask = replace(one, kind=kind, part=part, answers=answers, tests=tests)
        text = known.inquiry(model, ask)
        assert words in text
        assert "saves about" in text
    assert known.inquiry(model, None) == ""


def test_markings_that_are_known_are_not_asked_again() -> None:
    model, made = rail_model(), rail_readings()
    heard = witness(model, made)
    heard = heard.narrower(apply_markings(heard.make, made, {"R2": 470e3}))
    walk = job.begin(Outset(model, witness=heard), plan)
    assert (MARKING, "R2") not in asked(walk)


def test_a_good_unit_s_readings_are_asked_for_and_taken() -> None:
    """Behind the word good: the point in question, until a number comes or Enter; then the walk
    knows them, and nothing is suggested twice."""
    saved: list[Walk] = []
    typed = iter(["good", "4 apples", "330 kΩ", "good", ""])
    out = StringIO()

    def line(prompt: str) -> str:
        out.write(prompt + "\n")
        text = next(typed, None)
        if text is None:
            raise EOFError
        return text

    walk = begun(rail_readings())
    while isinstance(step := job.pending(walk), job.Setting):
        walk = job.take(walk, step.event)
    assert isinstance(step, job.Question)
    with pytest.raises(Left):
        Session(Screen(out), line, saved.append).run(walk)
    assert step.test == "feed"
    assert dict(saved[-1].outset.options)["values"] == "feed=330kΩ"
    assert "A number with its unit is wanted here" in out.getvalue()
    assert out.getvalue().count("Is there a second, working one") <= 1
