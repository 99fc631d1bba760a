"""A walk without a person: each question is answered from answers written down beforehand."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from engine.model.records import Model
from engine.readings import bands
from engine.readings.bands import Answer
from engine.walk.ending import conclude
from engine.walk.events import Answered, CannotDo, Unmended
from engine.walk.job import Halt, Setting, Walk, pending, take
from kb.trouble import Place, Trouble, TroubleError

_CANNOT = ("can't", "can’t", "cant", "cannot", "can't do", "can't do that", "not done", "-")
"""Ways of writing that a test can't be done, for forms in which every line wants an answer."""

_UNHELPFUL = ("did not help", "didn't help", "didn’t help", "not cured", "unmended", "no")


def read_all(model: Model, lines: Mapping[str, str], source: str) -> dict[str, Answer]:
    """Test answers by test id; raises one `TroubleError` with every answer that is none.

    A test that is said to be impossible is left out, as one without a line is.
    """
    troubles: list[Trouble] = []
    answers: dict[str, Answer] = {}
    tests = {test.id: test for test in model.tests}
    for name, text in lines.items():
        if name not in tests:
            troubles.append(_unknown(name, model, source))
            continue
        test = tests[name]
        if text.casefold() in _CANNOT and text not in {outcome.id for outcome in test.outcomes}:
            continue
        try:
            answers[name] = bands.read(text, test, model.arrangement(test.supply))
        except TroubleError as wrong:
            troubles += wrong.troubles
    if troubles:
        raise TroubleError(troubles)
    return answers


def read_takes(
    model: Model, lines: Mapping[str, Sequence[str]], source: str
) -> dict[str, tuple[Answer, ...]]:
    """As `read_all`, for tests that may have been done several times."""
    takes: dict[str, tuple[Answer, ...]] = {}
    most = max((len(texts) for texts in lines.values()), default=0)
    for number in range(most):
        once = {name: texts[number] for name, texts in lines.items() if len(texts) > number}
        for name, answer in read_all(model, once, source).items():
            takes[name] = (*takes.get(name, ()), answer)
    return takes


def unhelpful(model: Model, lines: Mapping[str, Sequence[str]]) -> frozenset[str]:
    """The remedies that a file says did not help, such as `renew-C3: did not help`."""
    remedies = {remedy.id for remedy in model.remedies}
    return frozenset(
        name
        for name, texts in lines.items()
        if name in remedies and " ".join(texts).casefold() in _UNHELPFUL
    )


def work_through(walk: Walk, answers: Mapping[str, Answer]) -> Walk:
    """Follow the walk to its verdict; a test without an answer counts as one that can't be done.

    At most one event per test and its setups, so it ends.
    """
    return work_on(walk, {name: (answer,) for name, answer in answers.items()})


def work_on(
    walk: Walk,
    takes: Mapping[str, Sequence[Answer]],
    failures: frozenset[str] = frozenset(),
    settles: Callable[[Walk], bool] = lambda walk: False,
) -> Walk:
    """As `work_through`, with further readings for tests done again, and beyond a verdict whose
    remedy is one of `failures`, which did not help; no further once the walk `settles`."""
    once = frozenset(test.id for test in walk.model.tests if len(takes.get(test.id, ())) < 2)
    walk = replace(walk, outset=replace(walk.outset, told_once=once))
    counts = dict[str, int]()
    while not settles(walk):
        ahead = pending(walk)
        if ahead is None:
            remedy = conclude(walk).remedy.id
            if remedy not in failures:
                return walk
            walk, failures = take(walk, Unmended(remedy)), failures - {remedy}
            continue
        if isinstance(ahead, Halt):
            return walk
        if isinstance(ahead, Setting) and (ahead.returns or not ahead.test):
            walk = take(walk, ahead.event)
            continue
        answers = takes.get(ahead.test, ())
        if counts.get(ahead.test, 0) >= len(answers):
            walk = take(walk, CannotDo(ahead.test))
        elif isinstance(ahead, Setting):
            walk = take(walk, ahead.event)
        else:
            walk = take(walk, _event(answers[counts.get(ahead.test, 0)]))
            counts[ahead.test] = counts.get(ahead.test, 0) + 1
    return walk


def _event(answer: Answer) -> Answered:
    shares = answer.shares if answer.straddles else ()
    return Answered(answer.test, answer.outcome, answer.reading or None, shares)


def _unknown(name: str, model: Model, source: str) -> Trouble:
    return Trouble(
        code="WK131",
        place=Place(source),
        what=f'there is no test or entry question "{name}" in {model.topology}',
        mend=f"Take the line out, or name one that nextprobe model {model.topology} lists",
    )
