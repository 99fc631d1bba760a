"""What stands on a page of a case: records and words made ready for its template.

The words are those of the terminal and of paper (`render.terminal`, `render.wording`); here they
are put where a hand at a bench looks for them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from engine.assembly.seeing import SEEN
from engine.cases.records import Case
from engine.model import tracing
from engine.model.records import Caution, Model, Outcome, Test
from engine.readings.bands import band_words
from engine.walk import explain, job, prospects, warned
from engine.walk.alternatives import cost_of_cannot, runners_up
from engine.walk.ending import conclude
from engine.walk.entry import remedy_for
from engine.walk.inquiry import good_tests, worth_asking
from engine.walk.job import Halt, Question, Setting, Walk
from engine.walk.prospects import Prices
from render.cli import casebook, turnout
from render.station import turns
from render.station.seats import Archive, Check, Place, Seat
from render.station.turns import Form
from render.terminal import docket, known, makesafe, purse, session, verdict, words
from render.terminal.replies import LETTERS
from render.terminal.screen import minutes
from render.wording import bands, onward, worthwords
from render.wording.odds import percent

Content = dict[str, Any]
Lines = Iterable[tuple[str, str]]
_PATIENCE = 0.6
"""Seconds that a person who asks why will wait for the other ways to be priced."""
_FEW = 6
"""Faults that the closing form shows at once; the others stand behind a word."""


@dataclass(frozen=True, slots=True)
class Choice:
    """An answer to tap: its key, its words, and its band or meaning."""

    key: str
    says: str
    aside: str = ""


@dataclass(frozen=True, slots=True)
class Stop:
    """A stage of the unit on the way of its current; `here` where the test is done."""

    says: str
    points: tuple[tuple[str, bool], ...]
    here: bool


def of(place: Place) -> tuple[str, Content]:
    """The template of a case as it stands, and what goes into it."""
    match place:
        case Check():
            return ("entry", _entry(place)) if place.question else ("refusal", _refusal(place))
        case Archive():
            return "archive", {"lines": list(casebook.entries(place.case))}
        case Seat():
            return _step(place)


def _step(seat: Seat) -> tuple[str, Content]:
    walk = seat.walk
    if (topology := seat.turning_out(walk)) is not None:
        return "turned_out", _turned_out(seat, topology)
    match job.pending(walk):
        case Setting() as setting:
            return "setup", _setup(walk, setting)
        case Question() as question:
            return "question", _question(walk, walk.model.test(question.test))
        case Halt() as halt:
            stores = [makesafe.volts_at(store) for store in halt.stores]
            return "halt", {**_common(walk), "stores": stores, "says": session.LEFT_ALONE,
                            "label": session.LABEL_CHARGED}  # fmt: skip
        case None:
            return "verdict", _verdict(seat)


def _entry(check: Check) -> Content:
    assert check.question is not None
    question = check.question
    return {
        "question": question, "choices": lettered(question.answers),
        "place": f"{check.place} of {check.count}",
        "can_undo": bool(check.case.standing.entry),
    }  # fmt: skip


def _refusal(check: Check) -> Content:
    remedy = remedy_for(check.model, check.admission)
    by = check.admission.decided_by
    return {
        "decision": "refused" if check.admission.decision == "refuse" else "scrap",
        "says": remedy.says if remedy else "Not for this bench. Nothing was opened or energised.",
        "because": (by.why or by.asks) if by else "", "how": remedy.how if remedy else "",
        "can_undo": True,
    }  # fmt: skip


def _common(walk: Walk) -> Content:
    """What stands on every page of a walk: the bench, the minutes, what was told last."""
    mark = docket.bench_mark(walk)
    return {
        # Whoever comes back to a bench does not know how it stands, and nor do we.
        "mark": None if walk.unsettled else mark, "pattern": mark.pattern.value,
        "bench": docket.bench_words(walk).partition(": ")[2],
        "minutes": minutes(walk.minutes), "last": _last(walk), "count": len(walk.steps) + 1,
        "can_undo": any(step.kind not in ("setup", "away") for step in walk.steps),
        "notice": _notice(walk),
    }  # fmt: skip


def _last(walk: Walk) -> str:
    steps = [step for step in walk.steps if step.kind != "away"]
    return docket.past(walk.model, steps[-1]) if steps else ""


def _notice(walk: Walk) -> str:
    """What the last answer brought out that is out of the ordinary."""
    if not walk.steps or walk.before is None:
        return ""
    if walk.steps[-1].surprise:
        return session.LOOK_AGAIN
    return docket.unlike(walk.before, walk) if walk.steps[-1].differs is not None else ""


def _setup(walk: Walk, setting: Setting) -> Content:
    lines = list(docket.setting_lines(walk, setting))
    after = docket.bench_mark(walk, setting.bench)
    return {
        **_common(walk),
        "back": session.BACK if setting.returns else "",
        "purpose": "" if setting.returns else (
            walk.model.test(setting.test).says if setting.test else docket.TOWARDS_A_STORE
        ),
        "lines": lines, "guarded": turns.is_guarded(walk, setting),
        "after": after if after != docket.bench_mark(walk) else None,
        "after_pattern": after.pattern.value,
        "cautions": _cautions(walk.model, warned.at_setup(walk, setting)),
        "stores": [makesafe.volts_at(store) for store in setting.make_safe],
        "takes": minutes(setting.minutes), "can_refuse": bool(turns.choices_of_cannot(walk)),
    }  # fmt: skip


def _question(walk: Walk, test: Test) -> Content:
    is_dead = walk.bench.supply == walk.model.dead_supply
    ask = worth_asking(walk, test)
    return {
        **_common(walk), "test": test, "choices": answers_of(test), "typed": is_read(test),
        "once_more": docket.told_before(walk, test),
        # Where something is energised, how it is done is part of doing it safely.
        "how_first": "" if is_dead else test.how, "how_behind": test.how if is_dead else "",
        "compare": bands.COMPARE if test.compare else "",
        "cautions": _cautions(walk.model, warned.at_test(walk, test.id)),
        "look_first": known.look_first(walk.model, ask) if ask else "",
        "way": way(walk.model, test), "can_refuse": True,
        # Of a unit that nobody has opened, don't know is an answer like the others.
        "can_pass": test.id.startswith(SEEN),
    }  # fmt: skip


def _turned_out(seat: Seat, topology: str) -> Content:
    """What a unit that nobody had opened turned out to be."""
    return {
        **_common(seat.walk), "topology": words.stage_name(topology),
        "description": turnout.description(topology, seat.brief.kb),
        "sure": turnout.sure(seat.walk, topology), "from_here": turnout.FROM_HERE,
    }  # fmt: skip


def is_read(test: Test) -> bool:
    """Whether a test can be answered by what a meter reads."""
    return any(outcome.unit for outcome in test.outcomes)


def answers_of(test: Test) -> list[Choice]:
    """The answers of a test with their letters and bands, as at the terminal."""
    return [
        Choice(letter, outcome.says, _aside(outcome))
        for letter, outcome in zip(LETTERS, test.outcomes, strict=False)
    ]


def _aside(outcome: Outcome) -> str:
    band = band_words(outcome)
    return "" if band in outcome.says else band


def lettered(texts: Iterable[str]) -> list[Choice]:
    """Choices with the letters of the terminal."""
    return [Choice(letter, text) for letter, text in zip(LETTERS, texts, strict=False)]


def way(model: Model, test: Test) -> list[Stop]:
    """The unit's stages in order, with the test's point or part marked; empty where it has none."""
    names = set(re.findall(r"\w+", test.point))
    stops = []
    for stage in model.stages:
        points = tuple((point, point in names) for point in stage.points)
        here = test.on == stage.id or test.on in stage.parts or any(is_it for _, is_it in points)
        stops.append(Stop(stage.says, points, here))
    return stops if any(stop.here for stop in stops) else []


def _verdict(seat: Seat) -> Content:
    walk = seat.walk
    model, ending = walk.model, conclude(walk)
    going_on = seat.onward(walk)
    return {
        **_common(walk), "remedy": ending.remedy, "sure": verdict.sure(walk, ending),
        "kind": docket.KINDS.get(ending.remedy.kind, ending.remedy.kind),
        "basis": "" if walk.is_tested else words.NOTHING_FOUND,
        "go_on": onward.advice(going_on.plain) if going_on else "",
        "first": verdict.before_hands(walk, ending),
        "stores": [makesafe.volts_at(store) for store in turns.stores_of_repair(seat)],
        "cautions": _cautions(model, ending.remedy.cautions),
        "others": list(words.others(model, ending)), "doubt": words.doubt(model, ending),
        "again": words.again(model, ending), "companions": ending.companions,
        "finer": words.finer(model, ending),
        "proofs": [(proof, _cautions(model, proof.cautions)) for proof in ending.proofs],
    }  # fmt: skip


def _cautions(model: Model, ids: Iterable[str]) -> list[Caution]:
    return docket.named_cautions(model, ids)


# ---- what is looked up beside a step ----


def why(walk: Walk) -> Lines:
    """Why the test that is due is asked."""
    purpose = explain.why(walk, runners_up(walk, _PATIENCE), cost_of_cannot(walk, _PATIENCE / 2))
    if purpose is None:
        return [("", "There is no question left: this is the verdict.")]
    return words.purpose(walk.model, purpose)


def how(walk: Walk) -> Lines:
    """How the present belief came about."""
    return words.account(walk.model, explain.how(walk))


def more(walk: Walk) -> Lines:
    """All there is to the step that is due, and where the fault may be."""
    for stage, odds in docket.stage_odds(walk):
        yield "fault in", f"{stage}: {percent(odds)}"
    match job.pending(walk):
        case Question() as question:
            test = walk.model.test(question.test)
            pairs = (("with", test.instrument), ("at", test.point), ("how", test.how),
                     ("good unit", test.good), ("bench", docket.bench_words(walk)))  # fmt: skip
            yield from ((label, text) for label, text in pairs if text)
            for caution in _cautions(walk.model, test.cautions):
                yield caution.signal, caution.says
        case Setting() as setting:
            yield from docket.setting_lines(walk, setting)
            ids = warned.of_setup(walk.model, walk.bench, setting.bench)
            for caution in _cautions(walk.model, ids):
                yield caution.signal, caution.says
        case _:
            return


def worth(seat: Seat, query: Form) -> Content:
    """Whether it is worth going on, by what is told of the worth of things; kept nowhere."""
    usual = purse.of_shop(seat.brief.kb, seat.walk.model.topology).prices
    fields = {
        "unit": query.one("unit") or _figure(usual.unit),
        "minute": query.one("minute") or _figure(usual.minute),
        "parts": query.one("parts"), "named": query.one("named"),
        "currency": (query.one("currency") or usual.currency)[:12],
    }  # fmt: skip
    amiss = {
        name: "Write a plain number, such as 12.50." for name in ("unit", "minute", "parts")
        if fields[name] and worthwords.amount(fields[name]) is None
    }  # fmt: skip
    names = [name for name in ("unit", "minute", "parts") if fields[name] and name not in amiss]
    figures = " ".join(f"{name}={fields[name]}" for name in names)
    prices = worthwords.read(figures, Prices(currency=fields["currency"])) or Prices()
    more = worthwords.read(fields["named"], prices)
    if more is None:
        amiss["named"] = "Write each as its name and its price, such as U1=2.50."
    prices = more or prices
    return {
        **_common(seat.walk), "prices": fields, "amiss": amiss,
        "lines": list(worthwords.lines(prospects.of_walk(seat.walk, prices), prices)),
    }  # fmt: skip


def _figure(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def leaving(walk: Walk) -> Content:
    """What to do to the bench before it is left."""
    model = walk.model
    here, dead = model.arrangement(walk.bench.supply), model.arrangement(model.dead_supply)
    is_dead = here.energy == dead.energy
    says = here.says.rstrip(".") or words.stage_name(here.id)
    return {
        **_common(walk),
        "says": "The unit should be unplugged now. Leave it so." if is_dead
        else f"Switch off and unplug now: the bench stands at {says}.",
        "how": "" if is_dead else dead.how,
        "stores": [] if is_dead else [docket.store_words(store) for store in model.stores],
    }  # fmt: skip


def knowing(walk: Walk, name: str, search: str) -> Content:
    """What may be known already: tests not answered, one of them picked; the unit itself."""
    tests = turns.open_tests(walk)
    pick = next((test for test in tests if test.id == name), None)
    asked_for = search.casefold().split()
    hits = [
        test for test in tests
        if all(w in f"{test.id} {test.says} {test.point} {test.on}".casefold() for w in asked_for)
    ]  # fmt: skip
    node = job.due(walk)
    good = good_tests(walk, walk.model.test(node.test)) if node else ()
    return {
        **_common(walk), "pick": pick, "tests": hits, "search": search,
        "choices": answers_of(pick) if pick else [], "typed": bool(pick and is_read(pick)),
        "good": [(test, f"{test}={_example(walk.model.test(test))}") for test in good],
        "stages": [(stage, words.stage_name(stage)) for stage in tracing.stages(walk.model)],
    }  # fmt: skip


def _example(test: Test) -> str:
    unit = next((outcome.unit for outcome in test.outcomes if outcome.unit), "V")
    return f"4.6{unit}"


def closing(place: Place) -> Content:
    """What the closing form offers: faults by how likely they are, proofs that are owed."""
    if isinstance(place, Seat):
        model, walk = place.walk.model, place.walk
        odds: Mapping[str, float] = walk.belief
        proofs = conclude(walk).proofs if walk.is_ended else ()
    else:
        assert isinstance(place, Check)
        model, proofs = place.model, ()
        odds = {fault.id: fault.prior for fault in model.faults}
    ranking = sorted(model.faults, key=lambda fault: -odds.get(fault.id, 0.0))
    faults = [(fault.id, fault.says) for fault in ranking]
    return {"likely": faults[:_FEW], "rest": sorted(faults[_FEW:]), "proofs": proofs}


def heading(case: Case) -> str:
    """What a case is called on its pages."""
    return case.intake.unit or words.stage_name(case.intake.topology)
