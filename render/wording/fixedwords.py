"""Words that stand on every chart, whatever the unit: titles, legend and how to read the sheet.

Cautions about a unit come from the knowledge base; only what is true of every chart stands here.
"""

from __future__ import annotations

GENERAL_TITLE = "Before all else"
GENERAL: tuple[str, ...] = (
    "For competent persons. Local codes, law and maker come first; this chart defers to them. "
    "Someone within call, a switch within their reach; never tired or wet. Not as charted? "
    "Unplug, stop.",
)

ENTRY_TITLE = "Entry check"
ENTRY_LEAD = "Answer before anything is plugged in or opened."
ANSWERS = {
    "go-on": "go on",
    "cold-first": "cold checks first, then only through the limiter",
    "cold-only": "cold checks only: never energise it",
    "scrap": "stop: scrap",
    "refuse": "stop: not for this bench",
}
SECOND_ANSWERS = {
    "cold-first": "the second START",
    "cold-only": "the second START, its unplugged checks only: never energise it",
}
"""What follows on a chart that has a second START."""

SAFE_TITLE = "MEASURE FIRST means, each time"
SAFE = (
    "Unplug: switch off, pull the plug, keep it in sight.",
    "Prove the meter on a known source, measure each point named, prove the meter again.",
    "Not below its limit? Bleed it through 2.2 to 10 kΩ of 5 to 10 W, clipped on; measure again.",
    "It will not fall? Stop, hands off; label the unit charged.",
    "Out of reach? Go on only by the opening that brings it into reach; else stop and label the "
    "unit charged.",
)

# Told where a store won't fall; what to bleed it with is said by the arrangement's own how-to.
STILL_CHARGED = (
    "Still charged. Hands off. Bleed it through the clipped-on resistor, wait, prove the meter on "
    "a known source and measure again. If it will not fall, something still feeds it: look for a "
    "plug not pulled or a second supply, and stop here until you have found it."
)
COUNTS_AS_CHARGED = (
    "Then it counts as charged: touch nothing within its reach. The next step is the opening that "
    "shows its terminals; where there is none, the unit is left alone."
)

REPAIR_TITLE = "Every repair"
REPAIR_LEAD = (
    "Unplugged, rigs off. Measure every store as it comes into reach; then repair, then prove."
)
UPON = "As you open, measure: {stores}."
RECORD_TITLE = "What it read"
RECORD_LEAD = "Unit: ____________ Date: ________ By: ________"
RECORD_LINE = "at ______ V applied: ____________"
GOING_ON_TITLE = "From a verdict on to the part: what it costs"
MARKS_TITLE = "How the bench stands"
METHOD_BUILT = "{name}: how it is built"
SUPPLIES_TITLE = "The supplies: how each is set up"
RIGS_TITLE = "The rigs: how each is fitted and taken off"
COMES_OFF = "Off: {words}."
CAUTIONS_TITLE = "Cautions in full"
PROOFS_TITLE = "Proof after repair"
PROOFS_TAIL = "A unit that fails a proof is not returned."
LINK_TITLE = "The same walk on a screen"
LEGEND_TITLE = "Legend"
LEGEND: tuple[tuple[str, str], ...] = (
    ("start", "start; verdict"),
    ("make-safe", "measure first, by hand"),
    ("setup", "set up"),
    ("test", "test; all its minutes"),
    ("decision", "its answer"),
    ("connector", "on at this letter"),
)
LEGEND_NOTES = (
    "At every verdict: unplugged, rigs off.",
    "↺ Measure again; the same again: not on this chart.",
    "No odds given: over 99 %.",
)
SELDOM = "Seldom: {off}booklet, at {number}?"
SELDOM_NOTE = (
    "Seldom: ways that {share} of units take in all. They are drawn in the booklet, under the same "
    "numbers; page and walk have them too."
)
EVERY_REPAIR = " (At every repair.)"
USUAL_PROOFS = "After a repair: {proofs}, unless told."

NAMES_TITLE = "What the names mean"
AGAIN_TITLE = "↺ else: measure again; the same again: not on this chart"
SOURCES_TITLE = "Who says so"
SOURCES_REST = "All else is common practice of the trade."
SOURCES_ALL = "Common practice of the trade."
FAULTS_TITLE = "What can be wrong, how often, and what to fit"
ALIKE = "Not told apart on this chart: {faults}."
NO_PROOF = " Nothing to prove."
SHARES = "Shares of all faults of such a unit. Where they come from: {sources}."
INSTEAD_TITLE = "If a step can't be done: do this instead"
INSTEAD_TAIL = "What follows then is not drawn here: let nextprobe walk ask on."
BLOCKS_TITLE = "The unit, stage by stage"
BLOCKS_KEY: tuple[tuple[str, str], ...] = (
    ("feeds", "Arrow: feeds."),
    ("governs", "Dashed arrow: governs, feeds nothing."),
    ("point", "Ring: test point."),
    ("outside", "Dotted frame: not part of the unit."),
)
POINTS_TITLE = "What the test points should read"
POINTS_LEAD = "Unless told otherwise:"
INSTRUMENTS_TITLE = "Have ready"
READINGS_TITLE = "What it should read"
USE_TITLE = "How to use this chart"
USE = (
    "Start at START and follow the lines. Do each box from top to bottom, then leave its diamond "
    "by the line whose words match what you see.",
    "A circle sends you to the same letter; a figure before the letter is the sheet.",
    "A verdict is not the end: prove the repair before the unit goes back.",
)

TILES_TITLE = "Key map."
TILES = (
    "{count} tiles of {paper}, printed at full size. Cut each at its left and upper crop marks, "
    "lay it on the ticks of its neighbours ({overlap} of overlap), glue."
)
