"""What may be looked up at any time: why this, all there is to it, what proves the repair.

Nothing here changes a walk.
"""

from __future__ import annotations

from collections.abc import Iterable

from engine.walk import explain, job, warned
from engine.walk.goingon import GoingOn
from engine.walk.job import Question, Setting, Walk
from render.terminal import docket, setups, verdict, words
from render.terminal.screen import Screen


def tell(screen: Screen, lines: Iterable[tuple[str, str]], title: str) -> None:
    """Lines of a label and its text, under a title."""
    screen.heading(title)
    for label, text in lines:
        screen.line(label, text)


def show_purpose(
    screen: Screen, walk: Walk, rivals: Iterable[explain.RunnerUp], without: float | None
) -> None:
    """Why this is asked: what it would tell apart, beside its rivals and what doing without it
    adds."""
    purpose = explain.why(walk, rivals, without)
    if purpose is None:
        screen.say("There is no question left: this is the verdict.")
    else:
        tell(screen, words.purpose(walk.model, purpose), "why this")


def show_more(screen: Screen, walk: Walk, going_on: GoingOn | None) -> None:
    """All there is to what is due, or to the verdict; `going_on` is what going on to the part would
    take."""
    match job.pending(walk):
        case Question() as question:
            docket.show_test(screen, walk, walk.model.test(question.test))
        case Setting() as setting:
            _show_set_ups(screen, setups.ahead(walk, setting))
        case None:
            docket.show_verdict(screen, walk, going_on)
        case _:
            screen.say("There is no more to it.")


def _show_set_ups(screen: Screen, ahead: setups.SetUps) -> None:
    for walk, setting in ahead.steps:
        docket.show_setting(screen, walk, setting)
        cautions = warned.of_setup(walk.model, walk.bench, setting.bench)
        screen.cautions(docket.named_cautions(walk.model, cautions))
    if ahead.test is not None:
        docket.show_test(screen, ahead.carried_out({}), ahead.test)


def show_proofs(screen: Screen, walk: Walk) -> None:
    """What proves the repair, at a verdict."""
    if job.pending(walk) is None:
        verdict.show_proofs(screen, walk)
    else:
        screen.say("That is for the verdict: what proves the repair.")
