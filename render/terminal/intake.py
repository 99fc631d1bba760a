"""The entry check as a dialogue: refusals and condition, before anything is opened or energised."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from engine.model.notes import EntryQuestion
from engine.model.records import Model
from engine.walk.entry import Admission, admit, outstanding, remedy_for
from render.terminal import replies
from render.terminal.replies import LETTERS, Command, Pick, Unclear
from render.terminal.screen import Screen

_NONE: Mapping[str, str] = MappingProxyType({})


class Abandonment(Exception):
    """The person left during the entry check: there is nothing to save."""


def take_in(
    screen: Screen,
    lines: Callable[[str], str],
    model: Model,
    before: Mapping[str, str] = _NONE,
    keep: Callable[[Mapping[str, str]], None] = lambda answers: None,
    back: Callable[[], None] = lambda: None,
) -> Admission:
    """Ask the entry questions in order; the first answer that ends the job ends the check.

    Those answered already (`before`) are not asked again. Each answer may bring up a question or
    take one away, so what is still to ask is looked up after each. `keep` gets them after each;
    `back` is called where undo is typed at the first.
    """
    answers, questions = dict(before), list[str]()
    while left := outstanding(model, answers):
        question, place = left[0], f"{len(questions) + 1} of {len(questions) + len(left)}"
        answer = _ask(screen, lines, question, place)
        if answer is not None:
            answers[question.id] = answer
            questions.append(question.id)
            keep(answers)
            admission = admit(model, answers)
            if not admission.is_admitted:
                return admission
        elif questions:
            answers.pop(questions.pop())
            keep(answers)
        else:
            back()
    return admit(model, answers)


def turn_away(screen: Screen, model: Model, admission: Admission) -> None:
    """Say that the job ends here, and why."""
    remedy, question = remedy_for(model, admission), admission.decided_by
    screen.heading("refused" if admission.decision == "refuse" else "scrap")
    screen.main(remedy.says if remedy else "Not for this bench. Nothing was opened or energised.")
    if question is not None:
        screen.line("because", question.why or question.asks)
    screen.line("how", remedy.how if remedy else "")


def _ask(
    screen: Screen, lines: Callable[[str], str], question: EntryQuestion, place: str
) -> str | None:
    """The answer to one entry question; None to go back to the one before."""
    screen.heading("before anything is opened or plugged in", place)
    screen.main(question.asks)
    choices = list(question.answers)
    for letter, choice in zip(LETTERS, choices, strict=False):
        screen.choice(letter, choice)
    while True:
        reply = replies.to_choice(lines(screen.prompt("answer, or why undo stop help")), choices)
        match reply:
            case Pick():
                return choices[reply.index]
            case Unclear():
                screen.say(reply.says)
            case Command(name="undo"):
                return None
            case Command(name="stop"):
                raise Abandonment
            case Command(name="why"):
                screen.line("why", question.why or "Its answer decides whether and how to go on.")
            case Command():
                screen.say("Answer by letter or word; undo goes back one, stop leaves.")
