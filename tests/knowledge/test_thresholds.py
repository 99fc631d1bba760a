"""What follows from a figure of the trade holds just at it.

Common practice or a choice of ours; each case was worked out by hand.
"""

from __future__ import annotations

from functools import cache
from types import SimpleNamespace

import pytest

from engine import library
from engine.assembly.requisites import Requisites
from engine.calc.rating import resistor_watts
from engine.deduce import offers
from engine.deduce.composition import Bench as Supplied
from engine.deduce.deduction import Reasoner
from engine.deduce.facts import fact, readings, views_of
from engine.model import records
from engine.model.records import Fault, FaultyPart, Mains, Outcome
from engine.readings import belief
from kb.language import loader
from tests.knowledge.shop import CORD_LAMP, folder

MAINS = Mains(230, 50)


# ---- what a short takes along ----

TWO_FUSES = CORD_LAMP.replace(
    "      R1: {kind: fusible-resistor, place: line, value: 47 ohm}\n",
    "      R1: {kind: fusible-resistor, place: line, value: 47 ohm}\n"
    "      R2: {kind: fusible-resistor, place: line, value: 10 ohm}\n",
)


def shares_behind(tmp_path, text):
    """For each short: its own share, and all that stand for it and a part it took along."""
    knowledge = loader.read((folder(tmp_path / "shop", **{"lamp.yaml": text}),))
    kept = Reasoner(knowledge).deduce("cord-lamp", Supplied(230, 50)).hypotheses
    lone = {h.id: h.share for h in kept if h.brought is None}
    taken = {}
    for pair in kept:
        if pair.brought is not None:
            cause = pair.id.partition("-took-")[0]
            taken[cause] = taken.get(cause, 0.0) + pair.share
    return {cause: (lone[cause], share) for cause, share in taken.items()}


def test_a_short_may_always_stand_alone(tmp_path):
    """One fuse opens in 85 of 100 shorts; two would in 170, and get 95, so that 5 are left."""
    one = shares_behind(tmp_path, CORD_LAMP)
    two = shares_behind(tmp_path, TWO_FUSES)
    assert one
    assert {round(taken / (alone + taken), 6) for alone, taken in one.values()} == {0.85}
    assert {round(taken / (alone + taken), 6) for alone, taken in two.values()} == {0.95}


# ---- which answers free a part of a short ----


def requisites(fields, rows):
    """The requirements of a unit with one ohm test of R1 and the faults of `rows`."""
    words = {reading.field: "ohms" for reading in readings(offers.Test) if not reading.may_lack}
    facts = [fact("test", **{**words, "minutes": 1}), *fields]
    deduction = SimpleNamespace(
        all=lambda view: tuple(views_of(view, facts)),
        knowledge=SimpleNamespace(arrangements={"unplugged": SimpleNamespace(energy="none")}),
    )
    answers = (Outcome("low", "low", short=True), Outcome("fine", "fine"), Outcome("odd", "odd"))
    test = records.Test("ohms", "Ohms?", 1.0, (), "unplugged", "none", True, answers)
    faults = [Fault(name, "entry", name, 0.5, parts) for name, parts in PARTS.items()]
    return Requisites(deduction, [test], faults, {"ohms": rows})


FUSE, CAPACITOR = FaultyPart("R1", "open"), FaultyPart("C1", "short")
PARTS = {"blown": (FUSE,), "shorted": (CAPACITOR, FUSE)}


@pytest.mark.parametrize(("odds", "frees"), [(0.04, True), (0.05, True), (0.06, False)])
def test_an_answer_frees_of_a_short_that_hardly_ever_gives_it(odds, frees):
    """Once in twenty at most. Common practice, no source for the figure."""
    feared = [fact("pair", first="C1", second="R1"), fact("shorts-first", of="renew", part="C1")]
    rows = {
        "blown": {"fine": 1.0},
        "shorted": {"fine": odds, "low": 1.0 - odds},
    }
    (clear,) = requisites(feared, rows).of("renew")
    assert dict(clear.by) == ({"ohms": ("fine",)} if frees else {})


@pytest.mark.parametrize(("odds", "frees"), [(0.51, True), (0.5, True), (0.49, False)])
def test_an_answer_frees_of_a_short_where_the_open_fuse_alone_mostly_gives_it(odds, frees):
    """In half of the cases at least: else it is no sign of a fuse that opened by itself."""
    feared = [fact("pair", first="C1", second="R1"), fact("shorts-first", of="renew", part="C1")]
    rows = {
        "blown": {"fine": odds, "low": 1.0 - odds},
        "shorted": {"low": 1.0},
    }
    (clear,) = requisites(feared, rows).of("renew")
    assert dict(clear.by) == ({"ohms": ("fine",)} if frees else {})


# ---- misreads ----


@cache
def fully_equipped():
    """The buck lamp's model on a bench that has every instrument."""
    return library.model("buck-lamp", mains=MAINS, having=library.everything())


def test_a_worn_capacitor_reads_fine_once_in_twenty():
    """And by a slip in two of 100 more. So a fine series resistance leaves it 7 of 100 of its odds,
    beside faults that it can not see and that read fine in 98 of 100."""
    model = fully_equipped()
    prior = {fault.id: fault.prior for fault in model.faults}
    tried = 0
    for test in (t for t in model.tests if t.id.startswith("esr-")):
        rows = {fault.id: model.row(test.id, fault.id) for fault in model.faults}
        after = belief.update(model, prior, test.id, (("fine", 1.0),))
        worn = [f for f, row in rows.items() if row["high"] == 1.0]
        sound = next(f for f, row in rows.items() if row["fine"] == 1.0)
        for fault in worn:
            ratio = (after[fault] / prior[fault]) / (after[sound] / prior[sound])
            assert ratio == pytest.approx((0.05 + 0.02) / 0.98)
            tried += 1
    assert tried


# ---- what shops sell ----


@pytest.mark.parametrize(
    ("heat", "rating"), [(0.12, 0.25), (0.125, 0.25), (0.13, 0.5), (2.4, 5.0), (51.0, 102.0)]
)
def test_a_resistor_is_rated_for_twice_its_heat(heat, rating):
    """Common practice; above 100 W it is chosen from a data sheet."""
    assert resistor_watts(heat) == rating
