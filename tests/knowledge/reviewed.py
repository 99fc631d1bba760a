"""A folder of an invented workshop in which everything is wrong that a reviewer remarks on."""

from __future__ import annotations

from tests.knowledge.shop import CORD_LAMP

_OWN = "trait: {of: unit, is: shop-made}"
_YES_NO = "[{outcome: good, says: good, for: [fine]}, {outcome: bad, says: bad, for: [high]}]"


def _test(name: str, rest: str) -> str:
    return f"""\
  - id: offers-{name}
    says: The shop offers {name}.
    step: offer
    when: [{_OWN}, part: {{name: $p, place: reservoir}}]
    then:
      - test: {{name: {name}, action: esr, says: "What of {name}?", minutes: 1, rig: none, {rest}}}
    source: the shop's own habit
"""


def _rig(name: str, when: str, rig: str) -> str:
    return f"""\
  - id: {name}
    says: A rule of the shop.
    step: offer
    when: [{_OWN}, {when}]
    then:
      - rig: {{{rig}, minutes: 1, hands_on: true, says: do it, how: so}}
    source: the shop's own habit
"""


_PLAIN = "how: so, good: low, supply: unplugged, behind: shell, looks_at: esr, at: $p"

RULES = "rules:\n" + "".join(
    (
        _rig("waits-for-ever", "trait: {of: $p, is: perpetual}", "name: $p, does: wait, on: $p"),
        _rig("first-twin", "head: {of: unit, node: $n}", 'name: "on-{n}", does: shake, on: $n'),
        _rig("second-twin", "head: {node: $m, of: unit}", 'name: "on-{m}", does: shake, on: $m'),
        _rig(
            "says-it-for-each-part",
            "stage: {name: $s, kind: mains-entry}, part: {name: $p, stage: $s}",
            'name: "rap-{s}", does: rap, on: $s',
        ),
        """\
  - id: somebody-hears-a-hum
    says: The owner hears it.
    step: offer
    when: [trait: {of: unit, is: shop-made}]
    then: [use: {as: hum, of: noise, at: unit, energy: mains, scene: home}]
    source: the shop's own habit
  - id: hummers-hum
    says: A part that hums is heard.
    step: suppose
    when: [condition: {part: $p, acts: hums}]
    then: [noise: {at: unit, is: hums}]
    source: "???"
""",
        _test("out-of-reach", f"{_PLAIN.replace('unplugged', 'normal-mains')}, answers: {_YES_NO}"),
        _test("deaf", f"{_PLAIN.replace('at: $p', 'at: nowhere')}, answers: {_YES_NO}"),
        _test("untold", f"{_PLAIN.replace('how: so, good: low, ', '')}, answers: {_YES_NO}"),
        _test(
            "no-unit",
            f"{_PLAIN}, instrument: x, answers: [{{outcome: a, says: low, for: [fine], below: 3}}, "
            "{outcome: b, says: high, for: [high]}]",
        ),
        _test(
            "crossed",
            f"{_PLAIN}, instrument: x, unit: V, answers: [{{outcome: a, says: low, for: [fine], "
            "below: 5}, {outcome: b, says: middling, for: [high], below: 3}, "
            "{outcome: c, says: much, for: []}]",
        ),
        _test(
            "holed",
            f"{_PLAIN}, instrument: x, unit: V, answers: [{{outcome: a, says: low, for: [fine], "
            "below: 5}, {outcome: b, says: middling, for: [high]}, "
            "{outcome: c, says: much, for: []}]",
        ),
        """\
  - id: nothing-there-is-dark
    says: Without volts at the reservoir it stays dark inside.
    step: suppose
    when:
      - trait: {of: unit, is: shop-made}
      - hangs: {node: $n, place: reservoir}
      - volts: {at: $n, is: none}
    then: [glow: {at: unit, is: dark}]
    source: the shop's own habit
""",
        _test(
            "fingers-on-mains",
            "how: so, good: low, behind: shell, supply: rcd-limited, looks_at: glow, at: unit, "
            "answers: [{outcome: a, says: so, for: [dark]}, {outcome: b, says: no, for: [bright]}]",
        ).replace("minutes: 1,", "minutes: 0.1,"),
    )
)  # fmt: skip

WORDS = """\
quantities:
  - quantity: noise
    says: what is heard
    values: {hums: it hums, quiet: nothing}
    otherwise: quiet
  - quantity: glow
    says: what glows inside
    values: {dark: nothing, bright: something}
    otherwise: bright
doings:
  - {doing: wait, hands: true, live: none, heat: false, says: it is waited for, source: the shop's own habit}
  - {doing: shake, hands: true, live: none, heat: false, says: it is shaken, source: the shop's own habit}
  - {doing: rap, hands: true, live: none, heat: false, says: it is rapped, source: the shop's own habit}
stages:
  - {kind: oddity, says: something odd, family: odd, places: {line: a part in line}}
parts:
  - kind: hummer
    says: humming choke
    proneness: 1
    proneness_source: the shop's own count
    modes:
      hums: {share: 0.9, acts: hums, says: hums, source: "MIL-HDBK-338B failure-mode table, coil"}
      faint: {share: 0.1, acts: weak, says: hums faintly, source: the shop's own count}
"""  # noqa: E501

HUM_LAMP = (
    CORD_LAMP.replace("cord-lamp", "hum-lamp")
    .replace("[non-isolated]", "[non-isolated, shop-made]")
    .replace(
        "      R1: {kind: fusible-resistor, place: line, value: 47 ohm}\n",
        "      R1: {kind: fusible-resistor, place: line}\n"
        "      L7: {kind: hummer, place: guards}\n",
    )
    .replace(
        "  rectifier:\n",
        "  oddity:\n    kind: oddity\n    behind: shell\n    parts:\n"
        "      L8: {kind: hummer, place: line}\n  rectifier:\n",
        1,
    )
)

# A thyristor behind the reservoir, and nothing that fires it.
STUCK_LAMP = CORD_LAMP.replace("cord-lamp", "stuck-lamp").replace(
    "  leds:\n",
    "  switch:\n    kind: series-switch\n    behind: shell\n    parts:\n"
    "      Q1: {kind: thyristor, place: switches}\n  leds:\n",
)
