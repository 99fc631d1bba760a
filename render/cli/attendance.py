"""A walk as the command line runs it: with a person or without, from the start or as saved."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable, Collection, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any, TextIO

from engine import gate
from engine.model.records import Model, sha256
from engine.walk import job, prepared, record
from engine.walk.acquaintance import reread
from engine.walk.alternatives import cost_of_cannot, runners_up
from engine.walk.entry import (
    COLD_ONLY,
    Admission,
    admit,
    barred,
    barred_tests,
    cold_checks,
    complaint_now,
    outstanding,
    without_answer,
)
from engine.walk.events import Arrived, Lacking
from engine.walk.explain import RunnerUp
from engine.walk.job import Outset, Planner, Walk
from kb.language.answersfile import read_takes
from kb.trouble import Place, Trouble, TroubleError
from render.cli import files, foresight, knowledge
from render.cli.briefing import Told, lines_of
from render.cli.onward import Onward
from render.cli.options import Depth
from render.cli.testifying import witness_for
from render.terminal import docket, intake
from render.terminal.screen import Screen
from render.terminal.session import Left, Session

# Seconds that a person who asks why will wait for the other ways to be priced.
_PATIENCE = 0.6


def _check_unit(told: Told, model: Model) -> None:
    """A saved walk belongs to its own unit, whatever model document is found in its place."""
    if told.saved is not None and told.saved.topology != model.topology:
        raise _trouble(
            "CL112", str(told.saved_in),
            f"the saved walk is of {told.saved.topology}, its model of {model.topology}",
            "Give back the model that it was begun with, or start the walk anew",
        )  # fmt: skip


def attended(told: Told, save: Path | None, as_json: bool) -> None:
    """Talk a person through the walk; with `as_json` the talk goes to standard error."""
    stream = sys.stderr if as_json else sys.stdout
    screen, lines = Screen(stream), _lines(stream)
    first = _model(told)
    _check_unit(told, first)
    planner = foresight.foreseeing(first, foresight.patient(told.seconds, told.kb, told.model))
    given = dict(told.saved.entry) if told.saved else {}
    if told.saved is not None and outstanding(first, given):
        screen.say("The entry check of this walk lacks answers. They come first; stay unplugged.")
    try:
        admission = intake.take_in(screen, lines, first, given)
        if (complaint := _complained(told, first, admission)) is not None:
            screen.line("complaint", f"taken as {complaint}, by what was just answered")
            told = replace(told, complaint=complaint)
            first = _model(told)
            planner = foresight.foreseeing(
                first, foresight.patient(told.seconds, told.kb, told.model)
            )
            admission = intake.take_in(screen, lines, first, dict(admission.answers))
    except (intake.Abandoned, EOFError, KeyboardInterrupt):
        kept = "Nothing was begun, nothing is saved."
        print(f"\n{kept if told.saved is None else 'The saved walk is as it was.'}", file=stream)
        return
    target = save or told.saved_in or _own_place(first.topology)
    if not admission.admitted:
        intake.turn_away(screen, first, admission)
        _finish(record.turned_away(first, admission, told.options), target, as_json)
        return
    walk = _opened(told, first, admission, planner)

    def save_it(now: Walk) -> None:
        _save(target, record.document(now))

    def do_without(now: Walk, lack: Lacking) -> Walk | None:
        return without_supply(told, now, lack, planner)

    def prices(now: Walk) -> tuple[Iterable[RunnerUp], float | None]:
        return runners_up(now, _PATIENCE), cost_of_cannot(now, _PATIENCE / 2)

    def know(now: Walk, given: Collection[str]) -> Walk | None:
        return acquaint(told, now, given, planner)

    origin = gate.origin_note(first, told.model is not None)
    session = Session(
        screen, lines, save_it, prices, do_without, know, origin, Onward(told)
    )  # fmt: skip
    try:
        walk = session.run(walk)
    except Left as left:
        _leave(screen, left.walk, target)
        if isinstance(left.__cause__, KeyboardInterrupt):
            raise KeyboardInterrupt from left
        return
    screen.verbatim("saved", str(target))
    if as_json:
        _print(record.document(walk))


def unattended(told: Told, answers: Path, as_json: bool) -> None:
    """Run the walk from written answers and print its document or its docket."""
    first = _model(told)
    _check_unit(told, first)
    written = read_takes(answers)
    asked = {question.id for question in first.entry}
    entry = dict(told.saved.entry) if told.saved else {}
    entry |= {name: texts[0] for name, texts in written.items() if name in asked}
    admission = admit(first, entry)
    if (complaint := _complained(told, first, admission)) is not None:
        told = replace(told, complaint=complaint)
        first = _model(told)
        asked = {question.id for question in first.entry}
        entry |= {name: texts[0] for name, texts in written.items() if name in asked}
        admission = admit(first, entry)
    _own_up(admission)
    screen = Screen(sys.stdout)
    if not admission.admitted:
        if as_json:
            _print(record.turned_away(first, admission, told.options))
        else:
            intake.turn_away(screen, first, admission)
        return
    unmended = prepared.unhelpful(first, written)
    tests = {name: texts for name, texts in written.items() if name not in asked | unmended}
    walk = _opened(told, first, admission, foresight.patient(told.seconds, told.kb, told.model))
    tests = _offered(told, walk.model, tests)
    takes = prepared.read_takes(walk.model, tests, str(answers))
    walk = prepared.work_on(walk, takes, unmended)
    if as_json:
        _print(record.document(walk))
    else:
        docket.show_record(screen, walk)
        docket.show_verdict(screen, walk, Onward(told)(walk))


def _complained(told: Told, model: Model, admission: Admission) -> str | None:
    """The complaint that the entry check brought out, where a model can be deduced for it."""
    if told.topology is None or told.saved is not None:
        return None
    return complaint_now(model, admission)


def _own_up(admission: Admission) -> None:
    """Say which entry questions the answers leave open, and what they are taken for."""
    if not admission.admitted:
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


def _offered(
    told: Told, model: Model, tests: dict[str, tuple[str, ...]]
) -> dict[str, tuple[str, ...]]:
    """The answers but those to tests that this complaint, depth or bench rules out, with a note."""
    known = {test.id for test in model.tests}
    if told.model is not None or set(tests) <= known:
        return tests
    from engine import library

    everything = tuple(sorted(library.everything(told.kb)))
    widest = _model(
        replace(told, complaint=None, depth=Depth.PART, without=(), having=everything)
    )  # fmt: skip
    out = [test.id for test in widest.tests if test.id in tests and test.id not in known]
    if out:
        print(
            f"nextprobe: note: not offered after this complaint, at this depth or on this bench, "
            f"so left unused: {', '.join(out)}",
            file=sys.stderr,
        )
    return {name: text for name, text in tests.items() if name not in out}


def _model(told: Told) -> Model:
    return knowledge.either(
        told.topology, told.model, told.mains, told.depth, told.complaint, told.kb, told.without,
        told.values, told.having, told.traced,
    )  # fmt: skip


def _opened(told: Told, model: Model, admission: Admission, planner: Planner) -> Walk:
    """The walk after the entry check, events of a saved one replayed."""
    supplies = barred(model, admission)
    if supplies:
        _refuse_past(told, supplies)
        model = _colder(told, model, supplies)
    withdrawn = barred_tests(model, admission)
    options = tuple(sorted(told.options.items()))
    cold = cold_checks(model, admission)
    witness = None if told.model else witness_for(model, told.values, told.good, told.kb)
    outset = Outset(model, withdrawn, admission.answers, options, cold, witness)
    if told.saved is None:
        return job.begin(outset, planner)
    if told.saved.model_sha256 != sha256(model):
        print(
            "nextprobe: the knowledge has changed since this walk was saved; its answers are "
            "weighed anew with what is known now.",
            file=sys.stderr,
        )
    return job.resume(outset, [reread(model, e) for e in told.saved.events], planner)


def _refuse_past(told: Told, supplies: Collection[str]) -> None:
    """TroubleError for a saved walk that stood on a supply which its entry check now bars."""
    events = told.saved.events if told.saved else ()
    stood = [e.supply for e in events if isinstance(e, Arrived) and e.supply in supplies]
    if stood:
        raise _trouble(
            "CL114", str(told.saved_in or "saved walk"),
            f"the saved walk stood on {stood[0]}, which its entry check now rules out",
            "Leave the unit unplugged and begin a new walk; name no reading taken on that supply",
        )  # fmt: skip


def acquaint(told: Told, walk: Walk, given: Collection[str], planner: Planner) -> Walk | None:
    """The walk on a model deduced anew for what is now known of the unit (`R2=330k`, or what a
    good one reads): its answers count by the bands of such a unit. None where none can be deduced.
    """
    if told.topology is None:
        return None
    options = dict(walk.outset.options)
    knowing = replace(
        told,
        values=(*lines_of(options, "values"), *given),
        without=lines_of(options, "without"),
        complaint=options.get("complaint"),
        saved=None,
    )
    first = _model(knowing)
    anew = _opened(knowing, first, admit(first, dict(walk.outset.entry)), planner)
    for event in walk.events:
        anew = job.take(anew, reread(anew.model, event))
    return job.carried_over(walk, anew)


def _colder(told: Told, model: Model, supplies: Collection[str]) -> Model:
    """The model for a unit that must not meet these supplies, deduced without them.

    A model document can't be deduced again; the tests that need them are withdrawn all the same.
    """
    if told.model is not None or told.topology is None:
        return model
    return knowledge.topology_model(
        told.topology,
        told.mains,
        told.depth,
        told.complaint,
        told.kb,
        (*told.without, *supplies),
        told.values,
        told.having,
        told.traced,
    )


def without_supply(told: Told, walk: Walk, lack: Lacking, planner: Planner) -> Walk | None:
    """The walk on a model deduced without a supply arrangement that is lacking: checks that can be
    done on another one then are. None where that can't be: the tests are withdrawn instead."""
    if lack.kind != "supply" or told.topology is None:
        return None
    options = dict(walk.outset.options)
    lacking = (*lines_of(options, "without"), lack.thing)
    fewer = replace(told, without=lacking, values=lines_of(options, "values"), saved=None)
    try:
        first = _model(fewer)
        anew = _opened(fewer, first, admit(first, dict(walk.outset.entry)), planner)
        for event in (*walk.events, lack):
            anew = job.take(anew, event)
        anew = job.carried_over(walk, anew)
    except TroubleError:  # something was done on the supply that is now said to be lacking
        return None
    return anew


def _lines(stream: TextIO) -> Callable[[str], str]:
    """Lines from the person: edited at a terminal, echoed from a pipe."""
    if sys.stdin.isatty() and stream is sys.stdout:
        import contextlib

        with contextlib.suppress(ImportError):
            import readline  # noqa: F401  gives input() its line editing
        return input

    def line(prompt: str) -> str:
        stream.write(prompt)
        stream.flush()
        typed = sys.stdin.readline()
        if not typed:
            stream.write("\n")
            raise EOFError
        if not sys.stdin.isatty():
            stream.write(typed if typed.endswith("\n") else typed + "\n")
        return typed

    return line


def _own_place(topology: str) -> Path:
    """A new file for this walk in the user's data folder."""
    import platformdirs

    folder = Path(platformdirs.user_data_dir("nextprobe", appauthor=False)) / "walks"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as wrong:
        raise _trouble(
            "CL113", str(folder), f"walks can't be saved there ({wrong.strerror})",
            "Give a file with --save",
        ) from wrong  # fmt: skip
    stem = f"{topology}-{time.strftime('%Y%m%d-%H%M%S')}"
    return folder / f"{stem}.json"


def _save(target: Path, document: dict[str, Any]) -> None:
    files.write_text(target, json.dumps(document, ensure_ascii=False, indent=1) + "\n")


def _finish(document: dict[str, Any], target: Path, as_json: bool) -> None:
    _save(target, document)
    if as_json:
        _print(document)


def _leave(screen: Screen, walk: Walk, target: Path) -> None:
    """Say where the walk is, how to go on, and to unplug."""
    screen.heading("left")
    docket.show_leaving(screen, walk)
    screen.verbatim("saved", str(target))
    screen.verbatim("go on", f"nextprobe walk --from {_quoted(str(target))}")


def _quoted(text: str) -> str:
    import shlex

    return shlex.quote(text)


def _print(document: dict[str, Any]) -> None:
    print(json.dumps(document, ensure_ascii=False, indent=1))


def _trouble(code: str, where: str, what: str, mend: str) -> TroubleError:
    return TroubleError(Trouble(code=code, place=Place(where), what=what, mend=mend))
