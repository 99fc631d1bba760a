"""A model in the words of a person who wants to know what is in it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from engine.model.records import Model, Test
from engine.readings.belief import by_parent
from render.cli.columns import counted, hanging
from render.wording.odds import share

_FAULTS = 4


def lines(model: Model) -> Iterator[str]:
    """The synopsis, in lines for a terminal."""
    bench = f"{model.mains.volts:g} V {model.mains.hertz:g} Hz, to the {model.depth}"
    yield from hanging(f"{model.topology}: {model.says or 'a unit'}")
    yield f"{bench}; complaint: {model.complaint or 'none'}"
    counts = (
        counted(len(model.faults), "fault"), counted(len(model.tests), "test"),
        counted(len(model.remedies), "remedy", "remedies"), counted(len(model.proofs), "proof"),
        counted(len(model.cautions), "caution"),
    )  # fmt: skip
    yield f"{', '.join(counts)}; knowledge {model.knowledge or 'not named'}"
    yield ""
    yield from _suspects(model)
    yield ""
    yield from _tests(model)
    yield ""
    yield from _required(model)
    yield from _bench(model)


def _suspects(model: Model) -> Iterator[str]:
    """Where the fault may lie, by stage, with its likeliest faults."""
    yield "What may be wrong, by stage"
    says = {stage.id: stage.says for stage in model.stages}
    stage_of = {fault.variant_of or fault.id: fault.stage for fault in model.faults}
    odds = by_parent(model, {fault.id: fault.prior for fault in model.faults})
    grouped: defaultdict[str, dict[str, float]] = defaultdict(dict)
    for fault, p in odds.items():
        grouped[stage_of[fault]][fault] = p
    for stage, faults in sorted(grouped.items(), key=lambda item: -sum(item[1].values())):
        likeliest = sorted(faults, key=lambda fault: -faults[fault])[:_FAULTS]
        told = ", ".join(
            f"{fault} {share(faults[fault])}".replace(" ", "\u00a0") for fault in likeliest
        )
        rest = f", and {len(faults) - _FAULTS} more" if len(faults) > _FAULTS else ""
        in_all = share(sum(faults.values()))
        name = says.get(stage, "in no stage" if stage == "none" else stage)
        yield from hanging(f"{in_all:>7}  {name}: {told}{rest}", 2, 9)


def _tests(model: Model) -> Iterator[str]:
    """What can be tried, by the openings that it takes."""
    yield "What can be tried"
    grouped: defaultdict[tuple[str, ...], list[Test]] = defaultdict(list)
    for test in model.tests:
        grouped[test.opened].append(test)
    opening = {opened.id: opened for opened in model.openings}
    for opened, tests in sorted(grouped.items(), key=lambda item: len(item[0])):
        minutes = sum(opening[name].minutes for name in opened)
        where = f"behind {opened[-1]}, {minutes:g} min to open" if opened else "closed"
        yield f"  {where}: {counted(len(tests), 'test')}"
        # a space at which no line breaks
        told = ", ".join(f"{test.id} {test.minutes:g}\u00a0min" for test in tests)
        yield from hanging(told, 4, 0)


def _required(model: Model) -> Iterator[str]:
    """What is shown before a remedy is named or a repair tried, those that agree in it together."""
    grouped: defaultdict[str, list[str]] = defaultdict(list)
    askers = (
        *((remedy.id, remedy.requires) for remedy in model.remedies),
        *((test.id, test.requires) for test in model.tests),
    )
    for name, requires in askers:
        parts = dict.fromkeys(r.of for r in requires if not r.strict)
        shorts = dict.fromkeys(r.says or r.of for r in requires if r.strict)
        told = "; ".join((*(f"{part} measured" for part in parts), *shorts))
        if told:
            grouped[told].append(name)
    if grouped:
        yield "What must be shown before"
        for told, names in grouped.items():
            yield from hanging(f"{', '.join(names)}: {told}", 2)
        yield ""


def _bench(model: Model) -> Iterator[str]:
    """Supplies, and what can stay charged."""
    yield "How it can be supplied"
    for arrangement in model.supply.arrangements:
        hands = "hands may touch" if arrangement.hands_on else "no hands on the circuit"
        closed = ", closed units only" if arrangement.closed_only else ""
        told = (
            f"{arrangement.id}: {arrangement.says or arrangement.energy}, up to "
            f"{arrangement.max_volts:.0f} V; {hands}{closed}"
        )
        yield from hanging(told, 2)
    for store in model.stores:
        told = (
            f"{store.part} can hold {store.max_volts:.0f} V: measure {store.point}, go on under "
            f"{store.below:g} V"
        )
        yield from hanging(told, 2)
