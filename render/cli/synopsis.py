"""A model in the words of a person who wants to know what is in it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from engine.model.records import Model, Test
from engine.model.shares import Voice
from engine.readings.belief import by_parent
from render.cli.columns import count_words, hanging
from render.wording.odds import percent, share

_FAULTS = 4


def lines(model: Model) -> Iterator[str]:
    """The synopsis, in lines for a terminal."""
    bench = f"{model.mains.volts:g} V {model.mains.hertz:g} Hz, to the {model.depth}"
    yield from hanging(f"{model.topology}: {model.says or 'a unit'}")
    yield f"{bench}; complaint: {model.complaint or 'none'}"
    counts = (
        count_words(len(model.faults), "fault"), count_words(len(model.tests), "test"),
        count_words(len(model.remedies), "remedy", "remedies"),
        count_words(len(model.proofs), "proof"), count_words(len(model.cautions), "caution"),
    )  # fmt: skip
    yield f"{', '.join(counts)}; knowledge {model.knowledge or 'not named'}"
    yield ""
    yield from _suspects(model)
    yield ""
    yield from _shares(model)
    yield from _tests(model)
    yield ""
    yield from _requirements(model)
    yield from _bench(model)


def _suspects(model: Model) -> Iterator[str]:
    """Where the fault may lie, by stage, with its likeliest faults."""
    yield "What may be wrong, by stage"
    says = {stage.id: stage.says for stage in model.stages}
    stage_of = {fault.variant_of or fault.id: fault.stage for fault in model.faults}
    odds = by_parent(model, {fault.id: fault.prior for fault in model.faults})
    groups: defaultdict[str, dict[str, float]] = defaultdict(dict)
    for fault, p in odds.items():
        groups[stage_of[fault]][fault] = p
    for stage, faults in sorted(groups.items(), key=lambda item: -sum(item[1].values())):
        likeliest = sorted(faults, key=lambda fault: -faults[fault])[:_FAULTS]
        names = ", ".join(
            f"{fault} {share(faults[fault])}".replace(" ", "\u00a0") for fault in likeliest
        )
        rest = f", and {len(faults) - _FAULTS} more" if len(faults) > _FAULTS else ""
        in_all = share(sum(faults.values()))
        name = says.get(stage, "in no stage" if stage == "none" else stage)
        yield from hanging(f"{in_all:>7}  {name}: {names}{rest}", 2, 9)


def _shares(model: Model) -> Iterator[str]:
    """What share of all cases each family has before a complaint, and who says so."""
    if not model.shares:
        return
    yield "What share of all cases each family has, before a complaint: middle (95 of 100 between)"
    for entry in model.shares:
        span = f"({percent(entry.least)} to {percent(entry.most)})".replace(" ", "\u00a0")
        voices = "; ".join(_voice(voice) for voice in entry.voices)
        words = f"{share(entry.middle):>7}  {entry.family} {span}: {voices}"
        yield from hanging(words, 2, 9)
    yield ""


def _voice(voice: Voice) -> str:
    if voice.cases:
        return f"{voice.opinion}: {count_words(round(voice.cases), 'closed case')}"
    argued = f" ({percent(voice.least)} to {percent(voice.most)} argued)" if voice.most else ""
    worth = f"{voice.strength:g} {'case' if voice.strength == 1 else 'cases'}"
    told = f"{voice.opinion} {percent(voice.share)}{argued}, worth {worth}, {voice.source}"
    return told.rstrip(". ")


def _tests(model: Model) -> Iterator[str]:
    """What can be tried, by the openings that it takes."""
    yield "What can be tried"
    groups: defaultdict[tuple[str, ...], list[Test]] = defaultdict(list)
    for test in model.tests:
        groups[test.opened].append(test)
    opening = {entry.id: entry for entry in model.openings}
    for entry, tests in sorted(groups.items(), key=lambda item: len(item[0])):
        minutes = sum(opening[name].minutes for name in entry)
        where = f"behind {entry[-1]}, {minutes:g} min to open" if entry else "closed"
        yield f"  {where}: {count_words(len(tests), 'test')}"
        # a space at which no line breaks
        names = ", ".join(f"{test.id} {test.minutes:g}\u00a0min" for test in tests)
        yield from hanging(names, 4, 0)


def _requirements(model: Model) -> Iterator[str]:
    """What is shown before a remedy is named or a repair tried, those that agree in it together."""
    groups: defaultdict[str, list[str]] = defaultdict(list)
    askers = (
        *((remedy.id, remedy.requires) for remedy in model.remedies),
        *((test.id, test.requires) for test in model.tests),
    )
    for name, requires in askers:
        parts = dict.fromkeys(r.of for r in requires if not r.strict)
        shorts = dict.fromkeys(r.says or r.of for r in requires if r.strict)
        words = "; ".join((*(f"{part} measured" for part in parts), *shorts))
        if words:
            groups[words].append(name)
    if groups:
        yield "What must be shown before"
        for words, names in groups.items():
            yield from hanging(f"{', '.join(names)}: {words}", 2)
        yield ""


def _bench(model: Model) -> Iterator[str]:
    """Supplies, and what can stay charged."""
    yield "How it can be supplied"
    for arrangement in model.supply.arrangements:
        hands = "hands may touch" if arrangement.hands_on else "no hands on the circuit"
        aside = ", closed units only" if arrangement.closed_only else ""
        words = (
            f"{arrangement.id}: {arrangement.says or arrangement.energy}, up to "
            f"{arrangement.max_volts:.0f} V; {hands}{aside}"
        )
        yield from hanging(words, 2)
    for store in model.stores:
        words = (
            f"{store.part} can hold {store.max_volts:.0f} V: measure {store.point}, go on under "
            f"{store.below:g} V"
        )
        yield from hanging(words, 2)
