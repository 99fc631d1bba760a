"""From what was asked for to a walk: its model, its opening or what was saved of it, and the walk
told anew where more is known of the unit or less can be had. Terminal and page share this."""

from __future__ import annotations

import sys
from collections.abc import Collection
from dataclasses import replace

from engine import library
from engine.model.plan import Planner
from engine.model.records import Model, sha256
from engine.walk import handover, job
from engine.walk.acquaintance import reread
from engine.walk.entry import (
    Admission,
    admit,
    barred_supplies,
    barred_tests,
    cold_checks,
    complaint_now,
)
from engine.walk.events import Arrived, Lacking
from engine.walk.fitting import build_event
from engine.walk.job import Outset, Walk
from kb.trouble import TroubleError
from render.cli import knowledge
from render.cli.briefing import Brief, lines_of, trouble
from render.cli.testifying import witness_for


def model_of(brief: Brief) -> Model:
    """The model that was asked for. TroubleError as `knowledge.either`."""
    model = knowledge.either(
        brief.topology, brief.model, brief.mains, brief.depth, brief.complaint, brief.kb,
        brief.without, brief.values, brief.having, brief.traced,
    )  # fmt: skip
    return model if brief.learn is None else brief.learn(model)


def check_told(brief: Brief, model: Model) -> None:
    """What was told of this very unit can be of use: TroubleError EV101 to EV104 where it can't,
    before anyone is asked anything."""
    if brief.model is None and (brief.values or brief.good):
        witness_for(model, brief.values, brief.good, brief.kb)


def entry_of(brief: Brief) -> dict[str, str]:
    """The entry check's answers so far."""
    if brief.origin is not None:
        return dict(brief.origin.outset.entry)
    return dict(brief.saved.entry) if brief.saved else {}


def complaint_of(brief: Brief, model: Model, admission: Admission) -> str | None:
    """The complaint once it is joined by what the entry check brought out; None where that is
    nothing new, or no model can be deduced for it."""
    is_begun = brief.origin is not None or (brief.saved is not None and brief.saved.events)
    if brief.topology is None or is_begun:
        return None
    general = library.second_start(None, brief.kb)
    return complaint_now(model, admission, general[0] if general else None)


def opening_walk(brief: Brief, model: Model, admission: Admission, planner: Planner) -> Walk:
    """The walk after the entry check, events of a saved one replayed."""
    supplies = barred_supplies(model, admission)
    if supplies:
        _refuse_past(brief, supplies)
        model = _colder(brief, model, supplies)
    withdrawn = barred_tests(model, admission)
    options = tuple(sorted(brief.options.items()))
    cold = cold_checks(model, admission)
    witness = None if brief.model else witness_for(model, brief.values, brief.good, brief.kb)
    outset = Outset(
        model, withdrawn, admission.answers, options, cold, witness,
        minutes_before=brief.minutes_before,
    )  # fmt: skip
    if brief.origin is not None:
        return handover.carry(brief.origin, job.begin(outset, planner))
    if brief.saved is None:
        return _with_build(brief, job.begin(outset, planner))
    if brief.saved.model_sha256 != sha256(model):
        print(
            "nextprobe: the knowledge has changed since this walk was saved; its answers are "
            "weighed anew with what is known now.",
            file=sys.stderr,
        )
    events = [reread(model, event) for event in brief.saved.events]
    return _with_build(brief, job.resume(outset, events, planner))


def _with_build(brief: Brief, walk: Walk) -> Walk:
    """The walk with what the command line tells of how the unit is built, each word once."""
    for words in brief.build:
        event = build_event(walk, words)
        if event not in walk.events:
            walk = job.take(walk, event)
    return walk


def _refuse_past(brief: Brief, supplies: Collection[str]) -> None:
    """TroubleError for a saved walk that stood on a supply which its entry check now bars."""
    events = brief.saved.events if brief.saved else ()
    past = [e.supply for e in events if isinstance(e, Arrived) and e.supply in supplies]
    if past:
        raise trouble(
            "CL114", str(brief.saved_in or "saved walk"),
            f"the saved walk stood on {past[0]}, which its entry check now rules out",
            "Leave the unit unplugged and begin a new walk; name no reading taken on that supply",
        )  # fmt: skip


def acquaint(brief: Brief, walk: Walk, values: Collection[str], planner: Planner) -> Walk | None:
    """The walk on a model deduced anew for what is now known of the unit (`R2=330k`, or what a
    good one reads): its answers count by the bands of such a unit. None where none can be deduced.
    """
    if brief.topology is None:
        return None
    options = dict(walk.outset.options)
    knowing = replace(
        brief,
        values=(*lines_of(options, "values"), *values),
        without=lines_of(options, "without"),
        complaint=options.get("complaint"),
        build=(),
        saved=None,
        origin=None,  # what it handed over are events of the walk, and told anew with them
    )
    first = model_of(knowing)
    anew = opening_walk(knowing, first, admit(first, dict(walk.outset.entry)), planner)
    for event in walk.events:
        anew = job.take(anew, reread(anew.model, event))
    return job.carried_over(walk, anew)


def _colder(brief: Brief, model: Model, supplies: Collection[str]) -> Model:
    """The model for a unit that must not meet these supplies, deduced without them.

    A model document can't be deduced again; the tests that need them are withdrawn all the same.
    """
    if brief.model is not None or brief.topology is None:
        return model
    return model_of(replace(brief, without=(*brief.without, *supplies)))


def without_supply(brief: Brief, walk: Walk, lack: Lacking, planner: Planner) -> Walk | None:
    """The walk on a model deduced without a supply arrangement that is lacking: checks that can be
    done on another one then are. None where that can't be: the tests are withdrawn instead."""
    if lack.kind != "supply" or brief.topology is None:
        return None
    options = dict(walk.outset.options)
    lacking = (*lines_of(options, "without"), lack.thing)
    fewer = replace(
        brief, without=lacking, values=lines_of(options, "values"), build=(), saved=None,
        origin=None,
    )  # fmt: skip
    try:
        first = model_of(fewer)
        anew = opening_walk(fewer, first, admit(first, dict(walk.outset.entry)), planner)
        for event in (*walk.events, lack):
            anew = job.take(anew, event)
        anew = job.carried_over(walk, anew)
    except TroubleError:  # something was done on the supply that is now said to be lacking
        return None
    return anew
