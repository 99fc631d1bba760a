"""A walk in progress: an outset plus a tuple of events, and the state that follows from them.

Everything is frozen. `begin` opens a walk, `take` adds one event, `replay` folds a whole tuple of
events (`engine.walk.undo` drops the last finding); `take(walk, event)` equals replaying one event
more, so a saved walk needs nothing but its outset and its events. The planner is an argument.

On the plan, each answer follows a branch. Whatever leaves it (an answer the plan has no place for,
can't do, already known) has the rest planned anew from the present belief, bench and withdrawn
tests. Two weights are kept apart for that:

- `belief` is the posterior over all faults, misreads included: what is shown to the person.
- `suspects` are the faults that the answers, taken as read, leave in question; the plan, itself
  for true readings, goes on over these. When an answer leaves none, something was misread or is
  not listed: every fault is in question again, weighted by `belief` (a surprise). Before a verdict
  is told, so are those that only a misreading could have ruled out (`engine.walk.doubts`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from engine.model.plan import Ask, Plan, Planner, Recheck, State
from engine.model.records import Model
from engine.readings import belief as beliefs
from engine.walk import hearing
from engine.walk.ahead import due, is_ready, pending, possible
from engine.walk.arriving import arrive
from engine.walk.doubts import faults_in_doubt, in_question
from engine.walk.events import (
    Answered,
    Arrived,
    Away,
    CannotDo,
    Event,
    Fitted,
    Known,
    Lacking,
    Measured,
    NotFitted,
    OfKind,
    Traced,
    Unmended,
)
from engine.walk.fitting import with_kind, with_part, without_part
from engine.walk.mending import after_failure
from engine.walk.outlook import expected_model
from engine.walk.rereading import factors, worth_confirming, worth_rereading
from engine.walk.sketch import trace
from engine.walk.state import Due, Halt, Outset, Question, Setting, Step, Walk
from engine.walk.unlike import notice
from kb.trouble import Place, Trouble, TroubleError

__all__ = [
    "Due",
    "Halt",
    "Measured",
    "Outset",
    "Question",
    "Setting",
    "Step",
    "Walk",
    "begin",
    "carried_over",
    "due",
    "needing",
    "pending",
    "replay",
    "resume",
    "suspicion",
    "take",
]


def begin(outset: Outset, planner: Planner) -> Walk:
    """A walk before its first question; plans once."""
    model = outset.model
    bench = State(frozenset(model.start.opened), model.start.supply, model.start.rig)
    first = planner(
        model, belief=None, state=None, withdrawn=outset.withdrawn, tests_done=frozenset(),
        answers=(),
    )  # fmt: skip
    prior = {fault.id: fault.prior for fault in model.faults}
    walk = Walk(
        outset=outset, events=(), steps=(), bench=bench, belief=prior,
        minutes=outset.minutes_before,
        suspects=frozenset(f for f, p in prior.items() if p > 0), withdrawn=outset.withdrawn,
        done=frozenset(), plan=first, node=first.root, planner=planner,
        afresh=first.proof.expected_cost,
    )  # fmt: skip
    return walk


def take(walk: Walk, event: Event) -> Walk:
    """The walk after one more event; an event that can't be raises a `TroubleError`."""
    match event:
        case Arrived():
            after = _arrive(walk, event)
        case Away():
            after = _away(walk)
        case Answered():
            after = _answer(walk, event)
        case Known():
            after = _already_known(walk, event)
        case CannotDo():
            after = _withdraw(walk, frozenset({_test_id(walk, event.test)}), event)
        case Lacking():
            after = _withdraw(walk, needing(walk.model, event), event)
        case NotFitted():
            after = _plan_anew(without_part(walk, event.part))
        case Fitted():
            after = _plan_anew(with_part(walk, event.part))
        case OfKind():
            after = _plan_anew(with_kind(walk, event.part, event.kind))
        case Traced():
            after = _plan_anew(trace(walk, event))
        case Unmended():
            after = _after_failure(walk, event)
    if not isinstance(event, Arrived | Away):
        after = _out_of_sight(walk, after)
    if not possible(after):
        after = _plan_anew(replace(after, again=None))
    return replace(after, events=(*walk.events, event), before=walk)


def _out_of_sight(before: Walk, after: Walk) -> Walk:
    """A verdict is acted on: the unit is mended and powered where nobody tells us of it.

    So at a verdict the bench is unsettled, and whoever goes on from one begins with what is known
    of an unplugged unit: nothing."""
    if before.is_ended:
        return replace(after, unsettled=True, low=frozenset())
    return replace(after, unsettled=True) if after.is_ended else after


def _away(walk: Walk) -> Walk:
    step = Step("away", 0.0, walk.bench, walk.belief)
    return replace(walk, unsettled=True, low=frozenset(), steps=(*walk.steps, step))


def replay(outset: Outset, events: Iterable[Event], planner: Planner) -> Walk:
    """The walk that these events lead to from the outset."""
    walk = begin(outset, planner)
    for event in events:
        walk = take(walk, event)
    return walk


def resume(outset: Outset, events: Iterable[Event], planner: Planner) -> Walk:
    """The walk that was left after these events: what its unit holds by now nobody knows."""
    return take(replay(outset, events, planner), Away())


def carried_over(before: Walk, anew: Walk) -> Walk:
    """A walk told anew on another model, with what its events can't tell: a bench that was left."""
    return take(anew, Away()) if before.is_ended or before.unsettled else anew


def needing(model: Model, lack: Lacking) -> frozenset[str]:
    """The tests that need the opening, supply arrangement or rig that is lacking."""
    match lack.kind:
        case "opening":
            openings = _behind(model, lack.thing)
            return frozenset(t.id for t in model.tests if openings & set(t.opened))
        case "supply":
            return frozenset(t.id for t in model.tests if t.supply == lack.thing)
        case "rig":
            return frozenset(t.id for t in model.tests if t.rig == lack.thing)
        case _:
            raise _trouble(
                model, "WK121", f'"{lack.kind}" is nothing a bench can lack',
                "Name an opening, a supply arrangement or a rig",
            )  # fmt: skip


def _behind(model: Model, opening: str) -> set[str]:
    """The opening and all openings that can only be made after it."""
    openings = {opening}
    for _ in model.openings:
        openings |= {o.id for o in model.openings if openings & set(o.after)}
    return openings


def _arrive(walk: Walk, event: Arrived) -> Walk:
    ahead = pending(walk)
    after = arrive(walk, event)
    on_plan = isinstance(ahead, Setting) and ahead.bench == after.bench
    return after if after.is_ended or after.unreachable or on_plan else _plan_anew(after)


def _answer(walk: Walk, event: Answered) -> Walk:
    test = walk.model.test(_test_id(walk, event.test))
    if not is_ready(walk, walk.model, test.id):
        raise _trouble(
            walk.model, "WK123", f'the bench is not set up for the test "{test.id}"',
            "Carry out its setup steps first, or give the answer as already known",
        )  # fmt: skip
    if test.id in walk.done:
        return _plan_anew(_reread(walk, event, test.minutes))
    follows = _branch(walk, event)
    after = _observe(walk, event, "test", test.minutes)
    is_told = after.steps[-1].surprise or after.steps[-1].differs is not None
    if follows is not None and not is_told:
        return _repeat_in_doubt(replace(after, node=follows))
    return _plan_anew(after)


def _already_known(walk: Walk, event: Known) -> Walk:
    return _plan_anew(_observe(walk, event, "known", 0.0))


def _branch(walk: Walk, event: Answered) -> str | None:
    """The node that the plan has for this answer, if it asked for it and saw it coming."""
    node = walk.plan.nodes[walk.node]
    if not isinstance(node, Ask) or node.test != event.test or event.shares:
        return None
    if not hearing.as_planned(walk, event):
        return None
    follows = node.branches.get(event.outcome)
    if follows is None or isinstance(walk.plan.nodes[follows], Recheck):
        return None
    return follows


def _observe(walk: Walk, event: Answered | Known, kind: str, minutes: float) -> Walk:
    test = _test_id(walk, event.test)
    _check_finding(walk, event)
    effect = hearing.hear(walk, event)
    step = Step(
        kind, minutes, walk.bench, effect.belief, test=test, answer=event.outcome,
        reading=event.reading, shares=event.shares, surprise=not effect.suspects,
        factors=effect.factors, slips=effect.slips,
    )  # fmt: skip
    suspects = effect.suspects or frozenset(f for f, p in effect.belief.items() if p > 0)
    return notice(replace(
        walk, belief=effect.belief, minutes=walk.minutes + minutes, steps=(*walk.steps, step),
        suspects=suspects, done=walk.done | {test},
    ))  # fmt: skip


def _reread(walk: Walk, event: Answered, minutes: float) -> Walk:
    """A test done once more; every fault that holds something is in question after it."""
    _check_outcomes(walk, event)
    ratios = factors(walk, event)
    if not any(walk.belief[fault] * ratios.get(fault, 0.0) > 0 for fault in walk.belief):
        raise beliefs.Surprise(event.test, event.outcome)
    belief = beliefs.weigh(walk.belief, ratios)
    step = Step(
        "test", minutes, walk.bench, belief, test=event.test, answer=event.outcome,
        reading=event.reading, shares=event.shares, factors=ratios,
    )  # fmt: skip
    return notice(replace(
        walk, belief=belief, minutes=walk.minutes + minutes, steps=(*walk.steps, step),
        suspects=in_question(belief),
    ))  # fmt: skip


def _check_finding(walk: Walk, event: Answered | Known) -> None:
    _check_outcomes(walk, event)
    if event.test in walk.done:
        raise _trouble(
            walk.model, "WK125", f'the test "{event.test}" is answered already',
            "Undo back to it to change the answer",
        )  # fmt: skip


def _check_outcomes(walk: Walk, event: Answered | Known) -> None:
    outcomes = [outcome.id for outcome in walk.model.test(event.test).outcomes]
    for outcome, _ in event.evidence:
        if outcome not in outcomes:
            raise _trouble(
                walk.model, "WK124", f'the test "{event.test}" has no outcome "{outcome}"',
                "Answer one of " + ", ".join(outcomes),
            )  # fmt: skip


def _after_failure(walk: Walk, event: Unmended) -> Walk:
    remedies = {remedy.id: remedy for remedy in walk.model.remedies}
    if event.remedy not in remedies:
        raise _trouble(
            walk.model, "WK127", f'there is no remedy "{event.remedy}"',
            "Name the remedy of the verdict",
        )  # fmt: skip
    return _plan_anew(after_failure(walk, remedies[event.remedy]))


def _withdraw(walk: Walk, tests: frozenset[str], event: CannotDo | Lacking) -> Walk:
    step = Step(
        "cannot" if isinstance(event, CannotDo) else "lacking", 0.0, walk.bench, walk.belief,
        test=event.test if isinstance(event, CannotDo) else None,
        thing=event.thing if isinstance(event, Lacking) else None,
    )  # fmt: skip
    openings = walk.shut
    if isinstance(event, Lacking) and event.kind == "opening":
        openings |= _behind(walk.model, event.thing)
    after = replace(
        walk, withdrawn=walk.withdrawn | tests, steps=(*walk.steps, step), shut=frozenset(openings)
    )
    # A plan that never comes to the withdrawn tests stays the best: fewer tests can't better it.
    if walk.again in tests:
        return _repeat_in_doubt(replace(after, again=None))
    if walk.is_ended or not tests & _to_come(walk.plan, walk.node):
        return after
    return _plan_anew(after)


def _to_come(plan: Plan, root: str) -> frozenset[str]:
    """The tests that any path from here may still ask for."""
    tests: set[str] = set()
    nodes = {root}
    stack = [root]
    while stack:
        node = plan.nodes[stack.pop()]
        if isinstance(node, Ask):
            tests.add(node.test)
            fresh = set(node.branches.values()) - nodes
            nodes |= fresh
            stack.extend(fresh)
    return frozenset(tests)


def _plan_anew(walk: Walk) -> Walk:
    return _repeat_in_doubt(_replan(walk))


def _repeat_in_doubt(walk: Walk) -> Walk:
    """The walk, going on where its verdict hangs on readings that may be mistaken."""
    wider = faults_in_doubt(walk) if walk.is_ended else None
    if wider is not None:
        walk = _replan(replace(walk, suspects=wider))
    open_to_doubt = walk.done - walk.unavailable - walk.outset.told_once
    if walk.is_ended:
        repetition = worth_rereading(walk, open_to_doubt)
        return walk if repetition is None else replace(walk, again=repetition.test)
    if not walk.unsettled and not walk.unreachable and isinstance(pending(walk), Setting):
        return replace(walk, again=worth_confirming(walk, open_to_doubt))
    return walk


def _replan(walk: Walk) -> Walk:
    model = expected_model(walk)
    plan = walk.planner(
        model,
        belief=suspicion(walk),
        state=walk.dead_bench if walk.unsettled else walk.bench,
        withdrawn=walk.unavailable,
        tests_done=walk.done,
        answers=walk.answers,
    )
    last = replace(walk.steps[-1], replanned=True)
    steps = (*walk.steps[:-1], last)
    forecast = None if model is walk.model else model
    return replace(
        walk, plan=plan, node=plan.root, steps=steps, again=None, forecast=forecast
    )


def suspicion(walk: Walk) -> dict[str, float]:
    """The belief over the faults still in question, summing to 1; the rest stand at 0."""
    total = sum(walk.belief[f] for f in walk.suspects)
    return {f: p / total if f in walk.suspects else 0.0 for f, p in walk.belief.items()}


def _test_id(walk: Walk, name: str) -> str:
    if name not in {test.id for test in walk.model.tests}:
        raise _trouble(
            walk.model, "WK126", f'there is no test "{name}"',
            "The tests are " + ", ".join(test.id for test in walk.model.tests),
        )  # fmt: skip
    return name


def _trouble(model: Model, code: str, what: str, mend: str) -> TroubleError:
    return TroubleError(Trouble(code=code, place=Place(model.topology), what=what, mend=mend))
