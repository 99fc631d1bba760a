"""Words that stand on every page, whatever the unit: what the buttons say, how to use it.

Cautions about a unit come from the knowledge base; what is true of every chart is worded once, for
paper and page (`render.wording.fixedwords`).
"""

from __future__ import annotations

from render.wording.fixedwords import (
    ANSWERS,
    BLOCKS_TITLE,
    ENTRY_LEAD,
    ENTRY_TITLE,
    FAULTS_TITLE,
    GENERAL,
    GENERAL_TITLE,
    INSTRUMENTS_TITLE,
    POINTS_TITLE,
    PROOFS_TAIL,
    PROOFS_TITLE,
    REPAIR_LEAD,
    SAFE,
    SAFE_TITLE,
    SOURCES_TITLE,
    STILL_CHARGED,
)
from render.wording.whereabouts import COLUMNS as WHERE_COLUMNS
from render.wording.whereabouts import NOT_THE_BOARDS
from render.wording.whereabouts import TITLE as WHERE_IS_IT

__all__ = [
    "ANSWERS",
    "BLOCKS_TITLE",
    "ENTRY_LEAD",
    "ENTRY_TITLE",
    "FAULTS_TITLE",
    "GENERAL",
    "GENERAL_TITLE",
    "INSTRUMENTS_TITLE",
    "NOT_THE_BOARDS",
    "POINTS_TITLE",
    "PROOFS_TAIL",
    "PROOFS_TITLE",
    "REPAIR_LEAD",
    "SAFE",
    "SAFE_TITLE",
    "SOURCES_TITLE",
    "STILL_CHARGED",
    "WHERE_COLUMNS",
    "WHERE_IS_IT",
]

USE_TITLE = "How to use this page"
USE = (
    "Do each step, then tap what you found, or press its number or letter. Nothing leaves this "
    "device; no network is needed.",
    "Your place is kept in the address and on this device: a phone that sleeps comes back to it.",
    "The plan is that of the wall chart: same checks, same numbers, same cautions.",
)
USE_PLAIN = "Without scripts this is the whole plan as linked sections: follow the links, or print."

BEGIN = "Begin"
GO_ON = "Go on where you were"
ENTRY_GO_ON = "All answered: go on"
ENTRY_OPEN = "Answer every question first."
ENTRY_ENDS = {
    "cold-first": "Stop: this plan begins with power. Cold checks come first here; nextprobe walk "
    "plans them.",
    "cold-only": "Stop: this plan energises the unit, and this one must not be. nextprobe walk "
    "plans the cold checks.",
    "scrap": "Stop: it is scrap.",
    "refuse": "Stop: it is not for this bench.",
}

SECOND_ENDS = {
    **ENTRY_ENDS,
    "cold-first": "cold checks come first: a plan of its own",
    "cold-only": "Stop: the plan energises the unit, and this one must not be. nextprobe walk "
    "plans the cold checks.",
}
SECOND_STARTS = "After {}"
SECOND_TITLE = "Second START"

ACCEPTED = "Done"
MEASURE = "Measure {point}: it must be {limit}"
MEASURE_STORES = "Measure what charge is left"
VOLTS = "volts read; meter proved before and after"
OUT_OF_REACH = "out of reach"
OUT_ONWARD = (
    "Then it counts as charged: touch nothing within its reach. The next step opens what hides it; "
    "measure it there."
)
OUT_STOP = (
    "Then stop here: hands off, nothing on this plan brings it into reach before hands would be "
    "beside it. Label the unit: charged, do not open, do not plug in."
)
OWED = "Out of reach before, so it counts as charged. Measure it now, before hands go in."
OWED_STATIC = (
    "A store that is out of reach counts as charged: go on only by the opening that bares it, and "
    "measure it there first; else stop."
)
POINT_OPEN = "First the volts at {point}."
POINT_OVER = "{point} is still charged: hands off."
POINT_STOP = "{point} can't be reached: stop here and label the unit charged."
UNPLUG_FIRST = "First switch off, unplug, and take the rigs off."
AS_YOU_OPEN = "As you open the {opening}: measure {part} before anything else; it must be {limit}."
EVERY_REPAIR = "Every repair"
STILL = "still"
METHODS = "How it is done"
MARKS = "How the bench stands"

STAGELESS = {"none": "No fault in the unit", "other": "Something not listed"}
LEADS = "to {label}"
KINDS = {
    "setup": "Set up",
    "make-safe": "Make safe",
    "test": "Check",
    "verdict": "Verdict",
    "recheck": "Measure again",
    "third": "Once more",
}
REMEDY_MINUTES = "takes {}"

ASKS = "What do you find?"
ODDS_KEY = "percent: how often, having come this far"
TYPED = "Or type it: a reading with its unit, or an answer’s words"
READ = "Take it"
NOT_READ = {
    "RD1": "“{typed}” is none of this check’s answers: type a reading such as {example}, or tap.",
    "RD2": "“{typed}” is of another kind: this check is read in {unit}.",
    "RD3": "“{typed}” can’t be here. Look at the meter’s range, its decimal point and the supply.",
    "RD4": "“{typed}” could be two things: write the unit, or more of the words.",
    "RD5": "“{typed}” is a number; this check is answered in words.",
}
STRADDLES = "“{typed}” leaves open whether it is {answers}: read once more, or tap the likelier."
EITHER = " or "
AGAIN = "Measure again"
AGAIN_LEADS = "measure again"
RECHECK = "Measure again"
THIRD = "Once more"
THIRD_HEADING = "Told otherwise than before: do it a third time"
THIRD_SAYS = "What came twice counts."
THIRD_SAME = "as at first: {told}"
THIRD_OTHER = "otherwise: take that answer there"
AGAIN_LABEL = "{label} again"
FEEDS = "feeds"
GOVERNS = "governs"
HOW = "How"
GOOD = "Good unit"
INSTEAD = "Can't be done here?"
CANNOT = "Can’t do this"
CANNOT_DONE = "not done here"
BENCH = "Bench"
WHERE = "Where the fault may lie"
REPAIR = "What to do"
FOUND = "What it is"
ONWARD = "On to the part"
LIKELIEST = "Likeliest: {parts}."
OTHERS = "What else it could be"
COMPANIONS = "Do along with it"
SOURCE = "Source"
MAKE_SAFE_FIRST = "Make safe first"
PASSED = "passed"
PROOFS_DONE = "{done} of {of} proofs passed."

BACK = "Back"
PATH = "Path"
ALL = "All steps"
UNIT = "The unit"
STEP = "The step"
AGAIN_FROM_START = "Start again"
NOTES = "Notes, with the volts applied"
COPY = "Copy the record"
COPY_WORKS = "The record is copied."
COPY_FAILS = "This browser copies nothing by itself: mark the path above and copy it, or print it."
SEARCH = "Search"
SEARCH_NONE = "No step has these words."
PATH_TITLE = "Path so far"
PATH_EMPTY = "Nothing done yet."
SO_FAR = "{minutes} min so far, about {ahead} min more"
ENDED = "{minutes} min in all"
ODDS_SO_FAR = "{odds} of units come this way"
STARTED_AGAIN = "Started again. Back undoes it."
CHANGED = "The place kept was of another version of this plan: start again."
PLAN_TITLE = "This plan"
TOOLS = "Tools"
OUTLINE_TITLE = "The whole plan"
TOLD_ABOVE = "as above"
SURE = "{} sure"
SKIP = "Skip to the step"
BY_RULES = "Every figure comes from rules with sources."
