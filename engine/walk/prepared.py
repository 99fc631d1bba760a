"""A walk without a person: each question is answered from answers written down beforehand."""

from __future__ import annotations

from collections.abc import Mapping

from engine import readings
from engine.model import Model
from engine.readings import Answer
from engine.walk.events import Answered, CannotDo
from engine.walk.job import Setting, Walk, pending, take
from kb.trouble import Place, Trouble, TroubleError

_CANNOT = ("can't", "can’t", "cant", "cannot", "can't do", "can't do that", "not done", "-")
"""Ways of writing that a test can't be done, for forms in which every line wants an answer."""


def read_all(model: Model, written: Mapping[str, str], source: str) -> dict[str, Answer]:
    """Test answers by test id; raises one `TroubleError` with every answer that is none.

    A test that is said to be impossible is left out, as one without a line is.
    """
    troubles: list[Trouble] = []
    answers: dict[str, Answer] = {}
    tests = {test.id: test for test in model.tests}
    for name, text in written.items():
        if name not in tests:
            troubles.append(_unknown(name, model, source))
            continue
        test = tests[name]
        if text.casefold() in _CANNOT and text not in {outcome.id for outcome in test.outcomes}:
            continue
        try:
            answers[name] = readings.read(text, test, model.arrangement(test.supply))
        except TroubleError as wrong:
            troubles += wrong.troubles
    if troubles:
        raise TroubleError(troubles)
    return answers


def work_through(walk: Walk, answers: Mapping[str, Answer]) -> Walk:
    """Follow the walk to its verdict; a test without an answer counts as one that can't be done.

    At most one event per test and its setups, so it ends.
    """
    while True:
        step = pending(walk)
        if step is None:
            return walk
        if step.test not in answers:
            walk = take(walk, CannotDo(step.test))
        elif isinstance(step, Setting):
            walk = take(walk, step.event)
        else:
            walk = take(walk, _event(answers[step.test]))


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
