"""Is it told where no rule says what a failed part in line does to the power?"""

from kb.language import loader, silence

REGULATOR = """
parts:
  - kind: linear-regulator
    says: linear current regulator
    traits: [chip]
    proneness: 3
    proneness_source: common practice, no source
    modes:
      short: {share: 0.6, acts: short, says: shorted, source: "common practice, no source"}
      dead: {share: 0.4, acts: dead, says: passes nothing, source: "common practice, no source"}
stages:
  - kind: linear-regulator
    says: linear current regulator
    family: supply
    needs: [controls]
    places: {controls: the regulator}
"""
LAMP = """
topology: one-board-lamp
says: LED lamp with a linear regulator
source: common practice
stages:
  entry:
    kind: mains-entry
    parts:
      J1: {kind: joint, place: line}
  rectifier:
    kind: rectifier
    parts:
      BR1: {kind: bridge-rectifier, place: rectifies}
  regulator:
    kind: linear-regulator
    parts:
      U1: {kind: linear-regulator, place: controls}
  leds:
    kind: led-string
    parts:
      LED: {kind: led-package, place: lights, value: 18 V, count: 14}
"""
RULE = """
step: suppose
rules:
  - id: shorted-regulator-overloads
    says: A shorted regulator lets the bus run straight into the LEDs.
    when:
      - part: {name: $p, kind: linear-regulator}
      - condition: {part: $p, acts: short}
      - way: {part: $p, start: $a}
    then: [draw: {at: $a, is: short}]
    source: common practice
"""


def told(folder, **files):
    for name, text in files.items():
        (folder / f"{name}.yaml").write_text(text)
    return [(t.code, t.grave, t.what) for t in silence.silent(loader.read((folder,)))]


def test_shipped_rules_follow_up_every_failure_in_line():
    assert list(silence.silent(loader.read())) == []


def test_a_short_that_no_rule_follows_up_is_told(tmp_path):
    """Shipped rules know how a shorted part reads, not what it does as a controller."""
    found = told(tmp_path, regulator=REGULATOR, lamp=LAMP)
    assert [(code, grave) for code, grave, _ in found] == [("KB818", False)]
    assert "U1" in found[0][2]
    assert "'short'" in found[0][2]


def test_a_rule_that_follows_it_up_ends_the_note(tmp_path):
    assert told(tmp_path, regulator=REGULATOR, lamp=LAMP, rules=RULE) == []


def test_what_is_dried_out_and_bulged_counts_as_dried_out(tmp_path):
    """A word that a rule turns into another is followed up under that one."""
    word = RULE.replace("shorted-regulator-overloads", "fused-is-shorted").replace(
        "    when:", "    when:\n      - condition: {part: $q, acts: fused}"
    ).replace("[draw: {at: $a, is: short}]", "[condition: {part: $q, acts: short}]")  # fmt: skip
    fused = REGULATOR.replace("acts: short", "acts: fused")
    assert len(told(tmp_path, regulator=fused, lamp=LAMP, rules=RULE, word=word)) == 0
