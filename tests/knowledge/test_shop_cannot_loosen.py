"""A shop's own folder adds to safety or is refused with its line; it never takes from safety."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from engine.assembly.builder import build
from engine.deduce.composition import Bench
from engine.deduce.deduction import Reasoner
from engine.model.records import Model
from kb.language import loader
from kb.language.lint import lint
from kb.trouble import Trouble, TroubleError
from tests.knowledge import attempts
from tests.knowledge.shop import CORD_LAMP, folder

BENCH = Bench(230, 50)
UNIT = "cord-lamp"


def modelled(at: Path, depth: str = "part", **files: str) -> Model:
    """The lamp's model with a folder on top of what is shipped; TroubleError where refused."""
    knowledge = loader.read((folder(at, **files),))
    if troubles := [trouble for trouble in lint(knowledge) if trouble.grave]:
        raise TroubleError(troubles)
    return build(Reasoner(knowledge).deduce(UNIT, BENCH), UNIT, BENCH, depth)


@cache
def plain(at: Path) -> Model:
    """The lamp with nothing of the shop's own."""
    return modelled(at, lamp=CORD_LAMP)


@pytest.fixture(scope="module")
def lamp(tmp_path_factory: pytest.TempPathFactory) -> Model:
    """The lamp as the shipped rules know it."""
    return plain(tmp_path_factory.mktemp("plain"))


def refused(at: Path, **files: str) -> tuple[Trouble, ...]:
    """All that is told of a folder that is refused."""
    with pytest.raises(TroubleError) as told:
        modelled(at, **files)
    return told.value.troubles


def assert_told(troubles: tuple[Trouble, ...], code: str, at: Path) -> None:
    """The code, at a line of the shop's own file, in a sentence with a mend."""
    found = [trouble for trouble in troubles if trouble.code == code]
    assert found, [str(trouble) for trouble in troubles]
    for trouble in found:
        assert trouble.place.source.startswith(str(at))
        assert trouble.place.line > 0
        assert trouble.mend


@pytest.fixture(scope="module")
def read_at_once(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Trouble, ...]]:
    """What is told of each attempt, all of one kind read together from one folder."""
    told: dict[str, tuple[Trouble, ...]] = {}
    for linted in (False, True):
        files = {
            str(number): text.replace("shop-rule", f"shop-rule-{number}")
            for number, (_, text, code) in enumerate(attempts.READ)
            if code.startswith("KB6") == linted
        }
        at = folder(tmp_path_factory.mktemp("shop"), **files)
        try:
            troubles = tuple(lint(loader.read((at,))))
        except TroubleError as error:
            troubles = error.troubles
        for number in files:
            source = str(at / f"{number}.yaml")
            told[number] = tuple(found for found in troubles if found.place.source == source)
    return told


@pytest.mark.parametrize(
    ("number", "code"), [(str(n), tried[2]) for n, tried in enumerate(attempts.READ)],
    ids=[tried[0] for tried in attempts.READ],
)  # fmt: skip
def test_it_is_refused_as_it_is_read(
    read_at_once: dict[str, tuple[Trouble, ...]], number: str, code: str
) -> None:
    """With the code of what it tried, though all are read at once."""
    found = [trouble for trouble in read_at_once[number] if trouble.code == code]
    assert found, [str(trouble) for trouble in read_at_once[number]]
    assert all(trouble.grave and trouble.place.line > 0 and trouble.mend for trouble in found)


@pytest.mark.parametrize(
    ("text", "code"),
    [tried[1:] for tried in attempts.DEDUCED], ids=[a[0] for a in attempts.DEDUCED],
)  # fmt: skip
def test_it_is_refused_as_the_unit_is_deduced(tmp_path: Path, text: str, code: str) -> None:
    """With the code of what it tried, at the rule that tried it."""
    assert_told(refused(tmp_path, lamp=CORD_LAMP, own=text), code, tmp_path)


def test_all_that_is_wrong_is_told_at_once(tmp_path: Path) -> None:
    """Each at its own line."""
    wrong = attempts.number("touch-volts", "400") + attempts.ENTRY % "whole"
    troubles = refused(tmp_path, lamp=CORD_LAMP, own=wrong)
    assert {(trouble.code, trouble.place.line) for trouble in troubles} == {
        ("KB112", 2), ("KB109", 4),
    }  # fmt: skip


def test_a_misspelt_word_is_told_with_the_one_that_was_meant(tmp_path: Path) -> None:
    """The nearest one that is known."""
    (trouble, *_) = refused(tmp_path, lamp=CORD_LAMP, own=attempts.action("ohmz"))
    assert "Write ohms; or add 'ohmz' to `actions`" in str(trouble)


# ---- what is no mistake, and changes nothing that keeps hands from harm ------------------------


def hazards_of(model: Model) -> set[tuple[str, str]]:
    """Each step with each hazard that it warns of."""
    hazard = {caution.id: caution.hazard for caution in model.cautions}
    steps = (*model.tests, *model.rigs, *model.openings, *model.remedies, *model.proofs,
             *model.supply.arrangements)  # fmt: skip
    return {(step.id, hazard[caution]) for step in steps for caution in step.cautions}


def by_hand(model: Model) -> set[str]:
    """Each test and rig that is done by hand."""
    return {step.id for step in (*model.tests, *model.rigs) if step.hands_on}


def assert_as_safe(model: Model, lamp: Model) -> None:
    """Nothing that keeps hands from harm is less than in the lamp as it is."""
    assert hazards_of(model) >= hazards_of(lamp)
    assert by_hand(model) >= by_hand(lamp)
    assert {s.part for s in model.stores} >= {s.part for s in lamp.stores}
    for store, other in zip(model.stores, lamp.stores, strict=False):
        assert store.max_volts >= other.max_volts > store.below
    assert [a for a in model.supply.arrangements if a.id in {o.id for o in lamp.supply.arrangements}
            ] == list(lamp.supply.arrangements)  # fmt: skip


OWN_STAGE = """\
stages:
  - {kind: own-filter, says: the shop's filter, family: supply, places: {line: choke, own-can: can}}
places:
  - {place: own-can, lies: LIES, says: the shop's word for a capacitor}
"""
IN_OWN_STAGE = CORD_LAMP.replace("kind: bulk-filter", "kind: own-filter").replace(
    "place: reservoir", "place: own-can"
)
NAMELESS = """\
parts:
  - {kind: can, says: a can, proneness: 1, proneness_source: the shop, modes: {open: {share: 0.5, acts: open, says: open, source: the shop}}}
"""  # noqa: E501


@pytest.mark.parametrize(
    ("lamp_text", "more"),
    [
        (CORD_LAMP.replace("traits: [non-isolated]\n", ""), ""),
        (CORD_LAMP.replace("[non-isolated]", "[isolated]"), ""),
        (CORD_LAMP.replace("volts: 400 V}\n  leds", "volts: 1 V}\n  leds"), ""),
        (CORD_LAMP, attempts.rule("cold-first: {is: never mind}", step="conclude")),
        (CORD_LAMP, attempts.rule(attempts.STORE % ("$p", "1", "$p"), step="survey",
                                  when=attempts.RESERVOIR)),
        (CORD_LAMP, attempts.CAUTION % ("calm", "stored-charge", ", only_for: moon")),
        (CORD_LAMP, attempts.number("touch-volts", "12")),
        (CORD_LAMP, attempts.ENTRY % "all-well"),
    ],
    ids=["trait dropped", "trait contradicted", "rating understated", "cold checks asked for",
         "store understated", "caution for no unit", "stricter touch volts", "one more question"],
)  # fmt: skip
def test_it_changes_nothing_that_keeps_hands_from_harm(
    tmp_path: Path, lamp: Model, lamp_text: str, more: str
) -> None:
    """Hazards, hands, stores and supplies are at least what they were."""
    own = {"lamp": lamp_text, "own": more} if more else {"lamp": lamp_text}
    model = modelled(tmp_path, **own)
    if "cold-first" in more:
        assert model.openings[0].id == "cold-checks"
        assert by_hand(model) >= by_hand(lamp)
    else:
        assert_as_safe(model, lamp)


@pytest.mark.parametrize("lies", ["across", "beside", "in-line"])
@pytest.mark.parametrize(("rating", "most"), [(", volts: 400 V", 400), ("", 358)])
def test_a_capacitor_is_a_store_in_whatever_place_it_stands(
    tmp_path: Path, lies: str, rating: str, most: int
) -> None:
    """A word of the shop's own for its place hides nothing, nor does a rating left out."""
    text = IN_OWN_STAGE.replace(", volts: 400 V", rating)
    model = modelled(tmp_path, lamp=text, own=OWN_STAGE.replace("LIES", lies))
    assert [(s.part, s.max_volts) for s in model.stores] == [("C1", most)]
    assert model.stores[0].exposed_by == ("shell",)


def test_a_capacitor_of_a_kind_without_farads_is_a_store(tmp_path: Path) -> None:
    """What lies across the path and is marked in nothing may be one."""
    text = IN_OWN_STAGE.replace("{kind: electrolytic, place: own-can, value: 4.7 uF, volts: 400 V}",
                                "{kind: can, place: own-can}")  # fmt: skip
    own = OWN_STAGE.replace("LIES", "across") + NAMELESS
    model = modelled(tmp_path, lamp=text, own=own)
    assert [(s.part, s.max_volts) for s in model.stores] == [("C1", 358)]


def test_an_own_word_for_a_rig_brings_its_hazards(tmp_path: Path) -> None:
    """Clipped on beside a store, live once powered."""
    own = attempts.rig("clip-onto", more=attempts.DOING % ("clip-onto", "true", "source"))
    tried = attempts.action("watch", "rig: shop-rig, behind: shell")
    tried = tried.replace("id: shop-rule", "id: shop-test")
    model = modelled(tmp_path, lamp=CORD_LAMP, own=own, tried=tried)
    found = hazards_of(model)
    assert {("shop-rig", "stored-charge"), ("shop-test", "floating-source"),
            ("shop-test", "limited-mains"), ("shop-test", "live-led-board")} <= found  # fmt: skip
    assert model.rig("shop-rig").hands_on


def test_volts_without_a_meter_clipped_on_are_read_by_hand(tmp_path: Path) -> None:
    """So no energised supply will have them."""
    model = modelled(tmp_path, lamp=CORD_LAMP, own=attempts.action("volts"))
    assert model.test("shop-test").hands_on
