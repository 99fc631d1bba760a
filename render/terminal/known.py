"""I already know that: picking any test not yet answered, and giving its answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from engine.model.records import Model, Test
from engine.readings.bands import Answer, band_words
from engine.walk.inquiry import GOOD, KIND, MARKING, PRESENCE, Inquiry
from engine.walk.job import Walk
from render.terminal import replies
from render.terminal.replies import LETTERS, Command, Told
from render.terminal.screen import Screen, minutes

Lines = Callable[[str], str]


def ask(screen: Screen, lines: Lines, walk: Walk, text: str) -> Answer | None:
    """The answer to a test of the person's choice; None if they think better of it.

    `typed` is what came after the command: nothing, a test, or a test and its answer.
    """
    tests = [test for test in walk.model.tests if test.id not in walk.done]
    name, _, rest = text.strip().partition(" ")
    test = _one(tests, name) if name else None
    if test is None:
        test = _pick(screen, lines, tests, text.strip())
    if test is None:
        return None
    return _answer(screen, lines, test, rest)


def inquiry(model: Model, ask: Inquiry | None) -> str:
    """What to look at first, and how to tell it; empty where nothing is worth its minutes."""
    if ask is None:
        return ""
    if ask.kind == GOOD:
        return f"{look_first(model, ask)} Type good."
    example = f"{ask.part}=…" if ask.kind == MARKING else " or known ".join(ask.answers)
    return f"{look_first(model, ask)} Type known {example} before you answer."


def look_first(model: Model, ask: Inquiry) -> str:
    """What to look at first, and what that saves."""
    gain = f"{minutes(ask.minutes)}, saves about {minutes(ask.saves)} more than that"
    if ask.kind == GOOD:
        tests = " and ".join(model.test(name).point or name for name in ask.tests)
        return (
            f"Is there a second, working one of the same make? Read it at {tests} as well: {gain}. "
            "Unplug this one first; open, make safe and set up the other just like it."
        )
    values = [answer.partition("=")[2] for answer in ask.answers]
    usual = ", ".join(values[:-1]) + " or " + values[-1]
    asks = {
        MARKING: f"Read what is printed on {ask.part} ({usual} is usual)",
        PRESENCE: f"Look whether there is a {ask.part} at all",
        KIND: f"Look of which kind {ask.part} is: {usual.replace('-', ' ')}",
    }[ask.kind]
    return f"{asks}: {gain}."


def good_readings(screen: Screen, lines: Lines, walk: Walk, tests: Sequence[str]) -> list[str]:
    """What a second, working unit reads at these tests, as `volts-TP2=4.6V`; those that were passed
    over are left out."""
    words: list[str] = []
    for name in tests:
        test = walk.model.test(name)
        screen.main(test.says)
        while text := lines(screen.prompt("what does the good one read? (Enter to pass)")).strip():
            reply = replies.to_test(text, test, walk.model.arrangement(test.supply))
            if isinstance(reply, Command):
                return words
            if isinstance(reply, Told) and reply.answer.reading:
                words.append(f"{name}={reply.answer.reading.replace(' ', '')}")
                break
            screen.say("A number with its unit is wanted here, such as 4.6 V.")
    return words


def _pick(screen: Screen, lines: Lines, tests: Sequence[Test], text: str) -> Test | None:
    candidates = [test for test in tests if _about(test, text)] or list(tests)
    while True:
        for number, test in enumerate(candidates, start=1):
            screen.choice(str(number), test.says, test.id)
        word = lines(screen.prompt("which? its number, a word of it, or Enter for none")).strip()
        if not word:
            return None
        if word.isdigit() and 1 <= int(word) <= len(candidates):
            return candidates[int(word) - 1]
        one = _one(tests, word)
        if one is not None:
            return one
        fewer = [test for test in tests if _about(test, word)]
        if len(fewer) == 1:
            return fewer[0]
        if fewer:
            candidates = fewer
        elif isinstance(replies.to_choice(word, ()), Command):  # thought better of it
            return None
        else:
            screen.say(f"No test left has “{word}” in it.")


def _answer(screen: Screen, lines: Lines, test: Test, text: str) -> Answer | None:
    screen.main(test.says)
    for letter, outcome in zip(LETTERS, test.outcomes, strict=False):
        screen.choice(letter, outcome.says, band_words(outcome))
    while True:
        if not text:
            text = lines(screen.prompt("what did it show? (Enter for never mind)")).strip()
        if not text:
            return None
        reply = replies.to_test(text, test)
        if isinstance(reply, Told):
            return reply.answer
        if isinstance(reply, Command):
            return None
        screen.say(reply.says)
        text = ""


def _one(tests: Sequence[Test], name: str) -> Test | None:
    return next((test for test in tests if test.id == name), None)


def _about(test: Test, text: str) -> bool:
    """Whether every word of the text is in the test's name, question, point or part."""
    about = f"{test.id} {test.says} {test.point} {test.on}".casefold()
    return all(word in about for word in text.casefold().split())
