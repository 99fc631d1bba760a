"""Families of designs: what is drawn works by sums done anew, covers its ranges, and can be told.

The sums of these tests are written out on their own, from the numbers of a design alone.
"""

import math
from collections import Counter

import pytest

from engine.circuit.batch import BLOCK, batch
from engine.circuit.design import Design, unit_of
from engine.circuit.dictionary import Dictionary, Sibling
from engine.circuit.family import draw, draw_sound, snap
from engine.circuit.job import Job, Request, run
from engine.circuit.narrowing import keep, narrow
from engine.circuit.soundness import troubles
from engine.circuit.sums import Sums
from engine.circuit.taking import taking
from engine.circuit.unit import with_fault
from engine.electrics import dropper, preferred
from engine.model.records import Mains, Outcome
from engine.model.records import Test as Check
from kb.language import circuit
from kb.trouble import TroubleError
from tests.circuit.shipped_units import MAINS, shipped, single_faults

LAMP = "light-controlled-lamp"
KINDS = [(topology, mains.volts) for topology in circuit.circuits() for mains in MAINS]
CONVERTERS = [kind for kind in KINDS if kind[0] in ("buck-lamp", LAMP)]
SEED = 7


@pytest.fixture(scope="module", params=KINDS, ids=lambda kind: f"{kind[0]}-{kind[1]:g}")
def made(request):
    """A nominal unit and a batch of its family."""
    nominal = shipped(*request.param)
    return nominal, batch(nominal, 48, SEED)


def test_the_listed_design_passes_its_own_sums(made):
    """Nothing is asked of makers that the topology doesn't keep."""
    assert troubles(Design(made[0])) == ()


def test_few_designs_are_drawn_in_vain(made):
    """Sized by their sums, at least seven of ten work at once."""
    assert made[1].failures <= 0.3 * (48 + made[1].failures)


def test_every_dropper_feeds_more_than_hangs_on_its_rail(made):
    """(2 Vp/pi - V)/R against comparator, divider, gate and pull-up, each from its own number."""
    nominal, drawn = made
    for design in drawn.designs:
        if not design.part("rail-feed"):
            continue
        rail, one = design.number("D1"), design.number
        source = one("Rpullup") if "Rpullup" in design.adds else one("U2.rout")
        standing = one("U2.icc") + rail / (one("R4") + one("R5"))
        dark = standing + (rail - 0.75) / (source + one("R7"))
        lit = standing + (rail / source if "Rpullup" in design.adds else 0.0)
        feed = (2 * math.sqrt(2) * nominal.mains.volts / math.pi - rail - 1.4) / one("R2")
        assert feed > 1.1 * max(dark, lit)
        assert dropper.resistor_feed(nominal.mains.volts, one("R2"), 0).watts < 1.0


def test_every_rail_stands_under_its_zener_and_over_what_its_comparator_needs(made):
    """At 5 mA a zener is at its marking; a rail fed less is lower, by its slope at most."""
    for design in made[1].designs:
        if not design.part("rail-clamp"):
            continue
        sums, zener = Sums(design), design.number("D1")
        for dark in (True, False):
            rail = sums.rail_volts(dark)
            slope = design.number("D1.nbv") * 0.0259
            left = sums.feed_amperes(rail) - sums.load_amperes(rail, dark)
            assert rail == pytest.approx(zener + slope * math.log(left / 5e-3), abs=0.01)
            assert 0.7 * zener < rail < 1.02 * zener
            assert rail > design.number("U2.vmin") + 0.5


def test_every_gate_is_fired_and_every_threshold_met(made):
    """The gate's current over what its thyristor needs; full light over the threshold, own light
    under the hysteresis."""
    for design in made[1].designs:
        if not design.part("switches"):
            continue
        one, sums = design.number, Sums(design)
        rail = sums.rail_volts(True)
        source = one("Rpullup") if "Rpullup" in design.adds else one("U2.rout")
        foot = 0.75 / one("Rgatefoot") if "Rgatefoot" in design.adds else 0.0
        assert (rail - 0.75) / (source + one("R7")) - foot > 2 * one("Q1.igt")
        on, off = sums.thresholds(rail)
        assert 0 < on <= off * 1.0001
        assert 1.3 * off < one("D2.bright") * 1e-6
        assert one("D2.own") * 1e-6 <= 1.01 * (off - on) + 1e-12


def test_every_converter_has_the_bus_and_the_supply_it_needs(made):
    """Power class, string under the bus, supply over what the controller takes."""
    _, drawn = made
    for design in drawn.designs:
        if not design.part("chops"):
            continue
        sums = Sums(design)
        assert 3.5 < sums.led_amperes * sums.string_volts < 17
        assert sums.string_volts < 0.9 * sums.valley_volts() < 0.9 * sums.crest_volts
        assert design.number("U1.voff") < design.number("U1.von") < design.number("U1.vclamp")
        start = design.part("starts")
        if start and not design.number("U1.aux"):
            ohms = design.number(start) + (
                design.number("Rsecond") if "Rsecond" in design.adds else 0.0
            )
            assert (sums.valley_volts() - 15) / ohms > design.number("U1.irun")
        assert bool(start) != bool(design.number("U1.hv"))


def test_drawn_values_are_ones_that_are_sold(made):
    """Resistors of E24, capacitors of E12 at most."""
    for design in made[1].designs:
        for part, value in design.values.items():
            if part.startswith(("R", "C")) and part != "RV1" and part in design.numbers:
                assert preferred.nearest(value, "E24") == pytest.approx(value), (part, value)


def test_a_longer_batch_begins_with_the_shorter_one(made):
    """And another seed draws others; weights are equal and sum to 1."""
    nominal, drawn = made
    few = batch(nominal, 5, SEED)
    assert [unit.netlist for unit in few.units] == [unit.netlist for unit in drawn.units[:5]]
    assert [one.values for one in few.siblings] == [one.values for one in drawn.siblings[:5]]
    assert batch(nominal, 1, SEED + 1).units[0].netlist != few.units[0].netlist
    assert {one.weight for one in drawn.siblings} == {1 / 48}


def test_sixteen_units_take_each_sixteenth_of_a_choice():
    """Drawn without sums' rejections, ways come as often as their odds say, to within two."""
    nominal = shipped(LAMP, 230)
    designs = batch(nominal, BLOCK, SEED)
    taken = Counter(design.ways["choke"] for design in designs.designs)
    odds = next(c for c in nominal.data.family if c.of == "choke").ways["fitted"].odds
    assert abs(taken["fitted"] - BLOCK * odds) <= 2 + designs.failures


def test_small_parts_are_there_or_not(made):
    """A part that is absent leaves a wire or nothing, and no test of it is taken."""
    band = (Outcome("all", "", None, None, "Ω"),)
    for design, unit in zip(made[1].designs, made[1].units, strict=True):
        for part in made[0].data.absent_as:
            assert bool(unit.netlist.of(part)) == (part not in unit.absent)
            check = Check(f"ohms-{part}", "", 1, (), "unplugged", "none", True, band,
                          instrument="ohm range")  # fmt: skip
            assert (taking(unit, circuit.bench(), check) is None) == (part in unit.absent)
        names = {element.part for element in unit.netlist.elements}
        assert set(design.adds) <= names
    lacking = {part for unit in made[1].units for part in unit.absent}
    assert lacking == set(made[0].data.absent_as)


def test_every_fault_can_be_put_into_every_design(made):
    """Of another kind, rewired or absent: each act finds what it alters."""
    nominal, drawn = made
    for unit in drawn.units[:BLOCK]:
        for fault in single_faults(nominal):
            ill = with_fault(unit, fault)
            (part,) = (one.part for one in fault.parts)
            if part in unit.absent:
                assert ill.netlist == unit.netlist


def test_a_choice_waits_for_the_one_it_hangs_on():
    """No push-pull output on a comparator that has none, one hysteresis for each sensor."""
    for one in batch(shipped(LAMP, 230), 48, SEED).designs:
        assert ("output" in one.ways) == (one.ways["comparator"] == "micropower")
        assert ("hysteresis" in one.ways) != ("hysteresis-below" in one.ways)


def test_a_family_that_can_t_be_built_is_told():
    """CI203, with the sums that fail."""
    nominal = shipped("buck-lamp", 230)
    with pytest.raises(TroubleError, match=r"CI203 .*fails: .*"):
        draw_sound(
            type(nominal)(**{**_fields(nominal), "data": nominal.data.model_copy(update={
                "family": (), "settled": 0.0,
            })}),
            lambda attempt: lambda what: 0.5,
        )  # fmt: skip


def _fields(unit):
    return {name: getattr(unit, name) for name in type(unit).__dataclass_fields__}


def test_a_topology_without_a_family_is_as_listed():
    """Nothing is drawn."""
    nominal = shipped("buck-lamp", 230)
    bare = nominal.data.model_copy(update={"family": ()})
    design = draw(type(nominal)(**{**_fields(nominal), "data": bare}), lambda what: 0.3)
    assert design.values == nominal.values
    assert unit_of(design).netlist.of("R3") == nominal.netlist.of("R3")


@pytest.mark.parametrize(
    ("value", "series", "due"),
    [
        (4.4, "E6", 4.7), (11.2, "whole", 11), (0.4, "whole", 2), (64, "rated", 100),
        (3.14, "", 3.14),
    ],
)
def test_numbers_are_snapped(value, series, due):
    """To the nearest of a series, of ratings to the next that suffices."""
    assert snap(value, series) == due


# what is known of a unit weighs the sampled ones


def family(count=48):
    """A dictionary of units that differ in R2, a third of them without R6."""
    units = tuple(
        Sibling({"R2": 1e5 * 1.05**n, **({} if n % 3 == 0 else {"R6": 1e6})},
                frozenset({"R6"} if n % 3 == 0 else ()),
                {"C2": "electrolytic"} if n % 2 else {}, weight=1 / count)
        for n in range(count)
    )  # fmt: skip
    return Dictionary("some-lamp", Mains(230, 50), {}, {"R2": 1e5}, units, {}, {})


def effective(weights):
    """How many equal units weights amount to."""
    return 1 / sum(weight * weight for weight in weights)


def test_a_marking_weighs_units_by_nearness():
    """The nearest most, a factor of two away next to nothing."""
    weights = narrow(family(), {"R2": 1e5 * 1.05**20})
    assert sum(weights) == pytest.approx(1)
    assert max(weights) == weights[20]
    assert weights[20 + 14] == 0.0
    assert effective(weights) > 5.5


def test_many_markings_never_leave_too_few_units():
    """Tempered: at the edge of the family, too, six units or nearly so count."""
    for values in ({"R2": 0.8e5}, {"R2": 1e5}, {"R2": 1e5 * 1.05**20, "R6": 1.2e6}):
        assert effective(narrow(family(), values)) > 5.0


def test_a_marking_far_from_the_family_silences_it():
    """More than 2.5 kernels off: empty weights, no dictionary."""
    assert narrow(family(), {"R2": 5e4}) == ()
    assert keep(family(), {"R2": 5e4}) is None
    assert narrow(family(), {"R99": 5e4}) == pytest.approx((1 / 48,) * 48)


def test_absent_parts_and_kinds_count_exactly_where_enough_units_have_them():
    """A third lacks R6, a half has another C2, a sixth both."""
    weights = narrow(family(), {}, absent={"R6": True})
    assert {n for n, weight in enumerate(weights) if weight} == set(range(0, 48, 3))
    weights = narrow(family(), {}, {"R6": False}, {"C2": "electrolytic"})
    assert {n for n, w in enumerate(weights) if w} == {n for n in range(48) if n % 3 and n % 2}
    weights = narrow(family(), {"R6": 1e6})
    assert {n for n, weight in enumerate(weights) if not weight} == set(range(0, 48, 3))


def test_where_too_few_units_lack_a_part_others_still_count():
    """Two of six units alone would be no spread."""
    weights = narrow(family(12), {}, absent={"R2": True})
    assert effective(weights) >= 1.5


# the judge: drawn designs at their markings, simulated as they are read


def simulated(unit, light):
    """Means of light, output and rail of a sound unit on normal mains."""
    data, bench = unit.data, circuit.bench()
    texts = {"{peak}": f"{unit.mains.volts * 2**0.5:.6g}", "{hertz}": f"{unit.mains.hertz:g}"}
    lines = [*bench.supplies["normal-mains"], *bench.scenes["light"][light]]
    text = "\n".join(lines) + "\n"
    for name, value in texts.items():
        text = text.replace(name, value)
    ends = [("glow2", "0"), ("held", "ledm"), data.points["TP2"]]
    waves = tuple(Request("wave", *pair, data.settled, data.seconds) for pair in ends)
    job = Job(unit.netlist.text() + text, data.seconds, unit.mains.hertz, waves)
    return [figures["mean"] for figures in run(job)]


@pytest.mark.parametrize(("topology", "volts"), CONVERTERS)
def test_drawn_designs_light_as_their_sums_say(topology, volts):
    """Four designs each: light, output and rail where the sums put them."""
    for design in batch(shipped(topology, volts), 4, SEED).designs:
        glow, output, rail = simulated(unit_of(design), "covered")
        sums = Sums(design)
        assert 0.85 < glow < 1.1, design.ways
        assert output == pytest.approx(sums.string_volts, rel=0.03)
        if design.part("rail-clamp"):
            assert rail == pytest.approx(sums.rail_volts(True), rel=0.04)


@pytest.mark.parametrize("volts", [mains.volts for mains in MAINS])
def test_drawn_lamps_go_off_in_light(volts):
    """Of the same designs two each, in full light from the start."""
    for design in batch(shipped(LAMP, volts), 2, SEED).designs:
        glow, _, rail = simulated(unit_of(design), "lit")
        assert glow < 0.02
        assert rail == pytest.approx(Sums(design).rail_volts(False), rel=0.04)
