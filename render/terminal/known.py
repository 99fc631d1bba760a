"""I already know that: picking any test not yet answered, and giving its answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from engine.model.records import Test
from engine.readings.bands import Answer, band_words
from engine.walk.acquaintance import Marking
from engine.walk.job import Walk
from kb.quantities import show
from render.terminal import replies
from render.terminal.replies import LETTERS, Command, Told
from render.terminal.screen import Screen, minutes

Lines = Callable[[str], str]


def ask(screen: Screen, lines: Lines, walk: Walk, typed: str) -> Answer | None:
    """The answer to a test of the person's choice; None if they think better of it.

    `typed` is what came after the command: nothing, a test, or a test and its answer.
    """
    tests = [test for test in walk.model.tests if test.id not in walk.done]
    name, _, rest = typed.strip().partition(" ")
    test = _one(tests, name) if name else None
    if test is None:
        test = _picked(screen, lines, tests, typed.strip())
    if test is None:
        return None
    return _answer(screen, lines, test, rest)


def marking(found: Marking | None) -> str:
    """Which marking to read first, and how to tell it; empty where none is worth its minutes."""
    if found is None:
        return ""
    values = [show(value, "") for value in found.values]
    listed = ", ".join(values[:-1]) + " or " + values[-1]
    return (
        f"Read what is printed on {found.part} as well ({listed} is usual): half a minute that "
        f"saves about {minutes(found.saves)}. Type known {found.part}=… before you answer."
    )


def _picked(screen: Screen, lines: Lines, tests: Sequence[Test], typed: str) -> Test | None:
    offered = [test for test in tests if _about(test, typed)] or list(tests)
    while True:
        for number, test in enumerate(offered, start=1):
            screen.choice(str(number), test.says, test.id)
        wanted = lines(screen.prompt("which? its number, a word of it, or Enter for none")).strip()
        if not wanted:
            return None
        if wanted.isdigit() and 1 <= int(wanted) <= len(offered):
            return offered[int(wanted) - 1]
        named = _one(tests, wanted)
        if named is not None:
            return named
        narrowed = [test for test in tests if _about(test, wanted)]
        if len(narrowed) == 1:
            return narrowed[0]
        if narrowed:
            offered = narrowed
        else:
            screen.say(f"No test left has “{wanted}” in it.")


def _answer(screen: Screen, lines: Lines, test: Test, typed: str) -> Answer | None:
    screen.main(test.says)
    for letter, outcome in zip(LETTERS, test.outcomes, strict=False):
        screen.choice(letter, outcome.says, band_words(outcome))
    while True:
        if not typed:
            typed = lines(screen.prompt("what did it show? (Enter for never mind)")).strip()
        if not typed:
            return None
        reply = replies.to_test(typed, test)
        if isinstance(reply, Told):
            return reply.answer
        if isinstance(reply, Command):
            return None
        screen.say(reply.says)
        typed = ""


def _one(tests: Sequence[Test], name: str) -> Test | None:
    return next((test for test in tests if test.id == name), None)


def _about(test: Test, wanted: str) -> bool:
    return wanted.casefold() in f"{test.id} {test.says} {test.point}".casefold()
