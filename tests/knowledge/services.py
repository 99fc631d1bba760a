"""Units of an invented shop that do something else than light: a fan's speed control with a
bidirectional switch, and a twilight switch whose relay works a lamp outside."""

from __future__ import annotations

PARTS = """\
places:
  - {place: sets-speed, lies: beside, says: the knob that sets the speed}
  - {place: triggers, lies: beside, says: the part that fires the switch}
parts:
  - kind: triac
    says: triac
    traits: [gated, bidirectional]
    proneness: 3
    proneness_source: made up for a test
    rating: Same amperes, 600 V.
    modes:
      short: {share: 0.4, acts: short, says: shorted, source: made up for a test}
      half: {share: 0.2, acts: half-wave, says: fires one way only, source: made up for a test}
      dead: {share: 0.2, acts: dead, says: no longer fires, source: made up for a test}
  - kind: snubber-capacitor
    says: snubber capacitor
    unit: F
    proneness: 1
    proneness_source: made up for a test
    rating: Same class.
    modes:
      short: {share: 0.3, acts: short, says: shorted, source: made up for a test}
      leaky: {share: 0.3, acts: leaky, says: leaky, source: made up for a test}
  - kind: knob
    says: speed knob
    unit: ohm
    proneness: 3
    proneness_source: made up for a test
    rating: Same value.
    modes:
      open: {share: 0.6, acts: open, says: track open, source: made up for a test}
  - kind: diac
    says: diac
    proneness: 1
    proneness_source: made up for a test
    rating: Same volts.
    modes:
      open: {share: 0.5, acts: open, says: open, source: made up for a test}
  - kind: fan-motor
    says: fan motor
    traits: [outside]
    proneness: 3
    proneness_source: made up for a test
    rating: Same motor.
    found: {by: glance, looks: outside the unit, source: made up for a test}
    modes:
      open: {share: 0.3, acts: open, says: winding open, source: made up for a test}
      short: {share: 0.2, acts: short, says: shorted, source: made up for a test}
      worn: {share: 0.3, acts: worn, says: bearings dry, source: made up for a test}
      loose: {share: 0.2, acts: intermittent, says: lead comes and goes, source: made up for a test}
  - kind: relay
    says: relay
    traits: [clicks]
    proneness: 4
    proneness_source: made up for a test
    rating: Same coil and contact.
    modes:
      welded: {share: 0.4, acts: short, says: contact welded, source: made up for a test}
      burnt: {share: 0.3, acts: open, says: contact burnt away, source: made up for a test}
      coil: {share: 0.2, acts: dead, says: coil open, source: made up for a test}
  - kind: lamp-outside
    says: lamp outside
    traits: [outside]
    proneness: 3
    proneness_source: made up for a test
    rating: Same watts.
    found: {by: glance, looks: outside the unit, source: made up for a test}
    modes:
      open: {share: 1, acts: open, says: burnt out, source: made up for a test}
  - kind: dropper-film
    says: film capacitor
    unit: F
    proneness: 3
    proneness_source: made up for a test
    rating: Same class.
    modes:
      worn: {share: 0.6, acts: worn, says: lost capacitance, source: made up for a test}
stages:
  - kind: phase-control
    says: phase control
    family: control
    needs: [sets-speed, triggers]
    places: {sets-speed: the knob, triggers: the diac}
  - kind: load
    says: load
    family: load
    needs: [works]
    places: {works: the load, line: its leads}
rules:
  - id: knob-and-diac-fire-the-triac
    says: A knob that is whole charges the capacitor of the diac, which fires the switch each half cycle.
    step: suppose
    when:
      - part: {name: $k, place: sets-speed, stage: $s}
      - condition: {part: $k, acts: healthy}
      - part: {name: $t, place: triggers, stage: $s}
      - condition: {part: $t, acts: healthy}
      - governs: {stage: $s, part: $q}
    then: [fires: {at: $q, is: "yes"}]
    source: made up for a test
  - id: full-speed-past-a-shorted-triac
    says: Past a shorted triac, or a shorted part across it, the fan runs at full speed whatever is set.
    step: suppose
    when:
      - part: {place: sets-speed, stage: $s}
      - governs: {stage: $s, part: $q}
      - condition: {part: $q, acts: short}
    then: [service: {at: unit, is: races}]
    source: made up for a test
  - id: share-of-loads
    says: Loads fail in a quarter of all.
    step: survey
    when: [stage: {family: load}]
    then: [slice: {family: load, share: 0.25}]
    source: made up for a test
"""  # noqa: E501

_HEAD = """\
topology: {name}
says: A unit of an invented shop
source: made up for a test
does: {does}
openings:
  cap: {{minutes: 3, says: open the case, how: Undo two screws.}}
boards:
  board: {{says: board, swap_minutes: 30, behind: cap}}
stages:
  entry:
    kind: mains-entry
    behind: cap
    board: board
    parts:
      J1: {{kind: joint, place: line, says: cord}}
      R1: {{kind: fusible-resistor, place: line, value: 10 ohm}}
"""

FAN = _HEAD.format(name="fan-control", does="turn") + """\
  control:
    kind: phase-control
    behind: cap
    board: board
    fed_by: entry
    controls: switch
    parts:
      RV2: {kind: knob, place: sets-speed, value: 470 kohm}
      D1: {kind: diac, place: triggers}
  switch:
    kind: series-switch
    behind: cap
    board: board
    fed_by: entry
    parts:
      Q1: {kind: triac, place: switches}
      C1: {kind: snubber-capacitor, place: alongside, value: 0.1 uF, volts: 400 V, parallel_to: Q1}
  motor:
    kind: load
    fed_by: switch
    parts:
      M1: {kind: fan-motor, place: works}
"""
"""A fan's speed control: a triac in the mains line, a snubber across it, the motor outside."""

TWILIGHT = _HEAD.format(name="twilight-switch", does="click") + """\
      C1: {kind: dropper-film, place: line, value: 1 uF, volts: 400 V}
  rectifier:
    kind: rectifier
    behind: cap
    board: board
    parts:
      BR1: {kind: bridge-rectifier, place: rectifies, volts: 600 V}
  filter:
    kind: bulk-filter
    behind: cap
    board: board
    parts:
      D9: {kind: zener, place: clamps, value: 24 V}
      C2: {kind: electrolytic, place: reservoir, value: 220 uF, volts: 35 V}
  control:
    kind: light-control
    behind: cap
    board: board
    fed_by: filter
    controls: relay
    parts:
      R2: {kind: dropper-resistor, place: rail-feed, value: 22 kohm}
      D1: {kind: zener, place: rail-clamp, value: 5.1 V}
      C3: {kind: ceramic-capacitor, place: rail-store, value: 10 uF, volts: 16 V}
      U2: {kind: comparator, place: decides}
      D2: {kind: photodiode, place: senses}
      R7: {kind: film-resistor, place: drives, value: 10 kohm}
  relay:
    kind: series-switch
    behind: cap
    board: board
    fed_by: inlet
    parts:
      K1: {kind: relay, place: switches}
      C4: {kind: snubber-capacitor, place: alongside, value: 0.1 uF, volts: 400 V, parallel_to: K1}
  lamp:
    kind: load
    fed_by: relay
    parts:
      H1: {kind: lamp-outside, place: works}
points:
  TP1: {stage: control, side: decision, says: output of the comparator}
"""
TWILIGHT = TWILIGHT.replace("  entry:\n", "  inlet:\n    kind: mains-entry\n    behind: cap\n"
    "    parts:\n      J0: {kind: joint, place: line, says: terminals}\n  entry:\n", 1)  # fmt: skip
"""A twilight switch: a relay contact in the mains line, its control on a capacitor dropper."""

DRIVE = _HEAD.format(name="fan-drive", does="turn") + """\
  rectifier:
    kind: rectifier
    behind: cap
    board: board
    parts:
      BR1: {kind: bridge-rectifier, place: rectifies, volts: 600 V}
  filter:
    kind: bulk-filter
    behind: cap
    board: board
    parts:
      C1: {kind: electrolytic, place: reservoir, value: 10 uF, volts: 400 V}
      L1: {kind: choke, place: line, value: 2.2 mH}
  second:
    kind: bulk-filter
    behind: cap
    board: board
    parts:
      L2: {kind: choke, place: line, value: 2.2 mH}
      C2: {kind: electrolytic, place: reservoir, value: 10 uF, volts: 400 V}
  driver:
    kind: buck-converter
    behind: cap
    board: board
    parts:
      U1: {kind: converter-controller, place: controls, package: U1, says: drive chip}
      U1Q: {kind: converter-switch, place: chops, package: U1}
      L3: {kind: inductor, place: coil, value: 1 mH}
  motor:
    kind: load
    fed_by: driver
    parts:
      M1: {kind: fan-motor, place: works}
points:
  TP1: {stage: filter, side: out, says: between the two chokes}
"""
"""A fan's drive: two reservoirs, a converter, the motor outside."""

UNITS = {"fan-control": FAN, "twilight-switch": TWILIGHT, "fan-drive": DRIVE}
FILES = {"service-parts": PARTS, **UNITS}
"""A whole folder: file names without their ending, and texts."""
