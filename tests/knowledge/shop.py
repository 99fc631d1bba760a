"""Knowledge of an invented village repair workshop, written on top of what is shipped."""

from __future__ import annotations

from pathlib import Path

CORD_LAMP = """\
topology: cord-lamp
says: Hand lamp on a cord, its string fed straight from the filter
source: made up for a test
traits: [non-isolated]
openings:
  shell: {minutes: 3, says: open the shell, how: Undo four screws.}
boards:
  driver: {says: driver board, swap_minutes: 30, behind: shell}
stages:
  entry:
    kind: mains-entry
    behind: shell
    board: driver
    parts:
      J1: {kind: joint, place: line, says: cord and its joints}
      R1: {kind: fusible-resistor, place: line, value: 47 ohm}
  rectifier:
    kind: rectifier
    behind: shell
    board: driver
    parts:
      BR1: {kind: bridge-rectifier, place: rectifies, volts: 600 V}
  filter:
    kind: bulk-filter
    behind: shell
    board: driver
    parts:
      C1: {kind: electrolytic, place: reservoir, value: 4.7 uF, volts: 400 V}
  leds:
    kind: led-string
    behind: shell
    parts:
      J2: {kind: joint, place: line, says: wire joints}
      LED: {kind: led-package, place: lights, value: 36 V, count: 8, says: LED packages}
points:
  TP1: {stage: filter, side: out, says: across the capacitor}
"""

EARTHED_LAMP = CORD_LAMP.replace("topology: cord-lamp", "topology: earthed-lamp").replace(
    "traits: [non-isolated]", "traits: [non-isolated, earthed, corded]"
)

RULE = """\
rules:
  - id: shop-rule
    says: The shop's own rule.
    step: offer
    when: [head: {of: unit, node: $n}]
    then: [rig: {name: shop-rig, does: shake, on: $n, minutes: 1, hands_on: true, says: shake it}]
    source: the shop's own habit
doings:
  - {doing: shake, hands: true, live: none, heat: false, says: it is shaken, source: the shop's own habit}
"""  # noqa: E501

KIND = """\
parts:
  - kind: soft-start-thermistor
    says: soft-start thermistor
    traits: [resistor, thermistor]
    unit: ohm
    tolerance: 0.2
    proneness: 1.5
    proneness_source: the shop's own count
    rating: Same cold resistance and current.
    modes:
      open: {share: 0.63, acts: open, says: open, source: "MIL-HDBK-338B failure-mode table, thermistor"}
      drifted: {share: 0.22, acts: high, says: drifted up, source: the shop's own count}
"""  # noqa: E501


def folder(at: Path, **files: str) -> Path:
    """A folder of knowledge with these files."""
    at.mkdir(exist_ok=True)
    for name, text in files.items():
        (at / f"{name.replace('_', '-')}.yaml").write_text(text, encoding="utf-8")
    return at
