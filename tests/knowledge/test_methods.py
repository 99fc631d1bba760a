"""Does the sheet say how: of each arrangement, rig and proof, and is the kit for them complete?"""

from __future__ import annotations

import re
from functools import cache

import pytest

from engine import library
from engine.assembly.builder import build
from engine.deduce.composition import Bench
from engine.deduce.deduction import Reasoner
from engine.model.records import Mains, document, record_of
from kb.language import loader, references
from kb.language.lint import lint
from kb.trouble import TroubleError
from tests.knowledge.shop import CORD_LAMP, EARTHED_LAMP, folder

KNOWN = loader.as_shipped()
LAMPS = ("buck-lamp", "enabled-lamp", "light-controlled-lamp")
WITHOUT = (frozenset(), frozenset({"isolated-limited"}))
on_each_lamp = pytest.mark.parametrize("lamp", LAMPS)


@cache
def modelled(lamp, without=frozenset()):
    everything = library.everything()
    return library.model(lamp, mains=Mains(230, 50), having=everything, without=without)


def offered(kind, word):
    """What shipped rules conclude in a field of a kind of fact."""
    then = (clause for rule in KNOWN.rules.values() for clause in rule.then)
    return {clause[kind][word] for clause in then if kind in clause}


def told(field):
    return {name for method in KNOWN.methods.values() for name in getattr(method, field)}


def steps(method):
    return " ".join(KNOWN.methods[method].steps)


def test_each_arrangement_rig_and_proof_that_is_shipped_has_its_method():
    assert told("arrangements") == set(KNOWN.arrangements)
    assert told("rigs") == offered("rig", "does")
    assert told("proofs") == offered("proof", "name")


@on_each_lamp
@pytest.mark.parametrize("without", WITHOUT)
def test_a_model_tells_the_methods_of_all_it_uses_and_no_other(lamp, without):
    model = modelled(lamp, without)
    ids = {name for method in model.methods for name in method.of}
    supplies = {test.supply for test in model.tests} | {proof.supply for proof in model.proofs}
    fitted = {rig.id for rig in model.rigs} - {"none"}
    assert supplies | fitted | {proof.id for proof in model.proofs} <= ids
    assert ids <= supplies | fitted | {p.id for p in model.proofs} | {t.id for t in model.tests}
    assert all(method.steps and method.source for method in model.methods)


@on_each_lamp
def test_the_kit_is_that_of_the_methods_told(lamp):
    """Each thing once."""
    model = modelled(lamp)
    due = {thing for method in model.methods for thing in KNOWN.methods[method.id].kit}
    assert set(model.kit) == due
    assert len(model.kit) == len(due)
    assert "bleed resistor of 2.2 to 10 kΩ, 5 to 10 W, on insulated clips" in model.kit
    assert {"eye protection", "insulated clips", "isolating transformer"} <= set(model.kit)


def test_a_shop_without_an_isolating_transformer_is_told_the_other_way():
    """The RCD is tried before it is trusted, and nothing of the isolated way is told."""
    model = modelled("buck-lamp", WITHOUT[1])
    assert "isolated-limited-mains" not in {method.id for method in model.methods}
    assert "isolating transformer" not in model.kit
    assert "test button" in record_of(model.methods, "rcd-limited-mains").steps[0]


def test_methods_and_kit_stand_in_the_document():
    plain = document(modelled("buck-lamp"))
    assert plain["methods"][0].keys() == {"id", "says", "steps", "source", "of"}
    assert plain["kit"] == list(modelled("buck-lamp").kit)


def deduced(at, topology, **files):
    knowledge = loader.read((folder(at, **files),))
    bench = Bench(230, 50)
    return build(Reasoner(knowledge).deduce(topology, bench), topology, bench, "part")


def test_a_unit_that_stores_nothing_is_told_of_no_bleeding(tmp_path):
    """Its string straight behind the rectifier."""
    whole, _, _ = CORD_LAMP.partition("points:")
    front, _, rest = whole.partition("  filter:")
    lamp = front + rest[rest.index("  leds:") :]
    model = deduced(tmp_path / "shop", "cord-lamp", cord_lamp=lamp)
    assert model.stores == ()
    ids = {method.id for method in model.methods}
    assert "unplug" in ids
    assert not ids & {"bleed", "prove-the-meter", "will-not-fall"}


# ---- protective conductor ----


def test_an_earthed_unit_on_a_lead_is_proved_at_its_protective_conductor(tmp_path):
    """0.3 Ω to 5 m of 1.5 mm², 0.1 Ω more for 7.5 m, 1 Ω at most: EN 50678, DIN VDE 0701-0702."""
    model = deduced(tmp_path / "shop", "earthed-lamp", lamp=EARTHED_LAMP)
    proof = record_of(model.proofs, "protective-conductor")
    for figure in ("0.3 Ω", "5 m", "1.5 mm²", "0.1 Ω more per further 7.5 m", "never over 1 Ω"):
        assert figure in proof.limit
    assert "lead bent" in proof.says
    assert "EN 50678" in proof.source
    assert all(
        "protective-conductor" in remedy.proofs
        for remedy in model.remedies if remedy.kind == "repair"
    )  # fmt: skip
    order = [proof.id for proof in model.proofs]
    assert order.index("protective-conductor") < order.index("insulation")
    assert "appliance tester or low-ohm meter of 0.2 A or more" in model.kit


def test_without_a_lead_of_its_own_the_limit_is_that_of_the_metal(tmp_path):
    lamp = EARTHED_LAMP.replace(", corded]", "]")
    model = deduced(tmp_path / "shop", "earthed-lamp", lamp=lamp)
    proof = record_of(model.proofs, "protective-conductor")
    assert proof.limit == "at most 0.3 Ω"


@on_each_lamp
def test_a_unit_without_earth_is_not_proved_there(lamp):
    model = modelled(lamp)
    assert "protective-conductor" not in {proof.id for proof in model.proofs}
    assert not any("low-ohm" in thing for thing in model.kit)


# ---- what own knowledge may do ----

METHOD = """\
methods:
  - method: shop-method
    says: The shop's way
    proofs: [soak]
    steps: ["Do it so."]
    kit: [a hat]
    source: the shop's own habit
"""


def test_a_shop_adds_a_method_and_its_kit(tmp_path):
    model = deduced(tmp_path / "shop", "cord-lamp", cord_lamp=CORD_LAMP, methods=METHOD)
    assert record_of(model.methods, "shop-method").of == ("soak",)
    assert "a hat" in model.kit


def test_a_shop_can_not_replace_a_method(tmp_path):
    own = folder(tmp_path / "shop", methods=METHOD.replace("shop-method", "bleed"))
    with pytest.raises(TroubleError, match="KB109"):
        loader.read((own,))


def test_a_method_of_nothing_is_refused(tmp_path):
    own = folder(tmp_path / "shop", methods=METHOD.replace("    proofs: [soak]\n", ""))
    with pytest.raises(TroubleError, match="never told"):
        loader.read((own,))


@pytest.mark.parametrize("line", ["proofs: [soke]", "arrangements: [wall]", "rigs: [brigde]",
                                  "actions: [amps]"])  # fmt: skip
def test_a_method_of_what_there_is_none_of_is_told(tmp_path, line):
    own = folder(tmp_path / "shop", methods=METHOD.replace("proofs: [soak]", line))
    assert {trouble.code for trouble in lint(loader.read((own,)))} == {"KB618"}


QUESTION = """\
entry:
  - question: shop-question
    asks: Is it so?
    answers: {"yes": go-on, "no": scrap}
    why: The shop's own reason.
    source: the shop's own habit
"""


@pytest.mark.parametrize(
    "line",
    ['after: {wet-or-melted: ["maybe"]}', 'after: {wet-or-meltd: ["yes"]}',
     'after: {shop-question: ["yes"]}', "complaints: [too-loud]"],
)  # fmt: skip
def test_a_question_that_waits_for_what_never_comes_is_told(tmp_path, line):
    own = folder(tmp_path / "shop", entry=QUESTION + f"    {line}\n")
    assert [trouble.code for trouble in references.check(loader.read((own,)))] == ["KB619"]


def test_the_shipped_entry_check_and_methods_fit():
    assert list(references.check(KNOWN)) == []


def test_the_entry_check_travels_whole_whatever_the_complaint():
    """A conditional question with what brings it up."""
    for complaint in (None, "dim", "trips-protection"):
        model = library.model("buck-lamp", mains=Mains(230, 50), complaint=complaint)
        assert [question.id for question in model.entry] == list(KNOWN.entry)
        asked = record_of(model.entry, "insulation-before-energising")
        assert asked.complaints == ("trips-protection",)
        assert asked.after == {"bang-smell-trip": ("breaker or RCD tripped",)}


# ---- what the steps say ----


def test_a_store_is_measured_on_a_proved_meter_and_again():
    """Known source, same range, same leads, before and after (common practice)."""
    assert re.search(r"battery.*Measure the store.*battery again, same range, same leads",
                     steps("prove-the-meter"))  # fmt: skip
    bleeding = steps("bleed")
    for word in ("2.2 to 10 kΩ", "5 to 10 W", "never a screwdriver", "again just before you touch"):
        assert word in bleeding


def test_what_will_not_fall_is_left_alone():
    order = r"still feeds it.*plug.*second supply.*battery.*stop.*label"
    assert re.search(order, steps("will-not-fall"), re.IGNORECASE)


@pytest.mark.parametrize("method", ["isolated-limited-mains", "rcd-limited-mains"])
def test_limited_mains_is_built_in_order_and_taken_down(method):
    """Lamps by the unit's watts, nothing earthed, somebody near, and the way down."""
    words = steps(method)
    assert "In this order:" in words
    assert "40 to 60 W for a unit up to 20 W, 100 W for a bigger one" in words
    assert "no wrist strap, no earthed iron, no earthed instrument" in words
    assert "within call" in words
    assert "within reach" in words
    assert "Down again:" in words


def test_a_proof_that_can_not_be_done_is_no_pass():
    for proof in offered("proof", "name"):
        method = next(m for m in KNOWN.methods.values() if proof in m.proofs)
        assert method.steps[-1] == "Fails or can't be done: not proven, not returned."
    assert "a multimeter is none" in steps("prove-insulation")
    assert "foil" in steps("prove-insulation")
    assert "250 V where surge parts would conduct" in steps("prove-insulation")
    assert "never behind an isolating transformer" in steps("prove-touch-current")


def test_a_shop_whose_supply_is_lacking_has_no_method_of_it():
    model = modelled("buck-lamp", frozenset({"string-source"}))
    assert "string-source" not in {method.id for method in model.methods}
    assert "current-limited source for the volts of the string" not in model.kit
