"""The verdict on one screen: what to do, how sure, what is dangerous, what proves it; all the rest
stands behind a word. `docket.show_verdict` tells all of it at once."""

from __future__ import annotations

from engine.walk.ending import Ending, conclude
from engine.walk.goingon import GoingOn
from engine.walk.job import Walk
from render.drawing.bench_marks import DEAD, SHUT
from render.terminal import docket, words
from render.terminal.screen import Screen, minutes
from render.wording import onward
from render.wording.odds import percent


def show(screen: Screen, walk: Walk, going_on: GoingOn | None = None) -> None:
    """Eight lines in a usual case. What is owed to safety before a hand goes in stands in full;
    cautions of the repair by signal word and hazard, in full behind `more`."""
    ending = conclude(walk)
    screen.heading("verdict", f"{minutes(walk.minutes)} in all")
    screen.main(ending.remedy.says)
    screen.line("sure", sure(walk, ending))
    if ending.remedy.kind != "repair":
        screen.line("kind", docket.KINDS.get(ending.remedy.kind, ending.remedy.kind))
    screen.line("found", "" if walk.is_tested else words.NOTHING_FOUND)
    if going_on is not None:
        screen.line("to the part", onward.advice(going_on.plain))
    for text in before_hands(walk, ending):
        screen.line("first", text, style="bold")
    screen.line("once more", words.again(walk.model, ending))
    screen.line("beware", _hazards(walk, ending))
    if ending.proofs:
        screen.line("proofs", f"{len(ending.proofs)} owed before it is handed back: type proofs")


def show_proofs(screen: Screen, walk: Walk) -> None:
    """What proves the repair, with limits, sources and cautions."""
    proofs = conclude(walk).proofs
    screen.heading("proofs")
    if not proofs:
        screen.say("None: nothing is repaired by this.")
    docket.show_proofs(screen, walk.model, proofs)


def sure(walk: Walk, ending: Ending) -> str:
    """How sure, and the likeliest thing that it could be besides."""
    surety = words.surety(walk.model, ending)
    others = list(words.others(walk.model, ending))
    return f"{surety}; or else {others[0]}" if others else surety


def before_hands(walk: Walk, ending: Ending) -> list[str]:
    """What comes before any repair: unplugging, stores of charge, parts never measured."""
    texts = []
    if docket.bench_mark(walk) not in (SHUT, DEAD):
        texts.append("switch off, unplug")
    texts += [f"measure {docket.store_words(store)}" for store in ending.make_safe]
    texts += [
        f"as you open {words.stage_name(opening)}, measure {docket.store_words(store)}"
        for store, opening in ending.opening_up
    ]
    return texts + [words.once_out(part) for part in ending.unmeasured]


def _hazards(walk: Walk, ending: Ending) -> str:
    """The hazards of the repair by their signal words, the gravest first; and a doubtful answer."""
    cautions = docket.named_cautions(walk.model, ending.remedy.cautions)
    hazards = [f"{one.signal} {words.stage_name(one.hazard)}" for one in cautions]
    text = f"{'; '.join(dict.fromkeys(hazards))}: type more" if hazards else ""
    if ending.doubts and ending.doubts[0].odds >= words.LEAST_DOUBT:
        first = ending.doubts[0]
        doubt = f"step {first.step} may be misread ({percent(first.odds)})"
        return f"{text}; {doubt}" if text else doubt
    return text
