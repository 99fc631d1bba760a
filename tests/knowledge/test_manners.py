"""Is a unit with a fault one way or another once for all, and do its ways make up its rows?"""

from __future__ import annotations

from pathlib import Path

import pytest

from engine import library
from engine.assembly.builder import build
from engine.deduce.composition import Bench
from engine.deduce.deduction import Reasoner
from engine.model.records import Mains, Model
from kb.language import loader
from kb.trouble import TroubleError
from tests.knowledge.attempts import rule
from tests.knowledge.shop import CORD_LAMP, folder

BENCH = Bench(230, 50)


@pytest.fixture(scope="module")
def lamp() -> Model:
    """A lamp whose controller has a supply capacitor."""
    return library.model("buck-lamp", mains=Mains(230, 50))


def test_the_rows_of_a_fault_are_the_mean_over_its_manners(lamp: Model) -> None:
    """At each test at which a manner shows."""
    own = [manner for manner in lamp.manners if manner.fault == "C2-open"]
    assert sum(manner.odds for manner in own) == pytest.approx(1.0)
    for test in own[0].shows:
        row = lamp.row(test, "C2-open")
        for outcome, odds in row.items():
            mean = sum(manner.odds * manner.shows[test].get(outcome, 0.0) for manner in own)
            assert mean == pytest.approx(odds), (test, outcome)


def test_a_controller_that_stays_off_is_dark_at_every_look_and_gives_no_volts(lamp: Model) -> None:
    """Whatever is mended elsewhere; only a good capacitor across the lost one lights it."""
    off = next(m for m in lamp.manners if (m.fault, m.id) == ("C2-open", "stays-off"))
    looks = {test for test in off.shows if test.startswith(("known-good", "light-"))}
    assert len(looks) > 2
    shown = {outcome for test in looks for outcome in off.shows[test]}
    assert shown == {"dark", "as-before"}
    assert off.shows["volts-TP4"] == {"nothing": 1.0}
    assert "light-with-one-across-C2" not in off.shows


BLUR = "blurs: {of: light, at: unit, is: none, shows: %s, odds: %s, manner: %s}"


def own(at: Path, *blurs: tuple[str, str, str]) -> Model:
    """The cord lamp with blurs of the shop's own."""
    text = rule(", ".join(BLUR % blur for blur in blurs))
    knowledge = loader.read((folder(at, lamp=CORD_LAMP, own=text),))
    return build(Reasoner(knowledge).deduce("cord-lamp", BENCH), "cord-lamp", BENCH, "part")


@pytest.mark.parametrize(
    ("second", "words"),
    [(("flashes", "0.3", "sleepy"), "0.2 and 0.3"), (("flashes", "0.9", "lively"), "leave -0.1"),
     (("flashes", "0.1", "otherwise"), "otherwise")],
)  # fmt: skip
def test_manners_that_can_not_be_are_refused(
    tmp_path: Path, second: tuple[str, str, str], words: str
) -> None:
    """Two odds of one, more than all units, a name that is taken: told with the mend."""
    with pytest.raises(TroubleError) as told:
        own(tmp_path, ("dim", "0.2", "sleepy"), second)
    (trouble,) = told.value.troubles
    assert trouble.code == "KB513"
    assert words in trouble.what
    assert trouble.mend


def test_manners_may_be_all_that_there_is(tmp_path: Path) -> None:
    """No unit is then in none of them, and none has odds of 0."""
    model = own(tmp_path, ("dim", "0.2", "sleepy"), ("flashes", "0.8", "lively"))
    assert {manner.id for manner in model.manners} == {"sleepy", "lively"}
