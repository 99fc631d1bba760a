"""Small folders of an invented shop, each of which tries to loosen safety in one way."""

from __future__ import annotations

from tests.knowledge.shop import CORD_LAMP


def rule(then: str, *, step: str = "offer", when: str = "head: {of: unit, node: $n}") -> str:
    """A folder's file with one rule."""
    return (
        f"rules:\n  - id: shop-rule\n    says: The shop's own rule.\n    step: {step}\n"
        f"    when: [{when}]\n    then: [{then}]\n    source: the shop's own habit\n"
    )


def number(name: str, value: str) -> str:
    """A number of the trade, set anew."""
    return f"numbers:\n  - {{number: {name}, value: {value}, says: so it is, source: the shop}}\n"


def arrangement(rest: str) -> str:
    """A supply arrangement of the shop's own."""
    return (
        "arrangements:\n  - {arrangement: shop-supply, says: the shop's own, how: Plug it in., "
        f"connect_minutes: 0, leave_minutes: 0, source: the shop, {rest}}}\n"
    )


def action(name: str, more: str = "rig: none, behind: shell") -> str:
    """A test by that action."""
    return rule(
        f"test: {{name: shop-test, action: {name}, says: What does it read?, minutes: 1, "
        f"supply: isolated-limited, {more}, looks_at: light, at: unit, answers: "
        "[{outcome: a, says: yes, for: [normal, fades-warm, cycles, shimmers, trembles, falters, "
        "some-dark, dim, flickers, flashes, glares]}, {outcome: b, says: no, for: [none]}]}"
    )


def rig(does: str, hands: str = "true", more: str = "") -> str:
    """A rig that does this."""
    fields = f"name: shop-rig, does: {does}, on: $n, minutes: 1, hands_on: {hands}, says: fit it"
    return rule(f"rig: {{{fields}}}") + more


def remedy(kind: str, then: str) -> str:
    """A remedy of that kind and what it does to C1."""
    return (
        rule(
            f"remedy: {{name: shop-remedy, says: Do it the shop's way, kind: {kind}, minutes: 1, "
            f"level: stage}}, {then}",
            step="conclude",
            when="part: {name: $p, place: reservoir}, fault: {name: $f, part: $p}",
        )
        .replace("}, renews", "}\n      - renews")
        .replace("}, cures", "}\n      - cures")
        .replace("then: [remedy", "then:\n      - remedy")
        .replace("]\n    source: the shop's own habit", "\n    source: the shop's own habit")
    )


ARRANGED = "hands_on: false, closed_only: "
PLACES = "places:\n  - {place: %s, says: the shop's word, lies: %s}\n"
KIND = (
    "parts:\n  - {kind: electrolytic, says: can, traits: [%s], unit: %s, proneness: 1, "
    "proneness_source: the shop, modes: {open: {share: 0.5, acts: open, says: open, "
    "source: the shop}}}\n"
)
FACT = "facts:\n  - {fact: %s, says: the shop's word, fields: {%s}}\n"
WORDS = "quantities:\n  - {quantity: %s, says: the shop's word, values: {%s}, otherwise: %s}\n"
DOING = "doings:\n  - {doing: %s, says: word, hands: %s, live: %s, heat: false, source: shop}\n"
ACTION = "actions:\n  - {action: %s, says: the shop's word, hands: %s, source: s-p}\n"
STORE = "store: {part: %s, max_volts: %s, point: %s}"
RESERVOIR = "part: {name: $p, place: reservoir}"
ENTRY = (
    "entry:\n  - {question: %s, asks: Is all well?, answers: {'yes': go-on, 'no': go-on}, "
    "why: It mostly is., source: the shop}\n"
)
CAUTION = "cautions:\n  - {id: %s, hazard: %s, signal: NOTICE, says: Never mind., source: s-p%s}\n"

READ: tuple[tuple[str, str, str], ...] = (
    ("touch volts at 400", number("touch-volts", "400"), "KB112"),
    ("touch volts a little over", number("touch-volts", "30.1"), "KB112"),
    ("touch volts infinite", number("touch-volts", ".inf"), "KB204"),
    ("touch volts no number", number("touch-volts", ".nan"), "KB204"),
    ("touch volts minus infinite", number("touch-volts", "-.inf"), "KB204"),
    ("touch volts too large to be one", number("touch-volts", "1e999"), "KB204"),
    ("touch volts infinite in quotes", number("touch-volts", '"inf"'), "KB203"),
    ("touch volts below nothing", number("touch-volts", "-5"), "KB112"),
    ("a wrong verdict costs no number", number("wrong-verdict-minutes", ".nan"), "KB204"),
    ("a wrong verdict costs without end", number("wrong-verdict-minutes", ".inf"), "KB204"),
    ("a wrong verdict pays", number("wrong-verdict-minutes", "-75"), "KB112"),
    ("unit minutes are no number", CORD_LAMP + "unit_minutes: .nan\n", "KB204"),
    ("opening minutes are no number", CORD_LAMP.replace("minutes: 3,", "minutes: .inf,"), "KB204"),
    ("minutes of a rule are no number", rig("bridge").replace("minutes: 1", "minutes: .nan"),
     "KB204"),
    ("reservoir beside the path", PLACES % ("reservoir", "beside"), "KB109"),
    ("output capacitor beside the path", PLACES % ("smooths", "beside"), "KB109"),
    ("a rectifier that isolates", PLACES % ("rectifies", "in-line, isolates: true"), "KB109"),
    ("an own place that isolates", PLACES % ("magic", "in-line, isolates: true"), "KB113"),
    ("unplugged replaced by mains", arrangement(
        ARRANGED + 'false, energy: mains, volts: "230"').replace("shop-supply", "unplugged"),
     "KB109"),
    ("unplugged replaced", arrangement(
        'hands_on: true, closed_only: false, energy: none, volts: "0"').replace(
            "shop-supply", "unplugged"), "KB109"),
    ("a second unplugged that is plugged in", arrangement(
        'hands_on: true, closed_only: false, energy: none, volts: "= $volts"'), "KB113"),
    ("bare socket for opened units", arrangement(
        ARRANGED + 'false, energy: mains, volts: "= $volts"'), "KB113"),
    ("an isolated bare socket for opened units", arrangement(
        ARRANGED + 'false, isolated: true, energy: mains, volts: "= $volts"'), "KB113"),
    ("hands on mains", arrangement(
        'hands_on: true, closed_only: true, energy: mains, volts: "= $volts"'), "KB203"),
    ("hands on high direct volts", arrangement(
        'hands_on: true, closed_only: false, energy: hvdc, volts: "200"'), "KB203"),
    ("elv of 200 V", arrangement(
        'hands_on: true, closed_only: false, energy: elv, volts: "200"'), "KB113"),
    ("elv that is mains", arrangement(
        'hands_on: true, closed_only: false, energy: elv, volts: "= $volts"'), "KB113"),
    ("elv without a number", arrangement(
        'hands_on: true, closed_only: false, energy: elv, volts: "nan"'), "KB113"),
    ("high direct volts at an opened unit's contacts", arrangement(
        ARRANGED + 'false, energy: hvdc, volts: "310"'), "KB113"),
    ("mains onto a part", arrangement(
        ARRANGED + 'true, energy: mains, feeds: string, volts: "= $volts"'), "KB113"),
    ("a meter fitted by nobody", rig("measure", "false"), "KB615"),
    ("a bridge fitted by nobody", rig("bridge", "false"), "KB615"),
    ("a lifted leg fitted by nobody", rig("lift", '"no"'), "KB615"),
    ("a misspelt action", action("ohmz"), "KB614"),
    ("a misspelt action asked for", rule(
        "slips: {test: $t, odds: 0.1}", when="test: {name: $t, action: {any: [ohms, wath]}}"),
     "KB614"),
    ("an action that a variable names", action("$n"), "KB615"),
    ("an action put together", action('"{n}"'), "KB615"),
    ("a rig word without hazards", rig("clip-onto"), "KB614"),
    ("a rig word that a variable names", rig("$n"), "KB615"),
    ("an own rig word without hands", rig("clip-onto", more=DOING % ("clip-onto", "false", "none")),
     "KB113"),
    ("an own rig word that leaves its hazards open", "doings:\n"
     "  - {doing: clip-onto, says: so it is, hands: true, source: s-p}\n", "KB201"),
    ("a rig word that overcomes what no part does", "doings:\n"
     "  - {doing: hang-onto, says: so it is, hands: true, live: lead, heat: false, source: s-p,\n"
     "     overcomes: [opne]}\n", "KB621"),
    ("an own action without hands", ACTION % ("prod", "never"), "KB113"),
    ("ohms without hands", ACTION % ("ohms", "never"), "KB109"),
    ("a bridge without hands", DOING % ("bridge", "false", "none"), "KB109"),
    ("a bridge that is not live", DOING % ("bridge", "true", "none"), "KB109"),
    ("another kind of remedy", remedy("mend", "renews: {remedy: shop-remedy, part: $p}"), "KB615"),
    ("cans without traits", KIND % ("polarised, wears, stores", "F"), "KB110"),
    ("cans without farads", KIND % ("capacitor, polarised, wears, stores", "ohm"), "KB110"),
    ("a fact without a field", FACT % ("store", "part: the part"), "KB110"),
    ("odds that are no number any more", FACT % ("slips", "test: which, odds: how often"), "KB110"),
    ("odds that a fact may lack", (FACT % ("slips", "test: which, odds: how often")).replace(
        "}}", "}, numbers: [odds], optional: [odds]}"), "KB110"),
    ("a test without its opening", FACT % ("test", "name: its name, supply: where"), "KB110"),
    ("a hazard nobody can name", FACT % ("hazard", "of: what"), "KB110"),
    ("a draw without a short", WORDS % ("draw", "normal: usual", "normal"), "KB110"),
    ("a nature with another end", WORDS % (
        "nature", "held: held up, raw: raw bus, alternating: mains", "held"), "KB110"),
    ("ends the other way round", WORDS % (
        "ends", "usual: megohms, one-way: one way, zero: nothing", "usual"), "KB110"),
    ("a scene that begins at home", "scenes:\n  - {scene: where, says: where it is, "
     "values: [home, bench]}\n", "KB110"),
    ("a trip that is no trip", "complaints:\n  - {complaint: trips-protection, says: fine}\n",
     "KB109"),
    ("a caution with other words", CAUTION % ("stored-charge", "stored-charge", ""), "KB109"),
    ("a caution for no unit", CAUTION % ("limited-mains", "limited-mains", ", only_for: moon"),
     "KB109"),
    ("a hazard of one's own that warns nobody", CAUTION % ("acid", "acid", ", only_for: moon"),
     "KB608"),
    ("an entry question with other answers", ENTRY % "refused-kinds", "KB109"),
    ("the question after a trip", ENTRY % "insulation-before-energising", "KB109"),
    ("a store rule replaced", rule(STORE % ("$p", "1", "$p"), step="survey", when=RESERVOIR
     ).replace("shop-rule", "bulk-capacitor-holds-charge"), "KB109"),
    ("proofs replaced", rule("companion: {remedy: $r, says: None needed}", step="conclude",
     when="remedy: {name: $r}").replace("shop-rule", "repairs-are-proved"), "KB109"),
    ("cold checks replaced", rule("cold-first: {is: not needed}", step="conclude",
     when="complaint: {is: died-with-flash}").replace(
         "shop-rule", "after-a-trip-no-first-plug-in"), "KB109"),
    ("a hazard rule replaced", rule("companion: {remedy: $r, says: None needed}", step="conclude",
     when="remedy: {name: $r}").replace("shop-rule", "fitting-a-rig-near-stores"), "KB109"),
    ("a trait concluded", rule("trait: {of: unit, is: isolated}", step="survey"), "KB616"),
    ("a transformer concluded", rule(
        "way: {part: T9, place: transforms, stage: entry, start: $n, end: n9}", step="survey"),
     "KB616"),
    ("an arrangement concluded", rule(
        "arrangement: {name: wall, energy: none, says: so, closed_only: false}", step="survey"),
     "KB616"),
    ("an exposure concluded", rule('shows: {of: C1, behind: ""}', step="survey"), "KB616"),
    ("a charge concluded", rule("holds: {part: C1, volts: 1, point: C1}", step="survey"), "KB616"),
    ("a word's hazards concluded", rule(
        "doing: {name: bridge, hands: false, live: none, heat: false}", step="survey"), "KB616"),
    ("a supply withheld by a word", rule("withheld: {arrangement: normal-mains}", step="conclude"),
     "KB616"),
)  # fmt: skip
"""What is refused as knowledge is read: what is tried, the shop's file, the code."""

DEDUCED: tuple[tuple[str, str, str], ...] = (
    ("a store of no volts", rule(STORE % ("$p", "0", "$p"), step="survey", when=RESERVOIR),
     "KB507"),
    ("a store below nothing", rule(STORE % ("$p", "-9", "$p"), step="survey", when=RESERVOIR),
     "KB507"),
    ("a store measured nowhere", rule(STORE % ("$p", "300", "the workbench"), step="survey",
     when=RESERVOIR), "KB507"),
    ("a store in no part", rule(STORE % ("C99", "300", "C99"), step="survey", when=RESERVOIR),
     "KB507"),
    ("volts without end", rule(STORE % ("$p", '"= 1e300 * 1e300"', "$p"), step="survey",
     when=RESERVOIR), "KB301"),
    ("a repair called none", remedy("none", "cures: {remedy: shop-remedy, fault: $f}"), "KB508"),
    ("a repair called the owner's", remedy(
        "outside", "renews: {remedy: shop-remedy, part: $p}"), "KB508"),
    ("a last proof with the unit open", rule(
        "proof: {name: last, says: It works, supply: $l, limit: works, minutes: 1, closed: false, "
        "rank: 99}", step="conclude", when="limiter: {name: $l}"), "KB508"),
    ("an open proof on the wall socket", rule(
        "proof: {name: early, says: It works, supply: normal-mains, limit: works, minutes: 1, "
        "closed: false, rank: 0}", step="conclude"), "KB510"),
    ("a proof of a known name with another limit", rule(
        "proof: {name: insulation, says: Insulation, supply: unplugged, limit: any, minutes: 1, "
        "closed: true, rank: 2}", step="conclude"), "KB511"),
    ("the wall socket called limited", rule("limiter: {name: normal-mains}"), "KB510"),
    ("a string source called limited mains", rule("limiter: {name: string-source}"), "KB510"),
    ("a meter inside a closed unit", action("volts", "rig: meter-on-leads, behind: ''").replace(
        "isolated-limited", "normal-mains"), "KB509"),
    ("a lead that nobody brings out", action("volts", "rig: meter-on-leads, lead: lead-XX, "
        "behind: shell"), "KB509"),
    ("a lead clipped inside a closed unit", rule("lead: {name: lead-shop, of: TP1, minutes: 1, "
        "behind: '', says: bring it out}"), "KB509"),
    ("ohms inside a closed unit", action("ohms", "rig: none, behind: '', on: C1").replace(
        "isolated-limited", "unplugged"), "KB509"),
    ("a test on a supply nobody has", action("watch").replace("isolated-limited", "shop-supply"),
     "KB302"),
)  # fmt: skip
"""What is refused as the unit is deduced."""
