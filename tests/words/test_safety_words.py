"""Are the words of safety short, and right where the hands are?"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from engine import library
from engine.model.records import Mains, record_of
from engine.walk.entry import admit, remedy_for
from kb.language import loader
from render.wording import fixedwords

KNOWN = loader.as_shipped()
KB = Path(loader.SHIPPED)
MOST_WORDS = 18


@cache
def lamp(name: str = "light-controlled-lamp"):
    return library.model(name, mains=Mains(230, 50), having=library.everything())


@pytest.mark.parametrize("caution", KNOWN.cautions)
def test_a_caution_is_short_enough_to_be_read(caution: str) -> None:
    """What happens, and how to keep clear of it."""
    assert len(KNOWN.cautions[caution].says.split()) <= MOST_WORDS


def test_stores_are_below_one_limit_in_all_words() -> None:
    """Volts that stores are measured below, wherever they are named: 30 V (IEC 60598-1)."""
    limit = KNOWN.numbers["touch-volts"].value
    texts = [path.read_text(encoding="utf-8") for path in KB.rglob("*.yaml")]
    named_limits = re.findall(r"below (\d+) V", " ".join(texts))
    assert named_limits
    assert {float(volts) for volts in named_limits} == {limit}


def test_another_limit_goes_by_the_name_of_its_standard() -> None:
    """60 V DC is ES1 of IEC 62368-1: said beside it in every word that a bench reads."""
    texts = [caution.says for caution in KNOWN.cautions.values()]
    texts += [word for a in KNOWN.arrangements.values() for word in (a.says, a.how)]
    texts += [step for method in KNOWN.methods.values() for step in method.steps]
    texts += [test.how for test in lamp().tests]
    over = [text for text in texts if re.search(r"\b60 V", text)]
    assert over
    assert all("60 V DC (ES1)" in text for text in over)


def cautioned(thing) -> set[str]:
    return {record_of(lamp().cautions, caution).hazard for caution in thing.cautions}


def test_whoever_builds_limited_mains_is_told_of_lamp_and_earth() -> None:
    """At the arrangement itself, and at the first power-up after a repair."""
    isolated, behind_rcd = (record_of(lamp().supply.arrangements, name)
                            for name in ("isolated-limited", "rcd-limited"))  # fmt: skip
    assert {"hot-lamp", "no-rcd-protection", "limited-mains"} <= cautioned(isolated)
    assert {"hot-lamp", "mains-referenced", "limited-mains"} <= cautioned(behind_rcd)
    powered = cautioned(record_of(lamp().proofs, "limiter-power-up"))
    assert {"hot-lamp", "no-rcd-protection", "bursting-capacitor"} <= powered
    for name in ("no-rcd-protection", "mains-referenced"):
        assert "wrist strap" in KNOWN.cautions[name].says
        assert "earthed" in KNOWN.cautions[name].says


def test_hands_go_from_the_current_sockets_before_the_next_reading() -> None:
    """Said where the current is read, as caution and in how it is done."""
    test = record_of(lamp().tests, "rail-current-control")
    assert "current-sockets" in cautioned(test)
    assert "back into its volts sockets" in test.how


def test_a_hair_dryer_has_a_caution_of_its_own() -> None:
    """Wherever one is used."""
    warmed = [test for test in lamp().tests if "hair dryer" in test.how]
    assert warmed
    assert all("hot-air" in cautioned(test) for test in warmed)
    assert all("no solvent" in test.how for test in warmed)


def test_a_renewed_electrolytic_is_powered_under_cover() -> None:
    """Each remedy that renews one warns; the first power-up says how."""
    model = lamp("buck-lamp")
    bursts = {r.id for r in model.remedies if "bursting-capacitor" in r.cautions}
    assert {"renew-C1", "renew-C2", "renew-C3"} <= bursts
    assert "renew-R1" not in bursts
    assert "box or screen" in record_of(model.proofs, "limiter-power-up").how


def test_the_dead_arrangement_asks_for_nothing_inside_a_closed_unit() -> None:
    """What is due to be measured is listed by the program, where it can be reached."""
    dead = record_of(lamp().supply.arrangements, "unplugged")
    assert dead.says == "unplugged"
    assert "as soon as they can be reached" in dead.how


@pytest.mark.parametrize("question", ["refused-kinds", "wet-or-melted"])
def test_what_is_turned_away_is_not_measured(question: str) -> None:
    """Nor discharged, which would need it open: it is labelled and kept unplugged."""
    remedy = remedy_for(lamp(), admit(lamp(), {question: "yes"}))
    assert remedy is not None
    assert not re.search(r"again|once more|[Dd]ischarge it|take the readings", remedy.how)
    assert "so that nobody plugs it in" in remedy.how


def test_a_diagnosis_that_fits_nothing_is_read_again_only_where_safe() -> None:
    """The companion says it, not how the unit is handed on."""
    (again,) = record_of(lamp().remedies, "hand-it-on").companions
    assert again.startswith("If nothing about it looked unsafe")


def test_a_person_who_works_alone_is_told_what_to_do() -> None:
    """Someone near with a switch, not a command that can't be kept."""
    (general,) = fixedwords.GENERAL
    assert "Someone within call, a switch within their reach" in general
    words = [general, *(step for m in KNOWN.methods.values() for step in m.steps)]
    assert not any("never alone" in word.lower() for word in words)
