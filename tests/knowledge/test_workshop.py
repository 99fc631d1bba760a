"""What the sample shop's own folder promises: an amplifier channel and a strip lamp, made with
`nextprobe new` and rules of the shop's own, as good as what is shipped.

The checks that an amplifier bench wants stand in the trade's common practice; no source.
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import pytest

from engine import audit, library
from engine.chart import drawing
from engine.deduce.composition import Bench
from engine.deduce.deduction import Deduction, Reasoner
from engine.model.plan import Ask, Verdict
from engine.model.records import Mains, Model, document
from engine.planner import plan
from kb.language import loader
from kb.language.lint import lint
from tests.docs.schemas import WORKSHOP

ISOLATED = ("amplifier-channel", "strip-lamp")
SWITCH_MODE = "switch-mode-strip"
UNITS = (*ISOLATED, SWITCH_MODE)
SUPPLIES = (Mains(230, 50), Mains(120, 60))
BOTH = pytest.mark.parametrize("unit", UNITS)


@cache
def knowledge() -> Any:
    """Shipped knowledge and the workshop's own."""
    return loader.read((WORKSHOP,))


@cache
def modelled(unit: str, mains: Mains = SUPPLIES[0], depth: str = "part") -> Model:
    """The model of a unit of the workshop."""
    return library.model(unit, mains=mains, depth=depth, kb=WORKSHOP)


@cache
def planned(unit: str, mains: Mains = SUPPLIES[0], depth: str = "part") -> Any:
    """Its plan."""
    return plan(modelled(unit, mains, depth), seconds=0.0, effort=4e8)


@cache
def deduced(unit: str) -> Deduction:
    """All that its rules imply, with a complaint that they know."""
    bench = Bench(230, 50, "no-sound" if unit.startswith("amp") else "some-dark")
    return Reasoner(knowledge()).deduce(unit, bench)


def test_nothing_in_it_is_wrong() -> None:
    """As `check` would find it, short of deducing what is shipped anew."""
    assert [str(trouble) for trouble in lint(knowledge()) if trouble.grave] == []


@BOTH
@pytest.mark.parametrize("mains", SUPPLIES, ids=str)
@pytest.mark.parametrize("depth", ["stage", "part"])
def test_the_audit_has_nothing_to_say(unit: str, mains: Mains, depth: str) -> None:
    """Of minutes, cost, reach and safety."""
    model = modelled(unit, mains, depth)
    drawn = drawing.draw_up(model, planned(unit, mains, depth))
    assert audit.audit(document(model), json.loads(json.dumps(drawing.document(drawn)))) == ()


@BOTH
def test_nearly_every_fault_ends_in_a_remedy_that_cures_it(unit: str) -> None:
    """At most one of twenty ends in a group that names it."""
    model, tree = modelled(unit), planned(unit)
    astray = []
    for fault in model.faults:
        node = tree.nodes[tree.root]
        while isinstance(node, Ask):
            row = model.row(node.test, fault.id)
            node = tree.nodes[node.branches[max(row, key=lambda outcome: row[outcome])]]
        listed = [f.id for f in model.faults if f.parts]
        if fault.parts and not (
            isinstance(node, Verdict) and fault.id in model.remedy(node.remedy).cures
        ):
            astray.append(fault.id)
    assert len(astray) <= len(listed) / 20, astray


def test_each_rule_of_the_folder_fires_for_one_of_its_units() -> None:
    """But for those of complaints that nobody made here."""
    own = set(knowledge().rules) - set(loader.read().rules)
    fired = frozenset().union(*(deduced(unit).firings for unit in UNITS))
    complained = {
        rule for rule in own if any("complaint" in c for c in knowledge().rules[rule].when)
    }
    assert len(own) > 50
    assert own - fired - complained == set()


@pytest.mark.parametrize(
    "test",
    [
        "limiter-glow", "rests-at-amplifier", "idle-at-R12", "volts-TP4", "volts-TP5", "ripple-TP4",
        "ohms-F1", "ohms-F2", "ohms-F3", "ohms-R12", "ohms-R13", "junctions-Q7", "junctions-Q8",
        "relay-protection", "sound-on-limited-mains", "ohms-of-speaker", "source-elsewhere",
    ],
)  # fmt: skip
def test_an_amplifier_is_tried_as_its_trade_tries_it(test: str) -> None:
    """Series lamp, output to ground, idle current, rails, fuses, resistors, junctions, relay."""
    assert test in {one.id for one in modelled("amplifier-channel").tests}


def test_no_check_of_an_amplifier_speaks_of_light() -> None:
    """Rules for lamps leave it alone."""
    tests = modelled("amplifier-channel").tests
    assert [
        one.id for one in tests if "light" in one.says.lower() and "socket" not in one.says
    ] == []


def test_powered_checks_of_an_amplifier_warn_of_rails_loudspeaker_and_primary() -> None:
    """At each step inside, on limited mains."""
    inside = [
        one for one in modelled("amplifier-channel").tests
        if one.opened and one.supply == "isolated-limited"
    ]  # fmt: skip
    assert len(inside) >= 6
    for one in inside:
        assert {"two-rails", "loudspeaker-off", "live-primary", "limited-mains"} <= set(
            one.cautions
        )


def test_both_reservoirs_are_measured_before_hands_go_in() -> None:
    """Each of them; they are charged separately."""
    assert {store.part for store in modelled("amplifier-channel").stores} == {"C1", "C2"}


def test_no_remedy_sets_an_idle_current() -> None:
    """It is set open at full mains, which this bench does not do."""
    remedies = modelled("amplifier-channel").remedies
    assert [r.id for r in remedies if "set the idle" in f"{r.says} {r.how}".lower()] == []


def test_before_a_loudspeaker_goes_back_the_output_is_proved() -> None:
    """After every repair."""
    for remedy in modelled("amplifier-channel").remedies:
        if remedy.kind == "repair":
            assert "output-rests" in remedy.proofs


@pytest.mark.parametrize("unit", ISOLATED)
def test_an_isolated_unit_is_not_told_that_its_boards_are_live(unit: str) -> None:
    """The caution is for units joined to the mains; a lamp's model has it."""
    assert "live-led-board" not in {c.hazard for c in modelled(unit).cautions}
    lamp = library.model("buck-lamp", mains=SUPPLIES[0], depth="stage")
    assert "live-led-board" in {c.hazard for c in lamp.cautions}


def test_a_switch_mode_supply_is_live_and_its_reservoir_is_measured() -> None:
    """Mains is rectified in front of what isolates."""
    model = modelled(SWITCH_MODE)
    assert "live-led-board" in {c.hazard for c in model.cautions}
    assert "C1" in {store.part for store in model.stores}


@pytest.mark.parametrize(
    ("fault", "bus", "output"),
    [
        ("Q1-short", "nothing", "nothing"),
        ("Q1-open", "as-due", "nothing"),
        ("U1-none", "as-due", "nothing"),
        ("C2-short", "as-due", "nothing"),
        ("S1-open", "as-due", "as-due"),
        ("BR1-open-bond", "nothing", "nothing"),
    ],
)
def test_bus_and_output_of_a_switch_mode_supply_halve_the_search(
    fault: str, bus: str, output: str
) -> None:
    """A short behind the transformer is none to the mains; a shorted transistor is."""
    model = modelled(SWITCH_MODE)
    for test, due in (("volts-TP3", bus), ("volts-TP4", output)):
        row = model.row(test, fault)
        assert max(row, key=lambda outcome: row[outcome]) == due


@pytest.mark.parametrize("unit", UNITS)
def test_what_is_parted_from_the_mains_is_proved_against_its_output(unit: str) -> None:
    """At the higher limit alone: between mains and what hands touch stands double or reinforced
    insulation, 4 MΩ by IEC 60598-1 cl. 10.2.1 (from memory)."""
    (proof,) = [one for one in modelled(unit).proofs if one.id == "insulation"]
    assert "both output leads" in proof.says
    assert "4 MΩ" in proof.limit
    assert "2 MΩ" not in proof.limit


def test_a_lamp_without_an_output_is_proved_as_before() -> None:
    """It has nothing but touchable parts."""
    lamp = library.model("buck-lamp", mains=SUPPLIES[0], depth="stage")
    (proof,) = [one for one in lamp.proofs if one.id == "insulation"]
    assert "output" not in proof.says


@pytest.mark.parametrize("fault", ["Q1-short", "C1-short"])
def test_a_short_behind_a_primary_reads_across_transistor_and_bulk_capacitor(fault: str) -> None:
    """A primary is some ohms of wire to a meter, so that either reads near nothing, and two
    junctions at the contacts (Ohm's law; common practice). A lifted leg tells which."""
    model = modelled(SWITCH_MODE)
    shown = {t: model.row(t, fault) for t in ("ohms-C1", "ohms-Q1", "lifted-Q1")}
    assert shown["ohms-C1"]["near-nothing"] > 0.8
    assert shown["ohms-Q1"]["near-nothing"] > 0.8
    assert (shown["lifted-Q1"]["near-nothing"] > 0.8) is (fault == "Q1-short")
    assert model.row("diode-range-at-contacts", fault)["two-junctions"] > 0.8


@pytest.mark.parametrize("fault", ["C1-open", "C1-worn-flat", "C1-worn-bulged"])
def test_a_worn_bulk_capacitor_shows_behind_the_converter(fault: str) -> None:
    """The bus falls too far between two peaks, and the output dips with it (common practice)."""
    model = modelled(SWITCH_MODE)
    assert model.row("ripple-TP4", fault)["large"] > 0.5
    assert model.fault(fault).prior > 0.0


def test_the_folder_says_what_it_puts_in_place_of_what() -> None:
    """Item by item, each with both places."""
    replaced = {(o.section, o.name): o for o in knowledge().overridden}
    assert ("facts", "in-use") in replaced
    one = replaced["facts", "in-use"]
    assert one.place.line > 1
    assert str(one.replaces).startswith("kb/words/facts.yaml:")


def test_documents_name_both_editions() -> None:
    """Shipped and own; the first is that of the shipped knowledge alone."""
    shipped, own = modelled("strip-lamp").knowledge.split("+")
    assert shipped == loader.read().edition
    assert len(own) == 12
