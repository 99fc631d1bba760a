"""Which checks and ends a plan has by what the bench has, and whose minutes they take."""

from dataclasses import replace
from pathlib import Path

import pytest

from engine import library
from engine.assembly.pace import set_pace
from engine.assembly.shop import Shop
from engine.deduce.composition import Bench, compose
from engine.model.records import Mains
from engine.planner import plan
from kb.language import benchfile, loader
from kb.language.benchfile import Minutes
from kb.trouble import TroubleError

LAMP = "light-controlled-lamp"
MAINS = Mains(230, 50)
BEYOND = {"bench-low", "string-source", "esr-meter", "inductance-meter", "insulation-tester"}
PART_OF_NONE = {"proofs", "cautions", "stores", "wrong_verdict_minutes", "likelihood", "entry"}


def modelled(lamp=LAMP, **told):
    return library.model(lamp, mains=MAINS, **told)


def checks(model):
    return {test.id for test in model.tests}


def file_of(**says):
    return benchfile.load_plain(says, Path("bench.yaml"))


def told_of(error):
    return [trouble.code for trouble in error.value.troubles]


def test_what_is_not_usual_is_what_few_benches_have():
    """Named, so that a new entry is thought of."""
    assert benchfile.unusual(loader.as_shipped()) == BEYOND


def test_the_usual_bench_offers_no_check_that_needs_more():
    """No series resistance, inductance, fed rail or fed string."""
    usual, full = modelled(), modelled(having=library.everything())
    assert checks(full) - checks(usual) == {
        "esr-C1", "esr-C3", "whole-string-LED", "rail-current-control", "fed-TP3",
        "inductance-L2",
    }  # fmt: skip
    assert {test.supply for test in usual.tests}.isdisjoint(BEYOND)
    assert {a.id for a in usual.supply.arrangements}.isdisjoint(BEYOND)


def test_a_battery_lights_the_leds_and_fires_the_thyristor_on_the_usual_bench():
    """The very checks that a bench source does where there is one."""
    usual, full = modelled(), modelled(having=library.everything())
    for check in ("each-package-LED", "fires-Q1"):
        assert (usual.test(check).supply, full.test(check).supply) == ("battery", "bench-low")
        assert usual.likelihood[check] == full.likelihood[check]
    assert usual.arrangement("battery").energy == "elv"
    assert "battery" in {word for method in usual.methods for word in method.of}


def test_an_instrument_that_is_brought_in_brings_its_checks_back():
    """By the command line, or by the bench file; what is said for once goes before the file."""
    assert {"esr-C1", "esr-C3"} <= checks(modelled(having=frozenset({"esr-meter"})))
    assert "esr-C1" in checks(modelled(bench=file_of(has=["esr-meter"])))
    taken = modelled(bench=file_of(has=["esr-meter"]), without=frozenset({"esr-meter"}))
    assert checks(taken) == checks(modelled())


def test_a_usual_thing_that_a_shop_lacks_comes_back_for_once():
    """`lacks` in the file, `--with` on the command line."""
    poor = file_of(lacks=["battery"])
    assert "each-package-LED" not in checks(modelled(bench=poor))
    again = modelled(bench=poor, having=frozenset({"battery"}))
    assert "each-package-LED" in checks(again)


def test_a_factor_moves_every_minute_of_work_and_nothing_of_safety():
    """Proofs, cold checks, the price of a wrong verdict and of giving up stay as they are."""
    usual = modelled(complaint="died-with-flash")
    slow = modelled(complaint="died-with-flash", bench=file_of(minutes={"factor": 2}))
    for one, other in ((usual, slow),):
        assert [2 * t.minutes for t in one.tests] == [t.minutes for t in other.tests]
        assert [2 * r.minutes for r in one.rigs] == [r.minutes for r in other.rigs]
        for name in PART_OF_NONE:
            assert getattr(one, name) == getattr(other, name)
    opened = {o.id: o.minutes for o in slow.openings}
    assert all(opened[o.id] == o.minutes * (2 if o.inside else 1) for o in usual.openings)
    assert not all(o.inside for o in usual.openings)
    ends = {r.id: r.minutes for r in slow.remedies}
    for r in usual.remedies:
        factor = 2 if r.kind in ("repair", "downgrade") else 1
        assert ends[r.id] == pytest.approx(factor * r.minutes, rel=1e-12)
    pairs = [(a, b) for a in usual.supply.minutes for b in usual.supply.minutes]
    assert all(slow.supply.minutes[a][b] == 2 * usual.supply.minutes[a][b] for a, b in pairs)


def test_a_slower_shop_has_longer_plans():
    """Diagnosis alone scales with the factor where the plan is the same or the better one."""
    usual = modelled("buck-lamp", depth="stage")
    slow = modelled("buck-lamp", depth="stage", bench=file_of(minutes={"factor": 1.5}))
    before, after = (plan(model, seconds=20).proof.expected_cost for model in (usual, slow))
    assert before < after <= 1.5 * before


def test_a_figure_stands_in_place_of_the_usual_minutes_unscaled():
    """For an action, an opening, a remedy; a unit's own goes before that of all."""
    figures = {
        "factor": 2, "actions": {"ohms": 7}, "remedies": {"renew-R2": 3},
        "openings": {"diffuser": 4, f"{LAMP}/diffuser": 5},
    }  # fmt: skip
    own, usual = modelled(bench=file_of(minutes=figures)), modelled()
    assert own.test("ohms-R2").minutes == 7
    assert own.test("volts-TP2").minutes == 2 * usual.test("volts-TP2").minutes
    assert own.opening("diffuser").minutes == 5
    assert next(r for r in own.remedies if r.id == "renew-R2").minutes == 3


def test_a_bench_file_that_says_nothing_of_minutes_changes_none():
    """Nor one that is empty; documents stay as they were."""
    assert modelled(bench=file_of()) == modelled()
    model = modelled("buck-lamp")
    assert set_pace(model, Minutes(), {}) is model


def test_a_remedy_that_a_shop_does_not_do_is_no_end_of_its_plans():
    """Whatever it cured has another."""
    model = modelled(without=frozenset({"renew-R2"}))
    assert "renew-R2" not in {remedy.id for remedy in model.remedies}
    cured = {fault for remedy in model.remedies for fault in remedy.cures}
    assert {fault.id for fault in model.faults} <= cured


def test_remedies_without_which_a_fault_has_no_end_are_not_left_out():
    """Told in a sentence that names the fault."""
    with pytest.raises(TroubleError) as error:
        modelled(without=frozenset({"scrap", "hand-it-on"}))
    assert told_of(error) == ["KB707"]
    assert "nothing is left to do about other" in str(error.value)


@pytest.mark.parametrize(
    ("told", "code", "mend"),
    [
        ({"having": frozenset({"esr-metre"})}, "KB705", "Write esr-meter"),
        ({"having": frozenset({"ohms-R2"})}, "KB705", "Write one of"),
        ({"without": frozenset({"renew-R22"})}, "KB704", "Write renew-R2"),
        ({"traced": frozenset({"contrl"})}, "KB706", "Write control"),
        ({"bench": file_of(has=["esr-metre"])}, "KB125", "Write esr-meter"),
    ],
)
def test_names_that_nobody_knows_are_refused_with_the_nearest(told, code, mend):
    """Wherever they were said."""
    with pytest.raises(TroubleError) as error:
        modelled(**told)
    assert told_of(error) == [code]
    assert mend in error.value.troubles[0].mend


def spares(bench, known=None):
    known = known or loader.as_shipped()
    facts = compose(known, known.topologies["buck-lamp"], bench)
    return {fact.text("of") for fact in facts if fact.kind == "spare"}


def test_spares_are_what_the_shop_or_the_topology_says():
    """No board is one unasked; a donor unit is called unit."""
    assert spares(Bench(230, 50)) == set()
    file = file_of(spares=["buck-lamp/driver", "buck-lamp", "enabled-lamp/leds"])
    shop = Shop(file=file).bench(loader.as_shipped(), "buck-lamp", MAINS)
    assert spares(shop) == {"driver", "unit"}
    known = loader.as_shipped()
    lamp = known.topologies["buck-lamp"]
    sold = lamp.boards["leds"].model_copy(update={"spare": True})
    lamp = lamp.model_copy(update={"boards": {**lamp.boards, "leds": sold}})
    known = replace(known, topologies={**known.topologies, "buck-lamp": lamp})
    assert spares(Bench(230, 50), known) == {"leds"}


def test_traced_stages_come_from_both_command_line_and_file():
    """Those of this unit."""
    file = file_of(traced={LAMP: ["control"], "buck-lamp": ["filter"]})
    shop = Shop(traced=frozenset({"filter"}), file=file)
    assert shop.bench(loader.as_shipped(), LAMP, MAINS).traced == {"control", "filter"}


def test_all_that_a_shop_says_of_a_unit_is_in_the_key_of_what_is_kept():
    """Spares of other units are not."""
    plain = Shop().key(LAMP)
    for shop in (
        Shop(having=frozenset({"esr-meter"})),
        Shop(without=frozenset({"battery"})),
        Shop(traced=frozenset({"control"})),
        Shop(file=file_of(minutes={"factor": 1.5})),
        Shop(file=file_of(spares=[LAMP])),
        Shop(file=file_of(traced={LAMP: ["control"]})),
    ):
        assert shop.key(LAMP) not in (plain, Shop(file=file_of()).key(LAMP))
    assert Shop(file=file_of(spares=["buck-lamp"])).key(LAMP) == Shop(file=file_of()).key(LAMP)
