"""Units of an invented shop whose stages are not fed straight from the rectified mains."""

from __future__ import annotations

PARTS = """\
parts:
  - kind: dropper-capacitor
    says: film capacitor
    unit: F
    proneness: 3
    proneness_source: made up for a test
    rating: Same class.
    modes:
      worn: {share: 0.6, acts: worn, says: lost capacitance, source: made up for a test}
      short: {share: 0.2, acts: short, says: shorted, source: made up for a test}
      open: {share: 0.2, acts: open, says: open, source: made up for a test}
  - kind: small-transformer
    says: mains transformer
    traits: [isolates]
    unit: V
    proneness: 1
    proneness_source: made up for a test
    rating: Same volts.
    modes:
      open: {share: 0.5, acts: open, says: open, source: made up for a test}
stages:
  - kind: transformer
    says: mains transformer
    family: supply
    places: {transforms: the transformer}
"""

_HEAD = """\
topology: {name}
says: A unit of an invented shop
source: made up for a test
openings:
  cap: {{minutes: 3, says: take off the cap, how: Lever it off.}}
boards:
  board: {{says: board, swap_minutes: 30, behind: cap}}
stages:
  entry:
    kind: mains-entry
    behind: cap
    board: board
    parts:
      J1: {{kind: joint, place: line}}
      R1: {{kind: fusible-resistor, place: line, value: 100 ohm}}
"""
_RECTIFIER = """\
  rectifier:
    kind: rectifier
    behind: cap
    board: board
    parts:
      BR1: {kind: bridge-rectifier, place: rectifies, volts: 600 V}
"""
_DROPPER = "      C1: {kind: dropper-capacitor, place: line, value: 0.47 uF, volts: 400 V}\n"
_CONTROL = """\
  control:
    kind: light-control
    behind: cap
    board: board
    fed_by: filter
    controls: driver
    parts:
      R2: {kind: dropper-resistor, place: rail-feed, value: 3.3 kohm}
      D1: {kind: zener, place: rail-clamp, value: 5.1 V}
      C3: {kind: ceramic-capacitor, place: rail-store, value: 10 uF, volts: 16 V}
      U2: {kind: comparator, place: decides}
      D2: {kind: photodiode, place: senses}
      R7: {kind: film-resistor, place: drives, value: 10 kohm}
  driver:
    kind: buck-converter
    behind: cap
    board: board
    parts:
      U1: {kind: converter-controller, place: controls, package: U1}
      U1Q: {kind: converter-switch, place: chops, package: U1}
      L2: {kind: inductor, place: coil, value: 1 mH}
      C4: {kind: electrolytic, place: smooths, value: 47 uF, volts: 50 V}
"""
_LEDS = """\
  leds:
    kind: led-string
    behind: cap
    board: board
    parts:
      J2: {{kind: joint, place: line}}
      LED: {{kind: led-package, place: lights, value: 3 V, count: {count}}}
points:
  TP2: {{stage: filter, side: out, says: across the capacitor}}
"""
_RAIL_POINT = "  TP3: {stage: control, side: rail, says: the rail}\n"


def _filter(*parts: str) -> str:
    lines = "".join(f"      {part}\n" for part in parts)
    head = "  filter:\n    kind: bulk-filter\n    behind: cap\n    board: board\n    parts:\n"
    return head + lines


DROPPER_LAMP = (
    _HEAD.format(name="dropper-lamp") + _DROPPER + _RECTIFIER
    + _filter("C2: {kind: electrolytic, place: reservoir, value: 100 uF, volts: 35 V}",
              "R3: {kind: bleed-resistor, place: bleeds, value: 100 kohm}")
    + _LEDS.format(count=8)
)  # fmt: skip
"""A 24 V string behind a series capacitor, with no converter: the string sets the volts."""

CLAMPED_LAMP = (
    _HEAD.format(name="clamped-lamp") + _DROPPER + _RECTIFIER
    + _filter("D9: {kind: zener, place: clamps, value: 24 V}",
              "L1: {kind: choke, place: line, value: 2.2 mH}",
              "C2: {kind: electrolytic, place: reservoir, value: 100 uF, volts: 35 V}")
    + _CONTROL + _LEDS.format(count=4) + _RAIL_POINT
)  # fmt: skip
"""A bus behind a series capacitor that a zener diode holds at 24 V; it feeds a control rail."""

TRANSFORMER_LAMP = (
    _HEAD.format(name="transformer-lamp")
    + "  transformer:\n    kind: transformer\n    behind: cap\n    board: board\n    parts:\n"
    "      T1: {kind: small-transformer, place: transforms, value: 18 V}\n"
    + _RECTIFIER
    + _filter("C2: {kind: electrolytic, place: reservoir, value: 100 uF, volts: 35 V}")
    + _CONTROL + _LEDS.format(count=4) + _RAIL_POINT
)  # fmt: skip
"""A bus of 24 V or so behind a transformer of 18 V."""

BARE_TRANSFORMER_LAMP = (
    TRANSFORMER_LAMP.replace("transformer-lamp", "bare-transformer-lamp")
    .replace(_filter("C2: {kind: electrolytic, place: reservoir, value: 100 uF, volts: 35 V}"), "")
    .replace("    fed_by: filter\n", "")
    .replace("stage: filter", "stage: rectifier")
)
"""The same with no capacitor at the bus."""

WEAK_RAW_LAMP = (
    CLAMPED_LAMP.replace("clamped-lamp", "weak-raw-lamp")
    .replace("      C2: {kind: electrolytic, place: reservoir, value: 100 uF, volts: 35 V}\n", "")
    .replace("      L1: {kind: choke, place: line, value: 2.2 mH}\n", "")
    .replace("kind: bulk-filter", "kind: clamped-bus")
)
"""The clamped bus with no capacitor."""
WEAK_PARTS = PARTS + """\
  - kind: clamped-bus
    says: bus with a zener diode across it
    family: supply
    places: {clamps: zener diode}
"""
OUTPUT_FED_LAMP = (
    TRANSFORMER_LAMP.replace("transformer-lamp", "output-fed-lamp")
    .replace("    fed_by: filter\n    controls: driver\n", "    fed_by: driver\n")
)
"""A control rail that the converter's output feeds."""
HIGH_RESISTOR_LAMP = DROPPER_LAMP.replace("dropper-lamp", "high-resistor-lamp").replace(
    _DROPPER, "      R4: {kind: film-resistor, place: line, value: 10 kohm}\n"
)
"""The string behind kilohms in line."""

_CHOKE = "      L1: {kind: choke, place: line, value: 2.2 mH}\n"
_CLAMP = "      D9: {kind: zener, place: clamps, value: 24 V}\n"
UNMARKED_LAMP = (
    CLAMPED_LAMP.replace("clamped-lamp", "unmarked-lamp")
    .replace(", value: 3.3 kohm", "")
    .replace(_CLAMP + _CHOKE, _CHOKE + _CLAMP)
    + "  TP4: {stage: rectifier, side: out, says: in front of the choke}\n"
)
"""A rail whose feed is marked nowhere, and a point in front of what leads to the clamp."""

UNITS = {
    "unmarked-lamp": UNMARKED_LAMP,
    "dropper-lamp": DROPPER_LAMP,
    "clamped-lamp": CLAMPED_LAMP,
    "transformer-lamp": TRANSFORMER_LAMP,
    "bare-transformer-lamp": BARE_TRANSFORMER_LAMP,
    "weak-raw-lamp": WEAK_RAW_LAMP,
    "output-fed-lamp": OUTPUT_FED_LAMP,
    "high-resistor-lamp": HIGH_RESISTOR_LAMP,
}
FILES = {"parts": WEAK_PARTS, **UNITS}
"""A whole folder: file names without their ending, and texts."""
