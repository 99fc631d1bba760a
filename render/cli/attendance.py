"""A walk as the command line runs it: with a person or without, from the start or as saved."""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TextIO

from engine import safetygate
from engine.model.complaints import in_words
from engine.model.plan import Planner
from engine.model.records import Model
from engine.walk import job, prepared, record
from engine.walk.alternatives import cost_of_cannot, runners_up
from engine.walk.entry import (
    COLD_ONLY,
    Admission,
    admit,
    outstanding,
    without_answer,
)
from engine.walk.events import Away, Lacking
from engine.walk.explain import RunnerUp
from engine.walk.job import Walk
from kb import signs
from kb.language.answersfile import read_takes
from kb.trouble import TroubleError
from render.cli import foresight, outset, streams, turnout
from render.cli.briefing import Brief, trouble
from render.cli.keeping import Keeping
from render.cli.onward import Onward
from render.cli.options import Depth
from render.terminal import docket, intake, purse, replies
from render.terminal.leaving import BackAtEntryError, Left
from render.terminal.screen import Screen
from render.terminal.session import Session

FIRST = "This is the first question. What was taken in before it stands; stop leaves."
# Seconds that a person who asks why will wait for the other ways to be priced.
_PATIENCE = 0.6


def _check_unit(brief: Brief, model: Model) -> None:
    """A saved walk belongs to its own unit, whatever model document is found in its place."""
    if brief.saved is not None and brief.saved.topology != model.topology:
        raise trouble(
            "CL112", str(brief.saved_in),
            f"the saved walk is of {brief.saved.topology}, its model of {model.topology}",
            "Give back the model that it was begun with, or start the walk anew",
        )  # fmt: skip


def attend(
    brief: Brief,
    keeper: Callable[[str], Keeping],
    as_json: bool,
    to_intake: Callable[[], None] | None = None,
) -> None:
    """Talk a person through the walk; with `as_json` the talk goes to standard error.

    `keeper` gives what keeps a walk of the named topology. `to_intake` is called where undo is
    typed at the entry check's first question and nothing is kept yet."""
    stream = sys.stderr if as_json else sys.stdout
    screen, lines = Screen(stream), lines_from(stream)
    first = outset.model_of(brief)
    _check_unit(brief, first)
    outset.check_told(brief, first)
    planner = foresight.foreseeing(first, foresight.patient(brief.seconds, brief.kb, brief.model))
    keeping = keeper(first.topology)
    if brief.origin is not None:
        keeping.turn_out(first)
    if brief.learn is not None:
        by_the_book = outset.model_of(replace(brief, learn=None))
        if first.faults != by_the_book.faults:
            screen.line("shares", "of faults are those of the book and of this shop's closed cases")
    entry_answers = outset.entry_of(brief)
    if brief.saved is not None and outstanding(first, entry_answers):
        screen.say("The entry check of this walk lacks answers. They come first; stay unplugged.")
    order = _Order(brief, first, planner)

    def back() -> None:
        if to_intake is None or keeping.is_begun:
            screen.say(FIRST)
        else:
            to_intake()

    walk: Walk | None = None
    while True:
        try:
            arrival = _take_in(screen, lines, order, entry_answers, keeping, back)
        except (intake.Abandonment, EOFError, KeyboardInterrupt):
            _abandon(screen, brief, keeping, stream)
            return
        brief, first = arrival.order.brief, arrival.order.model
        if not arrival.admission.is_admitted:
            intake.turn_away(screen, first, arrival.admission)
            keeping.away(brief, first, arrival.admission)
            if as_json:
                document = record.turned_away(first, arrival.admission, brief.options)
                streams.print_json(document)
            return
        keeping.begin(brief, first)
        try:
            walk = _opening(arrival, walk)
        except TroubleError as wrong:
            if walk is None:
                raise
            screen.say(f"{replies.sentences(wrong)} The entry check stays as it was.")
            entry_answers = dict(walk.outset.entry)
            continue
        session = _session(screen, lines, arrival.order, keeping)
        if turnout.is_unopened(brief):
            screen.say(turnout.ASIDE)
        try:
            walk = session.run(walk)
            break
        except BackAtEntryError as undone:
            walk, entry_answers = undone.walk, dict(undone.walk.outset.entry)
            says = f"Taken back: the answer to “{_question(first, entry_answers.popitem()[0])}”."
            screen.say(says, style="green")
        except TroubleError:
            _show_kept(screen, keeping)
            raise
        except Left as left:
            _leave(screen, left.walk, keeping)
            if isinstance(left.__cause__, KeyboardInterrupt):
                raise KeyboardInterrupt from left
            return
    if (successor := turnout.turned_out(brief, walk)) is not None:
        turnout.tell(screen, walk, successor.topology or "", brief.kb)
        attend(successor, lambda topology: keeping, as_json)
        return
    screen.verbatim("saved", keeping.place)
    if keeping.way_out:
        screen.verbatim("in the end", keeping.way_out)
    if as_json:
        streams.print_json(record.document(walk))


@dataclass(frozen=True, slots=True)
class _Order:
    """What a walk is asked for with, the model of that, and who plans."""

    brief: Brief
    model: Model
    planner: Planner


@dataclass(frozen=True, slots=True)
class _Arrival:
    """A unit that came through the entry check, or was turned away by it."""

    order: _Order
    admission: Admission


def _take_in(
    screen: Screen, lines: Callable[[str], str], order: _Order, answers: Mapping[str, str],
    keeping: Keeping, back: Callable[[], None],
) -> _Arrival:
    """Put the entry questions that are not answered; they may bring out a complaint, and with that
    another model and further questions."""
    brief, model, planner = order.brief, order.model, order.planner

    def note(replies_so_far: Mapping[str, str]) -> None:
        keeping.entry(brief, model, replies_so_far)

    admission = intake.take_in(screen, lines, model, answers, note, back)
    if (complaint := outset.complaint_of(brief, model, admission)) is not None:
        screen.line("complaint", f"{in_words(complaint)}, by what was just answered")
        brief = replace(brief, complaint=complaint)
        model = outset.model_of(brief)
        planner = foresight.foreseeing(
            model, foresight.patient(brief.seconds, brief.kb, brief.model)
        )
        admission = intake.take_in(screen, lines, model, dict(admission.answers), note, back)
    return _Arrival(_Order(brief, model, planner), admission)


def _opening(arrival: _Arrival, past: Walk | None) -> Walk:
    """The walk after the entry check; with what was done in `past`, before an answer of it was
    taken back, at a bench that counts as left."""
    brief, model, planner = arrival.order.brief, arrival.order.model, arrival.order.planner
    if past is None:
        return outset.opening_walk(brief, model, arrival.admission, planner)
    fresh = replace(brief, saved=None, build=())
    walk = outset.opening_walk(fresh, model, arrival.admission, planner)
    for event in past.events:
        walk = job.take(walk, event)
    if past.events and not isinstance(past.events[-1], Away):
        walk = job.take(walk, Away())
    return job.carried_over(past, walk)


def _session(
    screen: Screen, lines: Callable[[str], str], order: _Order, keeping: Keeping
) -> Session:
    brief, model, planner = order.brief, order.model, order.planner

    def do_without(now: Walk, lack: Lacking) -> Walk | None:
        return outset.without_supply(brief, now, lack, planner)

    def prices(now: Walk) -> tuple[Iterable[RunnerUp], float | None]:
        return runners_up(now, _PATIENCE), cost_of_cannot(now, _PATIENCE / 2)

    def know(now: Walk, entry_answers: Collection[str]) -> Walk | None:
        return outset.acquaint(brief, now, entry_answers, planner)

    origin = safetygate.origin_note(model, brief.model is not None)
    return Session(
        screen, lines, keeping.walk, prices, do_without, know, origin, Onward(brief),
        turnout.settling(brief), purse=purse.of_shop(brief.kb, model.topology),
        undoes_entry=bool(model.entry) and brief.origin is None,
    )  # fmt: skip


def _question(model: Model, name: str) -> str:
    return next(question.asks for question in model.entry if question.id == name)


def _abandon(screen: Screen, brief: Brief, keeping: Keeping, stream: TextIO) -> None:
    """Say what is kept of a job that was left during the entry check."""
    if keeping.is_begun:
        screen.heading("left")
        _show_kept(screen, keeping)
        return
    nothing = "Nothing was begun, nothing is saved."
    left = nothing if brief.saved is None else "The saved walk is as it was."
    print(f"\n{left}", file=stream)


def run_alone(
    brief: Brief, answers: Path, as_json: bool, past: Collection[str] = frozenset()
) -> None:
    """Run the walk from written answers and print its document or its docket; `past` are names of
    answers that were of use before one knew what the unit is."""
    first = outset.model_of(brief)
    _check_unit(brief, first)
    replies = {name: texts for name, texts in read_takes(answers).items() if name not in past}
    questions = {question.id for question in first.entry}
    entry = outset.entry_of(brief)
    entry |= {name: texts[0] for name, texts in replies.items() if name in questions}
    admission = admit(first, entry)
    if (complaint := outset.complaint_of(brief, first, admission)) is not None:
        brief = replace(brief, complaint=complaint)
        first = outset.model_of(brief)
        questions = {question.id for question in first.entry}
        entry |= {name: texts[0] for name, texts in replies.items() if name in questions}
        admission = admit(first, entry)
    if brief.origin is None:
        _own_up(admission)
    screen = Screen(sys.stdout)
    if not admission.is_admitted:
        if as_json:
            streams.print_json(record.turned_away(first, admission, brief.options))
        else:
            intake.turn_away(screen, first, admission)
        return
    useless = prepared.unhelpful(first, replies)
    tests = {name: texts for name, texts in replies.items() if name not in questions | useless}
    patient = foresight.patient(brief.seconds, brief.kb, brief.model)
    walk = outset.opening_walk(brief, first, admission, patient)
    if turnout.is_unopened(brief):  # the rest may be of what it turns out to be
        tests = {test.id: tests[test.id] for test in walk.model.tests if test.id in tests}
    else:
        tests = _tests_of_entry(brief, walk.model, tests)
    takes = prepared.read_takes(walk.model, tests, str(answers))
    walk = prepared.work_on(walk, takes, useless, turnout.settling(brief))
    if (successor := turnout.turned_out(brief, walk)) is not None:
        own = {test.id for test in first.tests}
        own -= {test.id for test in outset.model_of(successor).tests}
        if not as_json:
            docket.show_record(screen, walk)
            turnout.tell(screen, walk, successor.topology or "", brief.kb)
        run_alone(successor, answers, as_json, own)
        return
    if as_json:
        streams.print_json(record.document(walk))
    else:
        docket.show_record(screen, walk)
        docket.show_verdict(screen, walk, Onward(brief)(walk))


def _own_up(admission: Admission) -> None:
    """Say which entry questions the answers leave open, and what they are taken for."""
    if not admission.is_admitted:
        return
    usual = [question.id for question in admission.unanswered if not question.conditional]
    if usual:
        print(
            f"nextprobe: note: entry check not answered: {', '.join(usual)}. It counts as passed "
            f"in this run on paper; answer it before the unit is opened or plugged in.",
            file=sys.stderr,
        )
    for question in admission.unanswered:
        if without_answer(question) == COLD_ONLY:
            print(
                f"nextprobe: note: entry question {question.id} is due and not answered: until it "
                f"is, nothing is energised.",
                file=sys.stderr,
            )


def _tests_of_entry(
    brief: Brief, model: Model, tests: dict[str, tuple[str, ...]]
) -> dict[str, tuple[str, ...]]:
    """The answers but those to tests that this complaint, depth or bench rules out, with a note."""
    names = {test.id for test in model.tests}
    if brief.model is not None or set(tests) <= names:
        return tests
    from engine import library

    everything = tuple(sorted(library.everything(brief.kb)))
    widest = outset.model_of(
        replace(brief, complaint=None, depth=Depth.PART, without=(), having=everything)
    )  # fmt: skip
    out = [test.id for test in widest.tests if test.id in tests and test.id not in names]
    if out:
        print(
            f"nextprobe: note: not offered after this complaint, at this depth or on this bench, "
            f"so left unused: {', '.join(out)}",
            file=sys.stderr,
        )
    return {name: text for name, text in tests.items() if name not in out}


def lines_from(stream: TextIO) -> Callable[[str], str]:
    """Lines from the person: edited at a terminal, echoed from a pipe."""
    if sys.stdin.isatty() and stream is sys.stdout:
        import contextlib

        with contextlib.suppress(ImportError):
            import readline  # noqa: F401  gives input() its line editing
        return lambda prompt: signs.plain(input(prompt))

    def line(prompt: str) -> str:
        stream.write(prompt)
        stream.flush()
        text = signs.plain(sys.stdin.readline())
        if not text:
            stream.write("\n")
            raise EOFError
        if not sys.stdin.isatty():
            stream.write(text if text.endswith("\n") else text + "\n")
        return text

    return line


def _leave(screen: Screen, walk: Walk, keeping: Keeping) -> None:
    """Say where the walk is, how to go on, and to unplug."""
    screen.heading("left")
    docket.show_leaving(screen, walk)
    _show_kept(screen, keeping)


def _show_kept(screen: Screen, keeping: Keeping) -> None:
    """Where all that was acknowledged is, and how to go on with it."""
    if keeping.is_begun:
        screen.verbatim("saved", keeping.place)
        screen.verbatim("go on", keeping.way_back)
