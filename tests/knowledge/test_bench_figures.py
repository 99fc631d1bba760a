"""Are the rules' own figures of the size that a bench knows? Each range stated here anew, with why.

A rule's minutes, odds and ohms are one figure; what is held here is the range in which somebody who
does this for a living would nod. All ranges: common practice, where nothing else stands beside.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

import pytest

from engine.deduce.facts import Fact, fact
from kb.language import loader
from kb.language.knowledge import Knowledge
from tests.deduction.oracle import follows

Fields = Mapping[str, Any]
Range = tuple[float, float]


@cache
def knowledge() -> Knowledge:
    return loader.as_shipped()


def conclusions(kind: str) -> Iterator[tuple[str, Fields]]:
    """Each conclusion of a kind in the rules, with the rule's name."""
    for name, rule in knowledge().rules.items():
        for conclusion in rule.then:
            if kind in conclusion:
                yield name, conclusion[kind]


def kept(figure: float, within: Range, what: object) -> None:
    least, most = within
    assert least <= figure <= most, what


# ---- minutes ----

# A clip soldered or hooked on, a meter put to the ends, a hand laid on: half a minute.
QUICK = (0.25, 1.0)
# A leg lifted, a source clipped on, a part bridged: some minutes with the iron or with clips.
HANDIWORK = (1.0, 4.0)
RIGS = {
    "cover": QUICK, "measure": QUICK, "bridge": HANDIWORK, "feed-gate": HANDIWORK,
    "feed-rail": HANDIWORK, "lift": HANDIWORK, "part-string": HANDIWORK,
    "lend": HANDIWORK,
}  # fmt: skip
# Probes on two points, a look: a minute; two if both ways round or flexed and warmed meanwhile.
PROBING = (0.5, 2.5)
TESTS = {
    "ohms": PROBING, "diode": PROBING, "esr": (0.5, 2.0), "henries": (0.5, 2.0),
    "look": (0.5, 2.0), "milliamps": (1.0, 4.0), "battery": (1.5, 5.0), "watch": (1.0, 4.0),
    "ask": (1.0, 4.0), "volts": QUICK,
    "farads": (0.5, 2.0),
}  # fmt: skip
SLOWER = {
    "good-lamp-at-owners": (2.0, 10.0),  # on the telephone, or at the door
    "run-warm": (4.0, 15.0),  # until a closed lamp is warm through
    "tap-it": (0.5, 2.0),
    "fed-{t}": (1.0, 4.0),  # a supply is turned up by hand meanwhile
    "sensor-node-{p}": (0.5, 2.0),  # read lit and dark
    "cover-lifted-slowly": (1.0, 4.0),
}
PROOFS = {
    "limiter-power-up": (2.0, 5.0), "insulation": (2.0, 8.0), "protective-conductor": (1.0, 4.0),
    "function": (2.0, 6.0), "soak": (3.0, 12.0), "touch-current": (1.5, 6.0),
    "bleed": (0.5, 2.0),  # an ohm range put across a part that lies open
}  # fmt: skip
REMEDIES = {
    "return-as-found": (2.0, 8.0),  # packed up, and told what was found
    "tell-owner-{p}": (3.0, 10.0),  # a talk
    "keep-{r}": (1.0, 6.0),  # what was tried is made lasting
    "rework-{s}": (15.0, 60.0),  # all joints of a stage
    "rework-{sa}-and-{sb}": (20.0, 90.0),  # of two
    "rework-{sa}-and-{sc}": (20.0, 90.0),
    "resolder-{p}": (3.0, 12.0),  # a part's own joints, old solder off first
    "follow-{p}": (15.0, 60.0),
    "make-plain-{q}": (30.0, 120.0),
}


def test_minutes_of_a_check_are_a_benchs() -> None:
    for name, test in conclusions("test"):
        kept(test["minutes"], SLOWER.get(test["name"], TESTS[test["action"]]), (name, test["name"]))


def test_minutes_of_a_rig_are_a_benchs() -> None:
    for name, rig in conclusions("rig"):
        if not isinstance(rig["minutes"], str):
            kept(rig["minutes"], RIGS[rig["does"]], name)


def test_a_lead_is_brought_out_in_no_time() -> None:
    for name, lead in conclusions("lead"):
        kept(lead["minutes"], QUICK, name)


def test_minutes_of_a_proof_are_a_benchs() -> None:
    for name, proof in conclusions("proof"):
        kept(proof["minutes"], PROOFS[proof["name"]], name)


def test_minutes_of_a_remedy_are_a_benchs() -> None:
    """Those that do not follow from the part's own."""
    for name, remedy in conclusions("remedy"):
        if not isinstance(remedy["minutes"], str):
            kept(remedy["minutes"], REMEDIES[remedy["name"]], name)


# ---- odds ----

# Lights that the eye takes for each other, by how alike they are; an even shine seldom looks dim.
ALIKE = {
    ("flickers", "flashes"): (0.1, 0.3), ("flashes", "flickers"): (0.1, 0.3),
    ("shimmers", "flickers"): (0.05, 0.2), ("shimmers", "lights-well"): (0.1, 0.4),
    # What dips a hundred times a second is hardly seen to dip, but it gives less light.
    ("shimmers", "dim"): (0.1, 0.3),
    ("dim", "lights-well"): (0.1, 0.3), ("lights-well", "dim"): (0.01, 0.06),
    ("flickers", "lights-well"): (0.05, 0.2),
}  # fmt: skip
MISREADS = {
    "series-resistance-of-an-electrolytic": (0.02, 0.1),
    "series-resistance-of-an-output-capacitor": (0.02, 0.1),
    "probe-slips-on-pads": (0.01, 0.05),
    "weak-battery-fires-nothing": (0.02, 0.1),
    "ask-how-it-is-used": (0.05, 0.2),
    "tap-it": (0.1, 0.4),  # what a tap moves now it may not move next time
    # Paths beside it, varnish under a probe: a good junction looks wrong in 10 to 20 of a hundred.
    "parallel-paths-spoil-the-diode-range": (0.03, 0.1),
    "ohms-of-a-resistor": (0.01, 0.06), "ohms-of-a-fuse": (0.01, 0.05),  # varnish, oxide
}
# Of cracks and joints: hard to see, easily taken for one, as the grain of a joint is.
SEEN = {
    ("cracked", "nothing"): (0.2, 0.6), ("cracked", "sound"): (0.1, 0.4),
    ("sound", "cracked"): (0.01, 0.08),
    ("burnt", "nothing"): (0.05, 0.2), ("bulged", "nothing"): (0.05, 0.2),
    ("spot", "nothing"): (0.02, 0.1),  # lit from the side it jumps to the eye
}
LOOKS = {
    "look-misses", "look-at-a-driver-board", "look-at-an-led-board",
    "look-at-the-joints-of-a-tall-part",
}  # fmt: skip
OTHER_ODDS = {
    "fuse-opens-by-a-short": (0.6, 0.95), "clamp-loss-kills-the-user": (0.5, 0.9),
    "open-freewheel-kills-the-switch": (0.3, 0.8),  # each turn-off throws the coil's volts at it
    "shorted-freewheel-kills-the-switch": (0.2, 0.7),  # a chip with no blanking time rides it out
    "shorted-switch-burns-the-sense-resistor": (0.1, 0.5),  # where the fuse is slower
    "the-unlisted-may-read-anything": (0.3, 0.7),
    "overdriven-string-burns": (0.15, 0.6),  # the fuse, the string or what sets it: which is first
    "overdriven-string-takes-the-fuse": (0.3, 0.7),  # packages that fail shorted, one by one
    "unheld-reservoir-bursts": (0.3, 0.7),  # at 1.6 times its volts or more, within seconds
    # A careful hand: one reading in fifty; what is told by an owner, one in twenty.
    "meter-slips": (0.01, 0.04), "watching-slips": (0.01, 0.04), "telling-slips": (0.02, 0.1),
    # Another part is probed in 5 to 10 of a hundred; not always does it read otherwise.
    "wrong-part-is-probed": (0.02, 0.1),
}  # fmt: skip
# How often a value shows as another: what lies beside a part in circuit, what the eye lets pass,
# what comes and goes. By rule, or by rule and value.
BLURS = {
    "ring-a-winding": (0.08, 0.3), "resistance-between-contacts": (0.2, 0.6),
    "ohms-of-a-capacitor-of-a-fed-rail": (0.15, 0.6),  # a pull-up and what follows it, or none
    "ohms-of-a-controllers-supply-capacitor": (0.03, 0.25),  # the chip's own paths
    "junction-paths-differ-by-meter": (0.2, 0.6),
    ("neighbours-hide-what-a-resistor-has-drifted", "above"): (0.1, 0.5),
    ("neighbours-hide-what-a-resistor-has-drifted", "open"): (0.03, 0.2),
    "makes-meet-a-short-differently": (0.2, 0.6),
    # 50 to 70 of a hundred blown ones look it, 30 of those that opened for no cause, four of five
    # burnt ones.
    ("burnt-is-not-always-seen", "blown"): (0.3, 0.5),
    ("burnt-is-not-always-seen", "spent"): (0.5, 0.85),
    ("burnt-is-not-always-seen", "burnt"): (0.1, 0.3),
    ("burnt-is-not-always-seen", "swollen"): (0.2, 0.6),
    # What looks like a mark and is none looks so each time: brown resin, a ripple of flux.
    ("burnt-is-not-always-seen", "none"): (0.01, 0.08),
    ("look-at-a-driver-board", "none"): (0.005, 0.08),
    ("look-at-an-led-board", "none"): (0.01, 0.06),
    ("look-at-an-led-board", "cracked"): (0.2, 0.6),  # as often as on a driver board
    "continuity-of-a-contact": (0.1, 0.4),  # what jumps, jumps when it likes
    "what-comes-and-goes-may-stand-while-it-is-read": (0.1, 0.5),
    "what-comes-and-goes-is-often-away": (0.05, 0.5),
    "what-goes-when-warm-goes-for-good-in-time": (0.05, 0.3),
    "makes-restart-differently": (0.1, 0.5),
    "gives-little-where-it-restarts": (0.1, 0.5),
    ("leaky-electrolytic-leaks-less-at-a-meters-volts", "leaky"): (0.1, 0.6),
    ("leaky-electrolytic-leaks-less-at-a-meters-volts", "passing"): (0.3, 0.8),
    "makes-guard-an-open-output-differently": (0.1, 0.35),
    # One socket in some twenty; half as often a light that the owner forgot.
    ("ask-how-it-is-used", "plain"): (0.01, 0.1),
    ("measure-the-rail", "sagging"): (0.05, 0.3), ("measure-the-rail", "normal"): (0.02, 0.1),
    ("measure-the-rail", "swings"): (0.2, 0.6),  # a meter shows the mean
    "measure-the-decision": (0.3, 0.7),
    "feed-the-rail": (0.02, 0.1),
    # A display that jumps is read as its last number, or as nothing.
    "measure-what-a-capacitor-passes": (0.2, 0.6), "measure-the-setting-resistor": (0.2, 0.6),
    # A mean that lies about where as due begins: crests only, jumps, or a string at its knee.
    "measure-the-string-of-a-linear-regulator": (0.2, 0.6),
    "measure-what-is-fed-weakly": (0.2, 0.6),
    "trembling-is-easily-overlooked": (0.4, 0.8),  # few eyes see a hundred dips a second
}
# The families' shares of what comes in, as ranges told in the rules' own words or beside them.
SLICES = {
    "outside": (0.08, 0.12), "no-fault": (0.02, 0.08), "other": (0.01, 0.05),
    "supply": (0.30, 0.50), "control": (0.10, 0.20), "housing": (0.03, 0.12),
    "light-source": (0.30, 0.50),
}  # fmt: skip
# What others counted, of other populations: as they print it, and worth a few cases here at most.
FOREIGN = {
    "outdoor-luminaires-on-supply": (0.55, 0.62),  # 52 and 7 of a hundred
    "outdoor-luminaires-on-housing": (0.28, 0.34), "outdoor-luminaires-on-leds": (0.07, 0.13),
    "two-spot-lamps-on-supply": (0.9, 1.0), "two-spot-lamps-on-leds": (0.0, 0.1),
}  # fmt: skip
FEW_CASES, MANY_CASES = (0.5, 4.0), (20.0, 80.0)


def test_lights_are_mistaken_for_those_that_look_alike() -> None:
    for name, errs in conclusions("errs"):
        if name == "other-socket":
            kept(errs["odds"], ALIKE[errs["really"], errs["read"]], errs)
        if name == "other-outlet":
            kept(errs["odds"], (0.05, 0.3), errs)


def test_other_checks_are_misread_as_often_as_a_careful_hand_misreads() -> None:
    for name, errs in conclusions("errs"):
        if name not in {"other-socket", "other-outlet", *LOOKS}:
            kept(errs["odds"], MISREADS[name], name)


def test_a_mark_is_overlooked_sooner_than_invented() -> None:
    """What is burnt or bulged one time in ten or so, a crack in two or three of ten; what is not
    there is seldom seen."""
    pairs = {}
    for name, errs in conclusions("errs"):
        if name in LOOKS:
            kept(errs["odds"], SEEN[errs["really"], errs["read"]], errs)
            pairs[errs["really"], errs["read"]] = errs["odds"]
    invented = {
        blur["shows"]: blur["odds"]
        for _, blur in conclusions("blurs")
        if blur["of"] == "mark" and blur["is"] == "none"
    }
    for (really, read), odds in pairs.items():
        if read in ("nothing", "sound"):
            assert odds > pairs.get((read, really), invented.get(really, 1.0)), (really, read)


def test_a_value_shows_as_another_as_often_as_the_bench_has_it() -> None:
    for name, blur in conclusions("blurs"):
        if not isinstance(blur["odds"], str):
            kept(blur["odds"], BLURS.get(name) or BLURS[name, blur["is"]], (name, blur["is"]))


@pytest.mark.parametrize("kind", ["brings", "open-to", "slips"])
def test_odds_of_a_rule_are_of_their_size(kind: str) -> None:
    for name, conclusion in conclusions(kind):
        if not isinstance(conclusion["odds"], str):
            kept(conclusion["odds"], OTHER_ODDS[name], name)


def test_families_take_the_shares_that_the_rules_tell_of() -> None:
    for name, share in conclusions("slice"):
        kept(share["share"], FOREIGN.get(name) or SLICES[share["family"]], name)
        kept(share["strength"], FEW_CASES if name in FOREIGN else MANY_CASES, name)
        if "least" in share:
            assert 0 < share["least"] <= share["share"] <= share["most"] < 1, name


def test_what_is_not_listed_shows_one_of_its_lights() -> None:
    """The shares of one hypothesis' kinds sum to one; dark is the commonest complaint of all."""
    by_rule: dict[str, dict[str, float]] = {}
    for rule, fault in conclusions("fault"):
        if fault["acts"] == "unlisted":
            by_rule.setdefault(rule, {})[fault["name"]] = fault["share"]
    assert len(by_rule) == 2  # what gives light, and what does something else
    for shares in by_rule.values():
        assert sum(shares.values()) == pytest.approx(1.0)
        assert max(shares, key=lambda name: shares[name]) == "other"
        assert len({share for name, share in shares.items() if name != "other"}) <= 1


def test_proofs_are_made_in_their_order() -> None:
    """What must be proved before it is closed, then limited power; the conductor before what
    insulates from it; the unit works before it is
    left on; what flows off a touchable part last."""
    order = (
        "bleed", "limiter-power-up", "protective-conductor", "insulation", "function", "soak",
        "touch-current",
    )  # fmt: skip
    ranks = {proof["name"]: proof["rank"] for _, proof in conclusions("proof")}
    assert tuple(sorted(ranks, key=lambda name: ranks[name])) == order
    assert len(set(ranks.values())) == len(order)
    for _, proof in conclusions("proof"):
        assert proof["rank"] == ranks[proof["name"]]


# ---- edges of a reading ----

SHORT = (30.0, 250.0)
"""Ohms under which nothing but a short lies across a part that is to block: leads and a junction's
knee are below it, a filament or a dropper above."""
EDGES = {
    ("continuity-of-a-contact", "sound"): (0.5, 2.0),  # leads and a clean contact
    ("continuity-of-a-contact", "unsteady"): (5e5, 2e6),  # beyond that it is open
    # A leak that keeps a capacitor from its work: of a rail, fed through some hundred kilohms; of
    # the power path; with its leg lifted nothing lies beside it.
    ("lift-a-leg-of-a-capacitor", "leaks"): (1e5, 5e5),
    ("ohms-of-a-capacitor-in-the-power-path", "leaks"): (1e4, 5e4),
    ("ohms-of-a-controllers-supply-capacitor", "leaks"): (1e4, 5e4),
    ("ohms-of-a-winding", "whole"): (100.0, 500.0),  # wire
    ("ohms-of-a-surge-part", "near-nothing"): (300.0, 2000.0),  # a good one reads over range
    # A junction that is to block leaks microamperes at the volt of an ohm range.
    ("main-terminals-of-a-switch", "leaks"): (5e4, 2e5),
    ("main-terminals-of-a-chopper", "leaks"): (5e4, 2e5),
    ("resistance-between-contacts", "one-way"): (5e4, 2e5),
    ("main-terminals-of-a-linear-regulator", "leaks"): (5e4, 2e5),
    # A linear regulator holds half a volt to a volt across what sets its current.
    ("measure-the-setting-resistor", "nothing"): (0.05, 0.2),
    ("measure-the-setting-resistor", "as-set"): (0.9, 1.5),
    # Volts of a small rail: nothing; below what a 393 works from, 2 V (its class); about that.
    ("measure-the-rail", "dead"): (0.3, 1.0),
    ("measure-the-rail", "starved"): (1.0, 2.0),
    ("measure-the-rail", "hovers"): (2.0, 3.0),
    # Ripple on it that a meter's AC range tells from its own last digits.
    ("measure-the-rail", "small"): (0.1, 0.5),
    # A gate at 25 degrees fires from 0.8 V at most: MCR100 class data sheets.
    ("measure-the-decision", "off"): (0.5, 0.9),
    ("decide-on-a-fed-rail", "off"): (0.5, 0.9),
}


def edges() -> Iterator[tuple[str, Fields]]:
    for name, test in conclusions("test"):
        for answer in test["answers"]:
            if not isinstance(answer.get("below", ""), str):
                yield name, answer


def test_a_short_is_what_nothing_else_reads() -> None:
    for name, answer in edges():
        if answer["outcome"] == "near-nothing" and (name, "near-nothing") not in EDGES:
            kept(answer["below"], SHORT, name)


def test_edges_of_readings_lie_where_the_bench_has_them() -> None:
    for name, answer in edges():
        if answer["outcome"] != "near-nothing" or (name, "near-nothing") in EDGES:
            kept(answer["below"], EDGES[name, answer["outcome"]], (name, answer["outcome"]))


# ---- packages and what lights them ----


def offers(*rules: str, **package: float | str) -> set[Fact]:
    """What rules of that name offer for LED packages in a unit on a bench with all there is."""
    part = fact("part", **{"name": "LEDs", "place": "lights", "words": "LEDs", "says": "LEDs",
                           "behind": "cap", "stage": "string", **package})  # fmt: skip
    bench = [fact("nine-volts", name="battery"), fact("arrangement", name="bench-low")]
    found = follows([knowledge().rules[rule] for rule in rules], [part, *bench])
    return found - {part, *bench}


LIGHTING = (
    "light-each-package", "light-each-big-package-from-batteries", "reckon-a-battery-check",
)  # fmt: skip


@pytest.mark.parametrize(
    ("volts", "lit"),
    [
        # One 9 V battery lights two dies of 3 V and leaves something for the resistor.
        (3.0, {"9 V battery and 330 Ω"}),
        (6.0, {"9 V battery and 330 Ω"}),
        # Batteries on each other stay under 60 V DC, and more than four are nobody's habit.
        (9.0, {"9 V batteries and 1 kΩ"}),
        (18.0, {"9 V batteries and 1 kΩ"}),
        (30.0, {"9 V batteries and 1 kΩ"}),
        (36.0, set()),
    ],
)
def test_a_package_is_lit_by_what_has_the_volts_for_it(volts: float, lit: set[str]) -> None:
    tests = [dict(f.fields) for f in offers(*LIGHTING, value=volts) if f.kind == "test"]
    assert {str(test["instrument"]) for test in tests} == lit


@pytest.mark.parametrize(("volts", "is_reckoned"), [(6.0, True), (9.0, False)])
def test_the_sum_for_a_single_battery_is_told_where_one_is_used(
    volts: float, is_reckoned: bool
) -> None:
    assert any(f.kind == "reckons" for f in offers(*LIGHTING, value=volts)) is is_reckoned


@pytest.mark.parametrize(("packages", "is_low"), [(4, True), (5, False), (12, False)])
def test_a_shorted_package_shows_in_the_volts_of_a_short_string(
    packages: int, is_low: bool
) -> None:
    """One of four is a quarter of the volts; one of twelve is lost in what a string varies by."""
    part = fact("part", name="LEDs", place="lights", stage="string", count=packages)
    beside = [
        fact("condition", part="LEDs", acts="short"), fact("enters", stage="string", node="bus"),
        fact("volts", **{"at": "bus", "is": "normal"}),
    ]  # fmt: skip
    found = follows([knowledge().rules["shorted-package-of-few-takes-its-volts-off"]],
                    [part, *beside])  # fmt: skip
    assert (fact("volts", **{"at": "bus", "is": "low"}) in found) is is_low


@pytest.mark.parametrize(("share", "hovers"), [(0.4, True), (0.6, False), (0.9, False)])
def test_a_rail_starves_on_a_bus_at_less_than_half_its_volts(share: float, hovers: bool) -> None:
    """Feed current goes with the bus's mean."""
    given = [
        fact("enters", stage="rail", node="bus"), fact("draw", **{"at": "bus", "is": "heavy"}),
        fact("part", name="R1", place="rail-feed", stage="rail"),
        fact("string-share", **{"of": "unit", "is": share}),
    ]  # fmt: skip
    found = follows([knowledge().rules["rail-hovers-on-a-bus-at-the-strings-volts"]], given)
    assert (fact("rail", **{"at": "rail", "is": "hovers"}) in found) is hovers
