"""Two lamps without a driver: what each fault shows, held to closed forms and to one's own wits.

Sources: charge per half wave, `I = 4 f C (Vp - Vs)`; the discharge of a capacitor; heat and ripple
of a linear regulator; otherwise common practice, as each row says.
"""

from __future__ import annotations

import math
import re
from functools import cache

import pytest

from engine import library
from engine.deduce.composition import Bench, compose
from engine.electrics import converters, discharge, dropper, mains
from engine.model.records import Mains
from kb.language import loader

SUPPLIES = {"230": Mains(230, 50), "120": Mains(120, 60)}
DROPPER, LINEAR = "capacitor-dropper-lamp", "linear-lamp"
DIODES = 1.4
LINES = 120


@cache
def model(topology, volts="230", depth="part"):
    return library.model(topology, mains=SUPPLIES[volts], depth=depth, having=library.everything())


def likeliest(topology, test, fault, volts="230"):
    row = model(topology, volts).row(test, fault)
    return max(row, key=lambda outcome: row[outcome])


def asked(topology, name, volts="230"):
    return next(test for test in model(topology, volts).tests if test.id == name)


@cache
def facts(topology, volts):
    """What the unit is made of, on one mains."""
    knowledge, supply = loader.read(), SUPPLIES[volts]
    made = compose(knowledge, knowledge.topologies[topology], Bench(supply.volts, supply.hertz))
    return {fact.text("name"): fact for fact in made if fact.kind == "part"}


def value(topology, part, volts="230"):
    """A part's marking in base units at one mains."""
    return facts(topology, volts)[part].number("value")


def string_volts(topology, volts="230"):
    return value(topology, "LED", volts) * facts(topology, volts)["LED"].number("count")


# ---- what a bench sees ----

SHOWN = [
    # a film capacitor that loses capacitance: dim, the string's volts stay, its own current falls
    (DROPPER, "C1-worn-some", "known-good-socket", "dim"),
    (DROPPER, "C1-worn-some", "drop-R1", "less"),
    (DROPPER, "C1-worn-some", "farads-C1", "less"),
    (DROPPER, "C1-worn-some", "volts-TP2", "as-due"),
    (DROPPER, "C1-worn-far", "drop-R1", "little"),
    (DROPPER, "C1-worn-far", "farads-C1", "little"),
    (DROPPER, "C1-open", "drop-R1", "nothing"),
    (DROPPER, "C1-open", "known-good-socket", "dark"),
    # shorted, it lets the mains through the string, and the fusible resistor goes
    (DROPPER, "C1-short", "light-on-limited-mains", "glares"),
    (DROPPER, "C1-short", "limiter-glow", "stays-bright"),
    (DROPPER, "C1-short-took-R1", "ohms-R1", "open"),
    (DROPPER, "C1-short-took-R1", "ohms-C1", "near-nothing"),
    # a short behind the capacitor is no short to the mains
    (DROPPER, "C2-short", "limiter-glow", "not-bright"),
    (DROPPER, "C2-short", "known-good-socket", "dark"),
    (DROPPER, "C2-short", "drop-R1", "as-due"),
    (DROPPER, "BR1-short-across", "limiter-glow", "not-bright"),
    (DROPPER, "BR1-short-across", "drop-R1", "as-due"),
    (DROPPER, "BR1-short-one", "known-good-socket", "dim"),
    # half a bridge lets a series capacitor charge up, and that blocks
    (DROPPER, "BR1-open-one", "drop-R1", "nothing"),
    (DROPPER, "BR1-open-one", "known-good-socket", "dark"),
    # with nothing to hold it the bus climbs to the peak, and the electrolytic may burst; until then
    # it takes what comes, over its rating
    (DROPPER, "LED-open-burnt", "volts-TP2", "high"),
    (DROPPER, "LED-open-burnt", "drop-R1", "less"),
    (DROPPER, "J2-open", "volts-TP2", "high"),
    (DROPPER, "LED-open-burnt-took-C2", "volts-TP2", "nothing"),
    (DROPPER, "LED-open-burnt-took-C2", "look-dropper", "bulged"),
    (DROPPER, "C2-worn-flat", "known-good-socket", "shimmers"),
    (DROPPER, "C2-leaky-hot", "known-good-socket", "dark"),
    (DROPPER, "C2-leaky-far", "known-good-socket", "dim"),
    # what the bleed lets past an open capacitor lifts the string to its knee
    (DROPPER, "C1-open", "volts-TP2", "low"),
    (DROPPER, "RV1-short", "limiter-glow", "stays-bright"),
    (DROPPER, "R1-open", "volts-TP1", "nothing"),
    # a package open, the commonest: all the bus stands across the string
    (LINEAR, "LED-open-burnt", "volts-TP3", "high"),
    (LINEAR, "LED-open-burnt", "drop-R3", "nothing"),
    (LINEAR, "LED-open-burnt", "look-leds", "spot"),
    (LINEAR, "LED-open-unseen", "each-package-LED", "one-dark"),
    (LINEAR, "U1-short", "light-on-limited-mains", "glares"),
    # on the bare mains it lights, too brightly, and follows the bus's ripple
    (LINEAR, "U1-short", "known-good-socket", "shimmers"),
    (LINEAR, "U1-short", "limiter-glow", "not-bright"),
    # behind the series lamp by half at most, which passes for another chip's reference
    (LINEAR, "U1-short", "drop-R3", "as-set"),
    (LINEAR, "U1-short", "ohms-U1", "near-nothing"),
    # what a shorted regulator took along no longer lets it draw
    (LINEAR, "U1-short-took-R3", "limiter-glow", "not-bright"),
    (LINEAR, "U1-short-took-R3", "ohms-R3", "above"),
    (LINEAR, "U1-short-took-LED", "limiter-glow", "not-bright"),
    (LINEAR, "U1-short-took-LED", "ohms-U1", "near-nothing"),
    (LINEAR, "U1-short-took-R1", "ohms-R1", "open"),
    # it keeps its set volts whatever the resistor is: less current, the same drop
    (LINEAR, "R3-drifted", "drop-R3", "as-set"),
    (LINEAR, "R3-drifted", "ohms-R3", "above"),
    (LINEAR, "R3-drifted", "known-good-socket", "dim"),
    # the chip still takes its own supply through the string
    (LINEAR, "R3-open", "volts-TP3", "low"),
    (LINEAR, "R3-open", "known-good-socket", "dark"),
    (LINEAR, "U1-open", "drop-R3", "nothing"),
    (LINEAR, "U1-low", "known-good-socket", "dim"),
    (LINEAR, "C1-short", "drop-R3", "nothing"),
    (LINEAR, "C1-worn-flat", "known-good-socket", "shimmers"),
    # no volts to spare: on half waves a linear regulator drops out
    (LINEAR, "BR1-open-one", "known-good-socket", "shimmers"),
    (LINEAR, "BR1-short-one", "limiter-glow", "stays-bright"),
]


@pytest.mark.parametrize(("topology", "fault", "test", "shown"), SHOWN)
def test_what_a_fault_shows(topology, fault, test, shown):
    assert likeliest(topology, test, fault) == shown


@pytest.mark.parametrize("volts", SUPPLIES)
def test_the_other_mains_shows_the_same(volts):
    """But for the numbers."""
    for topology, fault, test, shown in SHOWN[::4]:
        assert likeliest(topology, test, fault, volts) == shown


# ---- closed forms ----


def effective(farads, volts, hertz, load):
    """The dropper's effective current, by integration from where the bridge begins to conduct."""
    top, omega = mains.peak(volts), 2 * math.pi * hertz
    starts = math.acos(1 - 2 * load / top)
    steps = 20000
    width = (math.pi - starts) / steps
    square = sum(math.sin(starts + (k + 0.5) * width) ** 2 for k in range(steps)) * width / math.pi
    return omega * farads * top * math.sqrt(square)


@pytest.mark.parametrize("volts", SUPPLIES)
def test_what_the_capacitor_passes_is_the_closed_form(volts):
    """4 f C (Vp - Vs) in the words; the reading its effective value across the fusible resistor."""
    supply, farads, ohms = SUPPLIES[volts], *(value(DROPPER, p, volts) for p in ("C1", "R1"))
    load = string_volts(DROPPER, volts) + DIODES
    test = asked(DROPPER, "drop-R1", volts)
    mean = dropper.capacitive_current(farads, supply.volts, supply.hertz, load)
    assert f"passes {mean * 1000:.0f} mA" in test.good
    due = ohms * effective(farads, supply.volts, supply.hertz, load)
    near = float(re.search(r"near ([0-9.]+) V", test.good)[1])
    assert near == pytest.approx(due, rel=0.04)


@pytest.mark.parametrize("load", [24, 48, 72, 100, 150])
def test_the_fitted_effective_value_holds_for_any_string(load):
    """Within 4 % of the integral, 24 V to 150 V on both mains."""
    for supply in SUPPLIES.values():
        top = mains.peak(supply.volts)
        if load + DIODES < 0.7 * top:
            mean = dropper.capacitive_current(1e-6, supply.volts, supply.hertz, load + DIODES)
            fitted = mean * (1.11 + 0.9 * load / top)
            real = effective(1e-6, supply.volts, supply.hertz, load + DIODES)
            assert fitted == pytest.approx(real, rel=0.04)


@pytest.mark.parametrize("volts", SUPPLIES)
def test_sound_droppers_read_as_due_at_the_edges_of_mains_and_capacitor(volts):
    """Ten per cent each way in both, and a worn one of 0.6 does not."""
    supply, farads, ohms = SUPPLIES[volts], *(value(DROPPER, p, volts) for p in ("C1", "R1"))
    load = string_volts(DROPPER, volts) + DIODES
    due = asked(DROPPER, "drop-R1", volts).outcome("as-due")
    for of_mains, of_marking in ((0.95, 0.9), (1.1, 1.1), (1, 1)):
        at = effective(farads * of_marking, supply.volts * of_mains, supply.hertz, load)
        assert due.low < ohms * at < due.high
    assert ohms * effective(farads * 0.6, supply.volts, supply.hertz, load) < due.low
    # into a short it is the capacitor's whole reactance, and still no alarm
    whole = ohms * 2 * math.pi * supply.hertz * farads * supply.volts
    assert due.low < whole < due.high


@pytest.mark.parametrize("topology", [DROPPER, LINEAR])
@pytest.mark.parametrize("volts", SUPPLIES)
def test_the_string_stays_under_the_mains(topology, volts):
    """Ten per cent low they still light, and the string's point is read at the string's volts."""
    string, top = string_volts(topology, volts), mains.peak(SUPPLIES[volts].volts)
    assert string + DIODES < 0.9 * top
    point = {DROPPER: "volts-TP2", LINEAR: "volts-TP3"}[topology]
    due = asked(topology, point, volts).outcome("as-due")
    assert due.low < string < due.high < top


@pytest.mark.parametrize("volts", SUPPLIES)
def test_the_bleed_keeps_the_plug_rule(volts):
    """34 V a second after unplugging, from the peak of mains a tenth high."""
    farads, ohms = (value(DROPPER, part, volts) for part in ("C1", "R2"))
    top = mains.peak(SUPPLIES[volts].volts) * 1.1
    most = discharge.largest_ohms(farads, top, 34, 1)
    proof = next(p for p in model(DROPPER, volts).proofs if p.id == "bleed")
    assert f"at most {most / 1000:.0f} kΩ" in proof.limit
    assert ohms * 1.05 <= most
    assert discharge.volts_after(ohms * 1.05, farads * 1.1, top, 1) < 34


@pytest.mark.parametrize("volts", SUPPLIES)
def test_the_regulators_share_of_heat(volts):
    """At 0.6 V over its resistor: bus above the string all the while, heat what a chip bears."""
    supply, ohms, farads = SUPPLIES[volts], *(value(LINEAR, p, volts) for p in ("R3", "C1"))
    amperes, string = 0.6 / ohms, string_volts(LINEAR, volts)
    swing = mains.ripple(supply.volts, amperes, farads, supply.hertz)
    least = converters.linear_bus(supply.volts, DIODES / 2, swing)
    assert least > string + 0.6
    middle = mains.peak(supply.volts) - DIODES - swing / 2
    watts = converters.regulator_watts(middle, string, amperes)
    assert 0.5 < watts < 3
    # sound, its ripple reads small; dried out to a fifth it does not
    small = asked(LINEAR, "ripple-TP2", volts).outcome("small")
    assert swing / math.sqrt(12) < small.high
    worn = mains.ripple(supply.volts, amperes, farads / 5, supply.hertz)
    assert worn / math.sqrt(12) > small.high


@pytest.mark.parametrize("volts", SUPPLIES)
def test_a_link_over_a_package_is_told_as_a_test_with_its_heat(volts):
    """The share on top of what the regulator has, by (Vbus - Vstring) I."""
    each = value(LINEAR, "LED", volts)
    spare = 0.93 * mains.peak(SUPPLIES[volts].volts) - string_volts(LINEAR, volts)
    renew = next(r for r in model(LINEAR, volts).remedies if r.id == "renew-LED")
    assert any(f"{100 * each / spare:.0f} % on top" in text for text in renew.companions)


# ---- charge, words, size ----


def test_the_series_capacitor_is_a_store_at_the_supply_contacts():
    """In reach with nothing opened; the electrolytic at the wires of the LEDs."""
    stores = {store.part: store for store in model(DROPPER).stores}
    assert stores["C1"].exposed_by == ()
    assert "supply contacts" in stores["C1"].point
    assert set(stores["C2"].exposed_by) == {"diffuser", "driver-board"}
    assert min(store.max_volts for store in stores.values()) >= round(mains.peak(230) * 1.1)
    linear = {store.part: store for store in model(LINEAR).stores}
    assert set(linear) == {"C1"}
    assert linear["C1"].exposed_by == ("diffuser",)


@pytest.mark.parametrize("topology", [DROPPER, LINEAR])
def test_every_energised_check_of_the_opened_lamp_says_that_its_board_is_live(topology):
    live = [t for t in model(topology).tests if "limited" in t.supply]
    assert len(live) >= 8
    assert all("live-led-board" in test.cautions for test in live)


@pytest.mark.parametrize("topology", [DROPPER, LINEAR])
@pytest.mark.parametrize("depth", ["stage", "part"])
def test_no_word_speaks_of_what_the_lamp_has_not(topology, depth):
    """No driver, converter, thyristor, gate or sensor: nothing that is asked, done or told."""
    made = model(topology, depth=depth)
    texts = [
        *(f"{t.says} {t.how} {t.good} {' '.join(o.says for o in t.outcomes)}" for t in made.tests),
        *(f"{r.says} {r.how} {' '.join(r.companions)}" for r in made.remedies),
        *(f"{o.says} {o.how}" for o in made.openings), *(f"{r.says} {r.how}" for r in made.rigs),
        *(f.says for f in made.faults),
    ]  # fmt: skip
    strange = re.compile(r"\b(driver|converter|controller|thyristor|gate|sensor covered)\b")
    assert [text for text in texts if strange.search(text.replace("screwdriver", ""))] == []


@pytest.mark.parametrize("topology", [DROPPER, LINEAR])
def test_the_topology_is_short(topology):
    """What it shares stands in kinds and rules."""
    text = (loader.SHIPPED / "topologies" / f"{topology}.yaml").read_text(encoding="utf-8")
    assert len(text.splitlines()) <= LINES
