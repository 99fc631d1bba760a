"""Is each mistake in knowledge told in one clear sentence with its place and mend, exit code 2?"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from engine.deduce.composition import Bench
from engine.deduce.deduction import Reasoner
from kb.language import loader
from kb.language.lint import lint
from kb.trouble import TroubleError
from tests.knowledge.shop import CORD_LAMP, KIND, RULE, folder
from tests.words.cli import Desk

# What is changed in the file, into what, the place (line:column) and words of the sentence.
TOPOLOGY = [
    ("kind: led-string", "kind: neon-string", "30:5 KB404", "unknown kind 'neon-string'"),
    ("kind: fusible-resistor", "kind: fuse-wire", "16:12 KB408", "unknown kind 'fuse-wire'"),
    ("value: 47 ohm", "value: 47 oms", "16:49 KB409", "“47 oms” is not a quantity"),
    ("value: 47 ohm", "value: 47 V", "16:49 KB409", "write it in Ω"),
    ("place: reservoir", "place: bathtub", "28:32 KB406", "which a bulk-filter does not have"),
    ("place: rectifies", "place: rectifys", "22:37 KB406", "rectifys"),
    ("place: rectifies", "place: line", "17:3 KB407", "has no part for: rectifies"),
    ("{kind: bridge-rectifier, place: rectifies, volts: 600 V}", "", "22:7 KB203", "BR1"),
    ("    kind: rectifier\n", "    kind: rectifier\n    fed_by: leds\n", "19:5 KB401", "a circle"),
    ("    kind: rectifier\n", "    kind: rectifier\n    fed_by: moon\n", "19:5 KB402", "no stage"),
    ("    kind: rectifier\n", "    kind: rectifier\n    controls: it\n", "19:5 KB405", "no stage"),
    ("stage: filter, side", "stage: filler, side", "36:9 KB410", "'filler', which is no stage"),
    ("behind: shell}\n", "behind: shed}\n", "8:50 KB411", "'shed', which is no opening"),
    ("  leds:\n    kind: led-string\n    behind: shell", "  leds:\n    kind: led-string\n"
     "    behind: roof", "31:5 KB411", "'roof', which is no opening"),
    ("the shell,", "the shell, after: [shell],", "6:45 KB412", "only be made after itself"),
    ("      J2:", "      R1:", "33:7 KB413", "stands in the stages 'entry' and 'leds'"),
    ("minutes: 3,", "minutes: many,", "6:11 KB203", "many"),
    ("says: open the shell, how", "how", "6:3 KB201", "lacks"),
    ("traits: [", "colour: red\ntraits: [", "4:1 KB202", "unknown word 'colour'"),
    ("stages:\n", "stages\n", "10:8 KB103", "not valid YAML"),
    ("  rectifier:\n", "\t rectifier:\n", "KB103", "A tab stands at the beginning"),
    ("    board: driver\n", "    board:\tdriver:\t\n", "KB103", "A tab stands in this line"),
    ("kind: led-string", "kind: led-sting", "30:5 KB404", "Write 'led-string'"),
    ("kind: fusible-resistor", "kind: fusible-resitor", "16:12 KB408", "Write 'fusible-resistor'"),
    ("place: reservoir", "place: resevoir", "28:32 KB406", "Write 'reservoir'"),
    ("stage: filter, side", "stage: fliter, side", "36:9 KB410", "Write 'filter'"),
    ("side: out", "side: outt", "36:24 KB203", "Write 'out'"),
    ("traits: [non-isolated]", "traits: [non-isolate]", "4:1 KB621", "Write 'non-isolated'"),
    ("minutes: 3,", "minuts: 3,", "6:11 KB202", "Write 'minutes', or remove it"),
    ("minutes: 3,", "minutes: 3,5,", "KB202", "Within braces a comma parts entries"),
    ("minutes: 3,", 'minutes: "3,5",', "6:11 KB203", "Write a point for the comma: 3.5"),
    ("minutes: 3,", "minutes: 3 min,", "6:11 KB203", "Write the number alone: 3"),
    ("value: 47 ohm", "value: 47", "16:49 KB203", "with its unit, such as 47 ohm"),
    ("value: 47 ohm", 'value: "47"', "16:49 KB409", "names no unit"),
    ("value: 47 ohm", 'value: "1,000 ohm"', "16:49 KB409", "write 1000 ohm, or a point"),
    ("value: 47 ohm", "value: 1,000 ohm", "KB202", "Within braces a comma parts entries"),
    ("value: 47 ohm", "value: 0 ohm", "16:49 KB409", "nothing or less"),
    ("value: 4.7 uF", "value: 4.7 mF", "28:50 KB409", "write 4.7 uF, or the farads in uF"),
    ("value: 4.7 uF", "value: 4.7 MF", "28:50 KB409", "microfarads as old markings have it"),
    ("value: 4.7 uF", "value: 4.7 MFD", "28:50 KB409", "write 4.7 uF"),
    ("value: 47 ohm", 'value: 47 ohm, when_mains: {"12O": 22 ohm}', "KB621", "Write '120'"),
    ("  rectifier:\n", "  entry:\n", "17:3 KB103", "not valid YAML"),
]  # fmt: skip


@pytest.mark.parametrize(("before", "after", "place", "words"), TOPOLOGY)
def test_a_topology_that_can_not_be_built(desk: Desk, before, after, place, words):
    assert before in CORD_LAMP
    own = folder(desk.folder / "shop", cord_lamp=CORD_LAMP.replace(before, after, 1))
    run = desk.run("model", "cord-lamp", "--kb", str(own))
    assert (run.code, run.out) == (2, "")
    assert f"cord-lamp.yaml:{place}" in run.err or (place.startswith("KB") and place in run.err)
    assert words in run.err
    assert "Traceback" not in run.err


PARTS = [
    ("acts: open,", "acts: opne,", "11:27 KB621", "which no rule asks for, so that the fault would "
     "show nowhere. Write 'open'"),
    ("[resistor, thermistor]", "[resitor, thermistor]", "4:5 KB621", "Write 'resistor'"),
    ("share: 0.63", "share: 63", "11:14 KB203", "63 % is 0.63"),
    ("proneness: 1.5", "proneness: 15000", "7:5 KB203", "it should be 100 or less"),
    ("proneness: 1.5", "proneness: 0.0001", "7:5 KB203", "it should be 0.01 or more"),
    ("proneness: 1.5", 'proneness: "1,5"', "7:5 KB203", "Write a point for the comma: 1.5"),
    ("    proneness: 1.5", "    pronness: 1.5", "7:5 KB202", "Write 'proneness'"),
]


@pytest.mark.parametrize(("before", "after", "place", "words"), PARTS)
def test_a_kind_of_part_that_can_not_be_used(desk: Desk, before, after, place, words):
    assert before in KIND
    own = folder(desk.folder / "shop", thermistor=KIND.replace(before, after, 1))
    run = desk.run("model", "buck-lamp", "--kb", str(own))
    assert (run.code, run.out) == (2, "")
    assert f"thermistor.yaml:{place}" in run.err
    assert words in " ".join(run.err.split())
    assert "Traceback" not in run.err


def test_a_kind_whose_modes_have_no_share_to_speak_of(desk: Desk):
    """A decimal point gone astray is no share of failures."""
    text = KIND.replace("share: 0.63", "share: 0.0063").replace("share: 0.22", "share: 0.0022")
    run = desk.run("model", "buck-lamp", "--kb", str(folder(desk.folder / "shop", kind=text)))
    assert run.code == 2
    assert "kind.yaml:10:5 KB622" in run.err


@pytest.mark.parametrize("name", ["lamp.yml", "deep/lamp.YAML", "bench.yml"])
def test_a_file_whose_name_ends_otherwise_is_refused_aloud(desk: Desk, name):
    """It would not be read, and nobody would miss it; also where the model is in the cache."""
    own = folder(desk.folder / "shop", lamp=CORD_LAMP)
    assert desk.run("list", "--kb", str(own)).code == 0
    stray = own / name
    stray.parent.mkdir(exist_ok=True)
    stray.write_text(CORD_LAMP)
    run = desk.run("model", "cord-lamp", "--kb", str(own))
    assert run.code == 2
    assert f"{name} KB114" in run.err
    assert f"Name it {name.split('/')[-1].split('.')[0]}.yaml" in run.err


def test_a_draft_without_parts_that_fail_is_refused(desk: Desk):
    """No chart of it could end in anything but a guess."""
    bare = CORD_LAMP.split("  entry:")[0] + (
        "  entry:\n    kind: mains-entry\n    parts:\n      J1: {kind: weight, place: line}\n"
    )
    weight = "parts:\n  - {kind: weight, says: weight, proneness: 1, proneness_source: shop, "
    weight += "modes: {}}\n"
    run = desk.run("model", "cord-lamp", "--kb", str(folder(desk.folder / "s", a=bare, b=weight)))
    assert (run.code, run.out) == (2, "")
    assert "a.yaml:9:1 KB414 'cord-lamp' has no part that can fail" in run.err


RULES = [
    ("step: offer", "step: dream", "KB604", "unknown step 'dream'"),
    ("head: {", "heart: {", "KB601", "'heart', which is no kind of fact"),
    ("of: unit", "off: unit", "KB602", "the field 'off', which a 'head' has not"),
    ("on: $n", "on: $m", "KB603", "uses $m"),
    ("node: $n", "node: {near: $n}", "KB607", "unknown word 'near'"),
    ("node: $n", "node: {not: $x}", "KB611", "before anything binds it"),
    ("of: unit", "of: {any: unit}", "KB611", "wants a list of plain values"),
    ("of: unit", "of: {above: unit}", "KB611", "wants a number"),
    ("of: unit", "of: [unit]", "KB611", "neither a word, a number nor a truth value"),
    ("of: unit", "of: null", "KB611", "neither a word, a number nor a truth value"),
    ("minutes: 1", "minutes: soon", "KB612", "whose 'minutes' is no number: 'soon'"),
    ("minutes: 1", "minutes: $n", "KB612", "is no number: $n is bound to 'node'"),
    ("hands_on: true", "hands_on: $n", "KB612", "neither true nor false: $n is bound to 'node'"),
    ("does: shake, ", "", "KB620", "a 'rig' without its field 'does' (what it does)"),
    (", says: shake it", "", "KB620", "a 'rig' without its field 'says' (in words)"),
    ("rig: {name: shop-rig, does: shake, on: $n, minutes: 1, hands_on: true, says: shake it}",
     "light: {at: $n}", "KB620", "a 'light' without its field 'is' (its value)"),
    ("rig: {name: shop-rig, does: shake, on: $n, minutes: 1, hands_on: true, says: shake it}",
     "reckons: {test: $n, sum: led-check, given: dies=2}", "KB620", "without its field 'tells'"),
    ("[head: {of: unit, node: $n}]", "[light: {at: $n, is: bright}]", "KB605", "no value of"),
    ("minutes: 1", 'minutes: "= 1 / 0"', "KB301", "can't be worked out: division by zero"),
    ("minutes: 1", 'minutes: "= $n * 2"', "KB301", "needs a number for n, but it is 'n0'"),
    ("says: shake it", 'says: "{n:d}"', "KB301", "Unknown format code"),
    ("    source: the shop's own habit\n", "", "KB201", "lacks 'source'"),
    ("step: offer", "step: ofer", "KB604", "Write 'offer'"),
    ("head: {", "haed: {", "KB601", "Write 'head'"),
    ("[head: {of: unit, node: $n}]", "[head: {node: $n}, part: {place: swtiches}]", "KB621",
     "names 'swtiches' as the 'place' of a 'part', which there is none of. Write 'switches'"),
    ("[head: {of: unit, node: $n}]", "[head: {node: $n}, condition: {acts: opne}]", "KB621",
     "Write 'open'"),
    ("[head: {of: unit, node: $n}]", "[head: {node: $n}, complaint: {is: never-light}]", "KB621",
     "Write 'never-lights'"),
    ("[head: {of: unit, node: $n}]", "[head: {node: $n}, trait: {is: capacitr}]", "KB621",
     "Write 'capacitor'"),
    ("[head: {of: unit, node: $n}]", "[head: {node: $n}, mode: {name: shrot}]", "KB621",
     "Write 'short'"),
    ("minutes: 1", "minutes: -1", "KB622", "whose 'minutes' is -1. Write a number from 0 to 1000"),
    ("rig: {name: shop-rig, does: shake, on: $n, minutes: 1, hands_on: true, says: shake it}",
     "errs: {test: tap-it, really: same, read: changes, odds: 15}", "KB622", "15 % is 0.15"),
    ("rig: {name: shop-rig, does: shake, on: $n, minutes: 1, hands_on: true, says: shake it}",
     "slice: {family: supply, share: 40}", "KB622", "40 % is 0.4"),
]  # fmt: skip


@pytest.mark.parametrize(("before", "after", "code", "words"), RULES)
def test_a_rule_that_can_not_be_used(desk: Desk, before, after, code, words):
    assert before in RULE
    text = RULE.replace(before, after, 1)
    own = folder(desk.folder / "shop", cord_lamp=CORD_LAMP, rules=text)
    run = desk.run("model", "cord-lamp", "--kb", str(own))
    assert (run.code, run.out) == (2, "")
    assert re.search(rf"rules\.yaml:\d+:\d+ {code} ", run.err), run.err
    assert words in run.err


OWN_KIND = """\
facts:
  - {fact: mood, says: the shop's own word, fields: {of: whose, depth: how deep}}
rules:
  - id: shop-mood
    says: The shop's own word for a unit.
    step: offer
    when: [head: {of: unit}]
    then: [mood: {of: unit, depth: deep}]
    source: the shop's own habit
  - id: shop-rule
    says: The shop's own rule.
    step: conclude
    when: [mood: {depth: $d}]
    then: [%s]
    source: the shop's own habit
"""


def test_a_field_of_a_kind_of_ones_own_can_be_let_off(desk: Desk):
    """The sentence names both ways to mend it: give the field, or list it as optional."""
    text = OWN_KIND.replace(", depth: deep", "") % "weigh: {fault: other, by: 2}"
    own = folder(desk.folder / "shop", rules=text)
    run = desk.run("check", str(own))
    assert run.code == 2
    assert "rules.yaml:4:5 KB620 Rule 'shop-mood' concludes a 'mood' without" in run.out + run.err
    assert "list it under `optional` of the fact 'mood'" in run.out + run.err
    optional = text.replace("depth: how deep}", "depth: how deep}, optional: [depth]")
    mended = folder(desk.folder / "b", cord_lamp=CORD_LAMP, r=optional)
    run = desk.run("model", "cord-lamp", "--kb", str(mended))
    assert (run.code, run.err) == (0, "")


def test_a_listed_field_is_one_of_the_kind(desk: Desk):
    text = OWN_KIND.replace("how deep}", "how deep}, numbers: [death]") % "weigh: {fault: x, by: 2}"
    run = desk.run("check", str(folder(desk.folder / "shop", rules=text)))
    assert run.code == 2
    assert "death is listed, but is none of the fields" in run.out + run.err


@pytest.mark.parametrize(
    ("conclusion", "words"),
    [
        ("weigh: {fault: other, by: $d}", "whose 'by' is no number: 'deep'"),
        ("store: {part: C1, point: C1, max_volts: $d}", "whose 'max_volts' is no number: 'deep'"),
        ("proof: {name: p, says: it lights, supply: socket, limit: none, minutes: 1, rank: 99, "
         "closed: $d}", "whose 'closed' is neither true nor false: 'deep'"),
    ],
)  # fmt: skip
def test_what_only_a_deduction_shows_names_unit_file_and_rule(desk: Desk, conclusion, words):
    """Of what sort a field of a shop's own kind is, nobody says before a rule fills it."""
    own = folder(desk.folder / "shop", lamp=CORD_LAMP, rules=OWN_KIND % conclusion)
    run = desk.run("model", "cord-lamp", "--kb", str(own))
    assert (run.code, run.out) == (2, "")
    assert "rules.yaml:10:5 KB306 In cord-lamp, rule 'shop-rule' concludes" in run.err
    assert words in run.err


def test_a_consequence_of_a_supposed_fault_is_held_to_its_sorts(desk: Desk):
    """It is read in the middle of the deduction, from trial to trial."""
    text = OWN_KIND.replace("step: conclude", "step: suppose") % (
        "brings: {part: R1, mode: open, acts: open, odds: $d, says: goes}"
    )
    own = folder(desk.folder / "shop", lamp=CORD_LAMP, rules=text)
    run = desk.run("model", "cord-lamp", "--kb", str(own))
    assert run.code == 2
    assert "KB306 In cord-lamp, rule 'shop-rule' concludes 'brings: part R1" in run.err
    assert "whose 'odds' is no number: 'deep'" in run.err


def test_a_rule_that_fails_under_a_supposed_fault_is_named(desk: Desk):
    """Its exception is raised inside durable-rules, in the middle of the deduction."""
    text = RULE.replace("step: offer", "step: suppose").replace(
        "[rig: {name: shop-rig, does: shake, on: $n, minutes: 1, hands_on: true, says: shake it}]",
        '[brings: {part: $n, mode: x, acts: open, odds: "= log(0)", says: so}]',
    )
    own = folder(desk.folder / "shop", cord_lamp=CORD_LAMP, rules=text)
    run = desk.run("model", "cord-lamp", "--kb", str(own))
    assert run.code == 2
    assert "rules.yaml:2:5 KB301 Rule 'shop-rule' could not conclude its 'brings'" in run.err


@pytest.mark.parametrize(
    ("share", "words"),
    [("0.9", "sum to 1.12"), ("1.2", "it should be 1 or less"), ("-0.1", "it should be above 0")],
)
def test_shares_that_do_not_sum(desk: Desk, share, words):
    own = folder(desk.folder / "shop", parts=KIND.replace("0.63", share))
    run = desk.run("model", "buck-lamp", "--kb", str(own))
    assert run.code == 2
    assert re.search(r"parts\.yaml:\d+:\d+ KB(609|203) ", run.err)
    assert words in run.err


def test_all_troubles_of_a_folder_are_told_at_once(desk: Desk):
    lamp = CORD_LAMP.replace("minutes: 3,", "minutes: many,")
    own = folder(desk.folder / "shop", lamp=lamp, rules=RULE.replace("    step: offer\n", ""))
    run = desk.run("check", str(own))
    assert run.code == 2
    assert "KB203" in run.out
    assert "KB201" in run.out
    assert "2 errors" in run.out


def test_check_tells_each_trouble_once(desk: Desk):
    """Though a topology is built for both mains."""
    own = folder(desk.folder / "shop", lamp=CORD_LAMP.replace("led-string", "neon-string"))
    run = desk.run("check", str(own))
    assert run.code == 2
    assert run.out.count("KB404") == 1
    assert "1 error," in run.out


def test_a_test_that_needs_a_rig_nobody_offers_points_to_its_rule(desk: Desk):
    text = RULE.replace(
        "[rig: {name: shop-rig, does: shake, on: $n, minutes: 1, hands_on: true, says: shake it}]",
        "[test: {name: t, action: watch, says: Does it?, minutes: 1, supply: unplugged, "
        "rig: nowhere, behind: '', looks_at: light, at: unit, answers: "
        "[{outcome: a, says: yes, for: [normal]}, {outcome: b, says: no, for: [none]}]}]",
    )
    own = folder(desk.folder / "shop", cord_lamp=CORD_LAMP, rules=text)
    run = desk.run("model", "cord-lamp", "--kb", str(own))
    assert run.code == 2
    assert "rules.yaml:2:5 KB302 Test 't' needs the rig 'nowhere', which no rule offers" in run.err


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        ("[{outcome: a, says: yes, for: [normal]}]", "fewer than two"),
        ("[{outcome: a, says: yes}, {outcome: b, says: no, for: [none]}]", "no outcome, says"),
        ("[{outcome: a, says: y, for: [none]}, {outcome: a, says: n, for: [dim]}]", "stands twice"),
        ("[{outcome: a, says: y, for: [none]}, {outcome: b, says: n, for: [red]}]", "is for red"),
        ("[{outcome: a, says: y, for: [none], short: hot}, {outcome: b, says: n, for: [dim]}]",
         "neither true nor false for short"),
    ],
)  # fmt: skip
def test_answers_that_can_not_be_told_apart(desk: Desk, answers, words):
    text = RULE.replace(
        "[rig: {name: shop-rig, does: shake, on: $n, minutes: 1, hands_on: true, says: shake it}]",
        "[test: {name: t, action: watch, says: Does it?, minutes: 1, supply: unplugged, rig: none, "
        f"behind: '', looks_at: light, at: unit, answers: {answers}}}]",
    )
    own = folder(desk.folder / "shop", rules=text)
    run = desk.run("check", str(own))
    assert run.code == 2
    assert "KB613" in run.out
    assert words in run.out


def test_a_folder_that_is_not_there(desk: Desk):
    run = desk.run("check", str(desk.folder / "nowhere"))
    assert run.code == 2
    assert "KB101" in run.out + run.err


def test_a_value_that_no_sum_can_be_worked_with_is_told_at_its_part(desk: Desk):
    """The person can mend the value in the unit, never the sum or the shipped rule."""
    lamp = CORD_LAMP.replace("4.7 uF", "5000000 uF")
    run = desk.run("model", "cord-lamp", "--kb", str(folder(desk.folder / "shop", lamp=lamp)))
    assert (run.code, run.out) == (2, "")
    assert "lamp.yaml:28:7 KB512" in run.err
    assert "with the value of C1" in run.err


OVERFLOW = """\
rules:
  - id: shop-sum
    says: The shop's own sum.
    step: offer
    when: [part: {name: $p, place: reservoir, value: $c, volts: $v}]
    then: [mains: {volts: "= 1 / ($v - 400)", hertz: 50, peak: 1, mean: 1}]
    source: the shop's own habit
"""


def test_a_shipped_rule_that_stumbles_is_told_at_the_units_own_line(tmp_path):
    """As if the rule were shipped: the unit's own folder holds only the unit."""
    base = folder(tmp_path / "base", lamp=CORD_LAMP)
    knowledge = loader.read((folder(tmp_path / "rules", rules=OVERFLOW), base))
    shipped = replace(knowledge, own=frozenset({("topologies", "cord-lamp")}))
    with pytest.raises(TroubleError) as caught:
        Reasoner(shipped).survey("cord-lamp", Bench(230.0, 50.0))
    (trouble,) = caught.value.troubles
    assert (trouble.code, trouble.place.line) == ("KB301", 28)
    assert trouble.place.source.endswith("lamp.yaml")
    assert "division by zero" in trouble.what


FAULT = """\
rules:
  - id: shop-fault
    says: The shop's own fault.
    step: survey
    when: [head: {of: unit}]
    then: [fault: {name: X9-open, part: X9, stage: entry, acts: open, joint: single}]
    source: the shop's own habit
"""


@pytest.mark.parametrize("fault", [FAULT, FAULT.replace("X9, stage", "R1, stage")])
def test_a_fault_of_a_part_that_is_not_there_is_a_sentence_at_its_rule(desk: Desk, fault):
    own = folder(desk.folder / "shop", cord_lamp=CORD_LAMP, rules=fault)
    run = desk.run("model", "cord-lamp", "--kb", str(own))
    assert (run.code, run.out) == (2, "")
    assert "rules.yaml:2:5 KB306" in run.err
    assert "of a part and mode that the unit has not" in run.err


@pytest.mark.parametrize("trait", ["isolates-signal", "transistor"])
def test_a_trait_of_ones_own_is_no_misspelt_one(tmp_path, trait):
    """Longer by a word, or another word: a note lists the known ones, and none is proposed."""
    own = folder(tmp_path, kind=KIND.replace("[resistor, thermistor]", f"[{trait}]"))
    (told,) = [t for t in lint(loader.read((own,))) if t.code == "KB621" and trait in t.what]
    assert not told.grave
    assert "Write '" not in told.mend
    assert "isolates" in told.mend
