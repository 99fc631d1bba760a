"""The entries of the docket: a setup step, the bench, a past step, the verdict, the leaving."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence

from engine.model.complaints import in_words
from engine.model.plan import State
from engine.model.records import (
    SUMS,
    Arrangement,
    Caution,
    Model,
    Proof,
    Rig,
    Store,
    Test,
    record_of,
)
from engine.model.setup import in_order
from engine.readings.bands import band_words
from engine.walk import explain
from engine.walk.ending import conclude
from engine.walk.goingon import GoingOn
from engine.walk.job import Setting, Step, Walk
from render.drawing.bench_marks import DEAD, LIVE, LIVE_CLOSED, SHUT, BenchMark, mark
from render.terminal import setups, words
from render.terminal.replies import LETTERS
from render.terminal.screen import Screen, minutes
from render.terminal.setups import Met, SetUps
from render.wording import bands, leads, onward
from render.wording.turn import Turn
from render.wording.unrigging import removal


def show_opening(screen: Screen, walk: Walk, origin: str = "") -> None:
    """What this walk is about, where its model comes from if nobody knows, and what may be typed
    at any time."""
    model = walk.model
    mains = f"{model.mains.volts:g} V {model.mains.hertz:g} Hz"
    screen.heading(model.topology, f"{mains}, to the {model.depth}")
    screen.line("unit", model.says)
    screen.line("origin", origin)
    screen.line("complaint", in_words(model.complaint))
    suspects = explain.rank_suspects(model, walk.belief)
    expects = minutes(walk.plan.proof.expected_minutes)
    screen.line("suspects", f"{len(suspects)}, about {expects} to go")
    screen.line("any time", "help; answers are saved")


def show_record(screen: Screen, walk: Walk) -> None:
    """Every step of the walk, one line each."""
    screen.heading(f"{walk.model.topology}", f"{minutes(walk.minutes)} in all")
    for number, step in enumerate(walk.steps, start=1):
        screen.line(f"{number} {step.kind}", past(walk.model, step))


def past(model: Model, step: Step) -> str:
    """One step that was taken, in a line."""
    took = f" ({minutes(step.minutes)})" if step.minutes else ""
    match step.kind:
        case "setup":
            accesses = leads.accesses(_opening(model, name) for name in step.opened)
            openings = "".join(f"{access.says}; " for access in accesses)
            rig = (
                "" if step.bench.rig == model.start.rig else f"; {_says(model.rig(step.bench.rig))}"
            )
            return f"{openings}{_says(model.arrangement(step.bench.supply))}{rig}{took}"
        case "lacking":
            return f"{step.thing} can't be had"
        case "not-fitted":
            return f"{step.thing} is not there"
        case "fitted":
            return f"{step.thing} is there"
        case "of-kind":
            return f"{step.thing}: {words.stage_name(step.answer or '')}"
        case "traced":
            return f"{step.thing}: there is a drawing of it"
        case "repair":
            return f"{model.remedy(step.thing or '').says.rstrip('.')}: did not help{took}"
        case "cannot":
            return f"{model.test(step.test or '').says.rstrip('.')}: can't be done"
        case _:
            test = model.test(step.test or "")
            read = f", read {step.reading}" if step.reading else ""
            outcome = test.outcome(step.answer or "").says
            return f"{words.finding(test.says, outcome)}{read}{took}"


def unlike(before: Walk, walk: Walk) -> str:
    """That the unit differs from those that are known, where that has just come out; else empty."""
    if before.differs or not walk.differs:
        return ""
    return (
        "Your unit differs from those I know here, likelier than not. What its points read counts "
        "for less from here on; a bridge, a feed, the light, a part swapped or a good lamp beside "
        "it tells more."
    )


def told_before(walk: Walk, test: Test) -> str:
    """Why a test is asked again, with what it told before; empty for one not yet done."""
    steps = takes(walk, test)
    if not steps:
        return ""
    answers = "; then ".join(step.reading or test.outcome(step.answer or "").says for step in steps)
    return f"was “{answers}”: {HINGE}"


HINGE = "the verdict hangs on it"


def takes(walk: Walk, test: Test) -> tuple[Step, ...]:
    """The steps that answered a test."""
    return tuple(step for step in walk.steps if step.test == test.id and step.answer)


def show_question(screen: Screen, walk: Walk, test: Test) -> None:
    """A check: question, where, what a good unit shows. Done once more, what was told then stands
    for how and for the good unit; why it is done again is told once."""
    screen.main(test.says)
    before = takes(walk, test)
    screen.line("once more", _reason_again(walk, test))
    screen.line("at", "" if test.point in test.says else test.point)
    if not before:
        screen.line("how", _how_of(walk, test))
        screen.line("good", "" if _good_choice(walk.model, test) else test.good)
        screen.line("compare", bands.COMPARE if test.compare else "")


def _reason_again(walk: Walk, test: Test) -> str:
    """What was told before, where the choices don't say it, and why again, the first time."""
    if _past_choice(walk, test) is None:
        return told_before(walk, test)
    tests = [step.test for step in walk.steps if step.kind == "test"]
    return "" if len(tests) > len(set(tests)) else HINGE


def _past_choice(walk: Walk, test: Test) -> str | None:
    """The one answer that was given before without a reading, if that is all that was told."""
    steps = takes(walk, test)
    return steps[0].answer if len(steps) == 1 and not steps[0].reading else None


def _good_choice(model: Model, test: Test) -> str:
    """The answer that stands for what a good unit shows, where saying that takes no more words:
    of a test without bands, told in one phrase. Empty where there is none."""
    if ";" in test.good or any(outcome.unit for outcome in test.outcomes):
        return ""
    return explain.sound_answer(model, test)


def purpose(model: Model, ahead: SetUps) -> str:
    """What is opened or fitted for, shorter than the question; empty where nothing is."""
    walk, last = ahead.steps[0][0], ahead.last
    is_fitted = last.bench.rig not in (walk.bench.rig, model.start.rig)
    if not is_fitted and not any(setting.opened for _, setting in ahead.steps):
        return ""
    if not last.test:
        return TOWARDS_A_STORE
    test = model.test(last.test)
    is_read = bool(test.point) and any(outcome.unit for outcome in test.outcomes)
    if is_read:
        return f"reading {test.point}"
    return test.says if is_fitted or test.on not in test.says else test.on or test.says


TOWARDS_A_STORE = "bringing a store of charge within reach, so that it can be measured"


def show_bench(screen: Screen, walk: Walk) -> None:
    """The hazard state, by the bench's mark; what it means was told where it began."""
    screen.line("bench", bench_mark(walk).word, style="bold")


def _how_of(walk: Walk, test: Test) -> str:
    """Where an open unit is energised, how a check is done is part of doing it safely; on a bench
    source its beginning; else all of it is behind `more`."""
    stands = bench_mark(walk)
    if stands in (SHUT, DEAD, LIVE_CLOSED):
        return ""
    how = test.how.partition(SUMS)[0]
    short = how if stands == LIVE else _first_sentence(how)
    return short if short == test.how else f"{short.rstrip('.')} …"


def show_test(screen: Screen, walk: Walk, test: Test) -> None:
    """All there is to a question: where the fault may be, with what, how, and every caution."""
    screen.blocks(stage_odds(walk))
    screen.blank()
    screen.main(test.says)
    screen.line("with", test.instrument)
    screen.line("at", test.point)
    screen.line("how", test.how)
    screen.line("good unit", test.good)
    screen.line("bench", bench_words(walk))
    screen.cautions(named_cautions(walk.model, test.cautions))


def show_leaving(screen: Screen, walk: Walk) -> None:
    """What to do to the bench before leaving it, by how it stands."""
    here = walk.model.arrangement(walk.bench.supply)
    if here.energy == "none":
        screen.main("The unit should be unplugged now. Leave it so.")
        return
    screen.main(f"Switch off and unplug now: the bench stands at {_says(here)}.")
    dead = walk.model.arrangement(walk.model.dead_supply)
    screen.line("how", dead.how)
    for store in walk.model.stores:
        screen.line("measure", store_words(store))


def show_verdict(screen: Screen, walk: Walk, going_on: GoingOn | None = None) -> None:
    """The verdict with what it rests on, what else it could be, and the proof after the repair;
    `going_on` is what going on to the part would take, where it is no end."""
    model, ending = walk.model, conclude(walk)
    screen.heading("verdict", f"{minutes(walk.minutes)} in all")
    for part in ending.unmeasured:
        screen.line("first", words.once_out(part), style="bold")
    screen.main(ending.remedy.says)
    screen.line("kind", KINDS.get(ending.remedy.kind, ending.remedy.kind))
    screen.line("sure", words.surety(model, ending))
    screen.line("found", "" if walk.is_tested else words.NOTHING_FOUND)
    if going_on is not None:
        screen.line("likeliest", onward.likeliest(going_on.plain))
        screen.line("to the part", onward.advice(going_on.plain))
    if bench_mark(walk) not in (SHUT, DEAD):
        screen.line("first", "switch off, unplug")
    for store in ending.make_safe:
        screen.line("measure", f"first {store_words(store)}")
    for store, opening in ending.opening_up:
        where = words.stage_name(opening)
        screen.line("measure", f"as you open {where}: {store_words(store)}")
    screen.line("how", ending.remedy.how)
    screen.cautions(named_cautions(model, ending.remedy.cautions))
    for says in words.others(model, ending):
        screen.line("or else", says)
    screen.line("doubt", words.doubt(model, ending))
    screen.line("once more", words.again(model, ending))
    for companion in ending.companions:
        screen.line("check too", companion)
    screen.line("enough?", words.finer(model, ending))
    show_proofs(screen, model, ending.proofs)


def show_proofs(screen: Screen, model: Model, proofs: Sequence[Proof]) -> None:
    """What proves a repair: each with its limit, source, way and cautions."""
    for number, proof in enumerate(proofs, start=1):
        limit = f" Limit: {proof.limit}" if proof.limit else ""
        source = f" ({proof.source})" if proof.source else ""
        screen.line(f"proof {number}", f"{proof.says.rstrip('.')}.{limit}{source}")
        screen.line("", proof.how)
        screen.cautions(named_cautions(model, proof.cautions))


KINDS = {
    "repair": "repair",
    "outside": "not in the unit: put right what is outside it",
    "none": "nothing to mend",
    "downgrade": "downgrade: only with the owner's consent, and labelled",
    "salvage": "salvage: the unit ends here, some parts may serve again",
    "scrap": "scrap: not returned",
    "refuse": "refused: not for this bench, not returned as safe",
    "connector": "no end: go on there",
}


def bench_words(walk: Walk) -> str:
    """How the bench stands: its mark, then supply, rig, what is open."""
    model, bench = walk.model, walk.bench
    arrangement, rig = model.arrangement(bench.supply), model.rig(bench.rig)
    parts = [_says(arrangement)]
    if rig.id != model.start.rig:
        parts.append(_says(rig))
    if bench.opened:
        parts.append(leads.bench(_opening(model, o) for o in in_order(model, bench.opened)))
    return f"{bench_mark(walk).word}: " + "; ".join(part.rstrip(".") for part in parts)


def bench_mark(walk: Walk, bench: State | None = None) -> BenchMark:
    """The bench's mark as the walk stands, or as it would stand with that bench."""
    model, here = walk.model, bench or walk.bench
    arrangement = model.arrangement(here.supply)
    return mark(
        arrangement.energy,
        closed_only=arrangement.closed_only,
        inside=any(model.opening(name).inside for name in here.opened),
    )


def store_words(store: Store) -> str:
    """What is to be measured at a store of charge, and its limit."""
    part = "" if store.part in store.point else f"{store.part} at "
    return f"{part}{store.point}: below {store.below:g} V"


def show_choices(screen: Screen, walk: Walk, test: Test) -> None:
    """The answers of a test with their letters and bands; which a good unit gives, or which was
    given before."""
    good, past = _good_choice(walk.model, test), _past_choice(walk, test)
    for letter, outcome in zip(LETTERS, test.outcomes, strict=False):
        band = GOOD if outcome.id == good and past is None else band_words(outcome)
        band = AS_BEFORE if outcome.id == past else band
        screen.choice(letter, outcome.says, "" if band in outcome.says else band)


def receipt(walk: Walk, test: Test, outcome: str, words: str) -> str:
    """That an answer was heard, by what it was taken for."""
    return "As before." if outcome == _past_choice(walk, test) else f"Noted: {words}."


def show_choices_again(screen: Screen, walk: Walk, test: Test) -> None:
    """Of a long list that stood on the screen a few steps ago, the answer given then; else all."""
    past = _past_choice(walk, test)
    if past is None or len(test.outcomes) <= MOST_LISTED_AGAIN:
        show_choices(screen, walk, test)
        return
    step = walk.steps.index(takes(walk, test)[0]) + 1
    ids = [outcome.id for outcome in test.outcomes]
    screen.choice(LETTERS[ids.index(past)], test.outcome(past).says, AS_BEFORE)
    screen.choice("else", f"as at step {step}; see more")


GOOD, AS_BEFORE = "good", "as before"
MOST_LISTED_AGAIN = 4


def stage_odds(walk: Walk) -> list[tuple[str, float]]:
    """The unit's stages in order with the odds that the fault sits there."""
    ids = {note.id for note in walk.model.stages}
    stages = explain.by_stage(walk.model, walk.belief).items()
    return [(words.stage_name(s) if s in ids or not ids else "other", p) for s, p in stages]


def show_set_ups(screen: Screen, ahead: SetUps) -> None:
    """What the hands do, numbered over all of these set-ups, the state after it and the minutes.

    How a supply or a rig is set up is told where it is first used; later its first sentence."""
    walk = ahead.steps[0][0]
    met = setups.met(walk)
    lines = [line for now, setting in ahead.steps for line in setting_lines(now, setting, met)]
    for number, (label, text) in enumerate(lines, start=1):
        screen.line(f"{number} {label}" if len(lines) > 1 else label, text, style="bold")
    after = bench_mark(walk, ahead.last.bench)
    if after != bench_mark(walk):
        is_met = after in [bench_mark(walk, bench) for bench in met.benches]
        is_plain = is_met or after == LIVE_CLOSED  # its supply and its caution say all of it
        screen.line("bench", f"then {after.word}" + ("" if is_plain else f": {after.says}"))
    screen.line("takes", minutes(ahead.minutes) if ahead.minutes >= 1 else "")


def show_setting(screen: Screen, walk: Walk, setting: Setting) -> None:
    """All there is to a set-up step."""
    lines = list(setting_lines(walk, setting))
    for number, (label, text) in enumerate(lines, start=1):
        screen.line(f"{number} {label}" if len(lines) > 1 else label, text, style="bold")
    after = bench_mark(walk, setting.bench)
    screen.line("bench", f"then {after.word}: {after.says}")
    screen.line("takes", minutes(setting.minutes))


def setting_lines(
    walk: Walk, setting: Setting, met: Met | None = None
) -> Iterable[tuple[str, str]]:
    """What to do for a setup step, in the order in which hands do it. With `met`, told shortly:
    without sums, and what was told of supplies and rigs by its first sentence, or not at all of
    plain mains, whose caution says it each time."""
    model, bench, after = walk.model, walk.bench, setting.bench
    fresh = in_order(model, after.opened - bench.opened)
    turn = Turn.between(
        [_opening(model, name) for name in fresh], (bench,), after, bare=model.start.rig,
        dead=after.supply == model.dead_supply,
    )  # fmt: skip
    arrangement = model.arrangement(after.supply)
    how = arrangement.how if met is None else arrangement.how.partition(SUMS)[0]
    if met is not None and after.supply in met.supplies:
        how = "" if arrangement.closed_only else _first_sentence(how)
    elif met is not None and (arrangement.closed_only or after.supply == model.dead_supply):
        how = _first_sentence(how)  # taking it down and measuring are asked for when they are due
    supply = ("supply", _with_how(arrangement.says or arrangement.id, how))
    return itertools.chain(
        *turn.in_order(
            supply=[supply] if turn.supply else [],
            opening=[(a.label, _with_how(a.says, a.how)) for a in turn.accesses],
            rigging=[*_rigging(model, turn, after.rig, met)],
        )
    )


def _first_sentence(text: str) -> str:
    head, stop, _ = text.partition(". ")
    return head + stop.rstrip()


def _rigging(
    model: Model, turn: Turn, name: str, met: Met | None
) -> Iterable[tuple[str, str]]:
    """What comes off, then what is fitted; how, where it was not worn before."""
    for old in turn.off:
        yield "first", removal(_rig_words(model, old), _rig_words(model, name))
    if turn.fit:
        rig = model.rig(turn.fit)
        is_met = met is not None and rig.id in met.rigs
        how = _first_sentence(rig.how) if is_met else rig.how
        yield "rig", _with_how(rig.says or rig.id, how)


def _opening(model: Model, name: str) -> dict[str, str]:
    one = model.opening(name)
    return {"id": one.id, "says": one.says, "how": one.how, "kind": one.kind, "of": one.of,
            "stage": one.stage}  # fmt: skip


def _rig_words(model: Model, name: str) -> dict[str, str]:
    rig = model.rig(name)
    return {"id": rig.id, "says": rig.says, "off": rig.off}


def _with_how(says: str, how: str) -> str:
    return f"{says.rstrip('.')}. {how}" if how and how != says else says


def named_cautions(model: Model, ids: Iterable[str]) -> list[Caution]:
    """The cautions of those ids, each once."""
    return [record_of(model.cautions, caution) for caution in dict.fromkeys(ids)]


def _says(thing: Arrangement | Rig) -> str:
    """What a supply arrangement or a rig is called, its id as words if it has no other."""
    return thing.says.rstrip(".") or words.stage_name(thing.id)
