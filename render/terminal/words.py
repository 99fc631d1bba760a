"""The records of `engine.walk.explain` and of an ending, in words; no printing here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from engine.model.records import Because, Model
from engine.walk import explain
from engine.walk.ending import WORTH_TELLING, Ending
from engine.walk.explain import Account, Ground, Prospect, Purpose, Suspect, Weight
from render.terminal.screen import minutes
from render.wording.odds import percent

Lines = Iterator[tuple[str, str]]

_MOST_NAMES = 4
LEAST_DOUBT = 0.02
"""Odds of a misreading that are worth a word."""
NOTHING_FOUND = "nothing was tested or told: this rests on how often each fault occurs, no more"
_WHATEVER = ("salvage", "scrap", "refuse")
"""Kinds of remedy that end the job whatever is at fault, so that they find nothing out."""


def stage_name(stage: str) -> str:
    """A stage's id as words."""
    return stage.replace("-", " ").replace("_", " ")


def purpose(model: Model, why: Purpose) -> Lines:
    """Why a question is asked, as label and text."""
    for prospect in why.prospects:
        yield from _prospect(model, why.test, prospect)
    setups = f" and {minutes(why.setup_minutes)} of setting up" if why.setup_minutes else ""
    yield "takes", f"{minutes(why.minutes)}{setups}."
    for second in why.runners_up:
        extra = minutes(second.extra_minutes)
        yield "instead", finding(model.test(second.test).says, f"{extra} more on the whole") + "."
    yield from requirements(model, why.test)
    if why.cannot_minutes is not None:
        yield "without it", f"{minutes(why.cannot_minutes)} more on the whole."
    yield from reasons(why.because)


def requirements(model: Model, test: str) -> Lines:
    """The parts that this test speaks for, where a remedy wants them measured or free of a short,
    and what the test itself waited for."""
    owing = dict.fromkeys(
        requirement.says or f"{requirement.of} measured"
        for remedy in model.remedies
        for requirement in remedy.requires
        if test in requirement.by and test != requirement.of
    )
    if owing:
        yield "owed", f"before anything is renewed: {_list(list(owing))}."
    before = [r.says or f"{r.of} measured" for r in model.test(test).requires]
    if before:
        yield "after", f"{_list(before)}."


def reasons(because: Iterable[Because]) -> Lines:
    """The rules behind a test, each once, with where they come from."""
    for reason in dict.fromkeys(because):
        words = _plain(reason.says) or reason.rule
        source = f" ({reason.source})" if reason.source else ""
        yield "because", f"{words}{source} [{reason.rule}]"


def account(model: Model, so_far: Account) -> Lines:
    """How the present belief came about, as label and text."""
    if not so_far.grounds:
        yield "so far", "nothing has been measured: these are the odds the unit came with."
    for ground in so_far.grounds:
        yield from _ground(model, ground)
    yield "leaves", _suspects(model, so_far.suspects)


def surety(model: Model, ending: Ending) -> str:
    """How sure the verdict is, and of what."""
    if ending.remedy.kind not in _WHATEVER:
        return f"{percent(ending.confidence)} that this cures it"
    names = [f"{_suspect(model, fault)} ({percent(p)})" for fault, p in ending.faults[:_MOST_NAMES]]
    return f"it ends the job whatever is at fault; that stays open. Likeliest: {_join(names)}"


def once_out(part: str) -> str:
    """What is owed to a part that nothing on the way has measured."""
    return f"Measure {part} once it is out, before a new one goes in: nothing here has measured it."


def others(model: Model, ending: Ending) -> Iterator[str]:
    """What the fault could be besides what the remedy cures, and how likely."""
    for fault, p in ending.faults:
        if fault not in ending.remedy.cures and p >= WORTH_TELLING:
            yield f"{within(model.fault(fault).says)} ({percent(p)})"


def finer(model: Model, ending: Ending) -> str:
    """Whether asking on is worth its minutes, in one sentence."""
    if ending.finer is None:
        return "No test left would change what to do."
    test, best = within(model.test(ending.finer.test).says), ending.finer
    saving = f"It would take {minutes(best.minutes)} and save {minutes(best.saves)} on average"
    if best.worth_it:
        return f"The next check would be: {_sentence(test)} {saving}."
    return f"A finer answer is not worth its minutes. Best left: {_sentence(test)} {saving}."


def again(model: Model, ending: Ending) -> str:
    """The test to do once more before the remedy, in one sentence; empty where none pays."""
    if ending.again is None:
        return ""
    test = within(model.test(ending.again.test).says)
    return (
        f"before the remedy, do this check again, lest it was misread: {_sentence(test)} It takes "
        f"{minutes(ending.again.minutes)} and saves {minutes(ending.again.saves)} more than that, "
        "on average; if it tells otherwise, undo back to it."
    )


def _sentence(sentence: str) -> str:
    """With a full stop, unless it ends as a sentence already."""
    return sentence if sentence.endswith(("?", ".", "!")) else f"{sentence}."


def doubt(model: Model, ending: Ending) -> str:
    """The answer to look at again if the remedy should not help; empty if none is doubtful."""
    if not ending.doubts or ending.doubts[0].odds < LEAST_DOUBT:
        return ""
    first = ending.doubts[0]
    outcome = within(model.test(first.test).outcome(first.answer).says)
    return (
        f"step {first.step}, {finding(model.test(first.test).says, outcome)} "
        f"({percent(first.odds)} that it was misread)."
    )


def _ground(model: Model, ground: Ground) -> Lines:
    test = model.test(ground.test)
    read = f", read {ground.reading}" if ground.reading else ""
    yield (
        f"step {ground.step}",
        f"{_plain(test.says)}: {_outcome(model, test.id, ground.answer)}{read}",
    )
    if ground.rig != model.start.rig:
        yield "rigged", within(model.rig(ground.rig).says) or stage_name(ground.rig)
    if ground.cleared:
        yield "cleared", f"{_weights(model, ground.cleared)} ({_ratio(ground.cleared[0].ratio)})"
    if ground.pointed:
        yield "points at", f"{_weights(model, ground.pointed)} ({_ratio(ground.pointed[0].ratio)})"
    if not ground.cleared and not ground.pointed:
        yield "moved", "little: it is nearly as likely under one suspect as under another."
    yield from reasons(ground.because)
    if ground.told_before:
        yield "because", "as above: " + ", ".join(ground.told_before)


def _prospect(model: Model, test: str, prospect: Prospect) -> Lines:
    outcome = _outcome(model, test, prospect.outcome)
    if prospect.odds <= 0:
        yield "tells", f"{outcome}: nothing still in question shows this."
        return
    yield "tells", f"{outcome}: {percent(prospect.odds)} likely."
    yield "  leaves", _suspects(model, prospect.left)
    if prospect.drops:
        yield "  clears", _clears(model, prospect)


def _clears(model: Model, prospect: Prospect) -> str:
    """Who drops out: by name if few, else stage by stage with how many of each."""
    if len(prospect.drops) <= _MOST_NAMES:
        return _join([_suspect(model, s.fault) for s in prospect.drops])
    parts = []
    drops = Counter(s.stage for s in prospect.drops)
    left = Counter(s.stage for s in prospect.left)
    for stage, count in drops.items():
        share = "all" if not left[stage] else f"{count} of {count + left[stage]}"
        where = stage_name(stage) if _listed_stage(model, stage) else "no stage"
        parts.append(f"{share} in {where}")
    return _join(parts)


def _suspects(model: Model, suspects: Sequence[Suspect]) -> str:
    names = [f"{_suspect(model, s.fault)} ({percent(s.p)})" for s in suspects[:_MOST_NAMES]]
    rest = suspects[_MOST_NAMES:]
    if rest:
        names.append(f"{len(rest)} more ({percent(sum(s.p for s in rest))})")
    return _join(names)


def _weights(model: Model, weights: Sequence[Weight]) -> str:
    return _list(
        [
            _whole_stage(model, w.suspect) if w.stage else _suspect(model, w.suspect)
            for w in weights
        ]
    )


def _listed_stage(model: Model, stage: str) -> bool:
    return not model.stages or any(note.id == stage for note in model.stages)


def _whole_stage(model: Model, stage: str) -> str:
    """All faults of a stage; the unlisted lie in none of those that the model lists."""
    if not _listed_stage(model, stage):
        return "all that lies in no stage"
    return f"all in “{explain.stage_said(model, stage)}”"


def _suspect(model: Model, name: str) -> str:
    return within(explain.suspect_words(model, name))


def _ratio(ratio: float) -> str:
    """A likelihood ratio as words."""
    if ratio >= 1:
        return "nothing else shows it" if ratio == float("inf") else f"{ratio:.3g} times likelier"
    return "it can't show this" if ratio <= 0 else f"{1 / ratio:.3g} times less likely"


def _outcome(model: Model, test: str, outcome: str) -> str:
    return _plain(model.test(test).outcome(outcome).says)


def _list(names: Sequence[str]) -> str:
    if len(names) <= _MOST_NAMES + 1:
        return _join(names)
    return _join([*names[:_MOST_NAMES], f"{len(names) - _MOST_NAMES} more"])


def _join(names: Sequence[str]) -> str:
    return "; ".join(names) or "nothing"


def _plain(text: str) -> str:
    return " ".join(text.split()).rstrip(".")


def within(text: str) -> str:
    """A sentence's words for use inside another: no capital but where the word has its own."""
    plain = _plain(text)
    plain = plain.replace("; ", ", ")
    return plain[:1].lower() + plain[1:] if plain[1:2].islower() or plain[1:2] == " " else plain


def finding(question: str, answer: str) -> str:
    """A test and what it showed, as one line."""
    plain = _plain(question)
    return f"{plain} {_plain(answer)}" if plain.endswith("?") else f"{plain}: {_plain(answer)}"
