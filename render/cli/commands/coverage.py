"""`nextprobe coverage`: how far a topology's tests see and tell apart, and what would help."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from render.cli import streams
from render.cli.columns import count_words, hanging
from render.cli.options import (
    Complaint,
    Depth,
    DepthOption,
    Json,
    Kb,
    Mains,
    MainsOption,
    ModelFile,
    TopologyOrModel,
)
from render.wording.odds import share

if TYPE_CHECKING:
    from engine.model.records import Model
    from engine.studies.testability.advice import Advice, Gain
    from engine.studies.testability.figures import Coverage, Group

_MOST = 6
_TELLING = 5


def coverage(
    topology: TopologyOrModel = None,
    mains: MainsOption = Mains.EUROPE,
    depth: DepthOption = Depth.PART,
    complaint: Complaint = None,
    time: Annotated[
        float,
        typer.Option(min=0.5, metavar="SECONDS", help="Look for advice about this long."),
    ] = 15.0,
    kb: Kb = None,
    model: ModelFile = None,
    as_json: Json = False,
) -> None:
    """What the tests of a topology can see and tell apart, and which new one would help most.

    Measures of MIL-STD-2165 and IEEE 1522: fraction of faults detected, fraction isolated to groups
    of 1, 2 and 3, ambiguity groups by name. Advice is worked out by the rules and the planner: a
    test point, a check or a known-good board that the unit does not have yet.

    Example: nextprobe coverage buck-lamp --depth stage
    """

    from engine import library
    from engine.studies.testability import figures
    from render.cli import knowledge

    if topology is not None:
        library.rules_stand_behind(topology, kb)
    unit = knowledge.either(topology, model, mains, depth, complaint, kb)
    reach = figures.coverage(unit)
    advice = None if model is not None else _advice(unit, complaint, kb, time)
    if as_json:
        streams.print_json(_plain(unit, reach, advice))
        return
    print("\n".join(_lines(unit, reach, advice)))


def _advice(unit: Model, complaint: str | None, kb: Path | None, seconds: float) -> Advice:
    from engine.studies.testability.advice import advise
    from engine.studies.testability.proposals import propose
    from kb.language import loader
    from render.cli import knowledge
    from render.cli.waiting import status

    shop = loader.read((kb,) if kb is not None else ())
    bench = knowledge.shop(kb).bench(shop, unit.topology, unit.mains, complaint)
    with status("looking for what would help") as tell:

        def progress(count: int, of: int) -> None:
            if tell is not None:
                tell(f"looking for what would help: {count} of {of}")

        return advise(propose(shop, bench, unit, progress), seconds, progress)


def _lines(unit: Model, reach: Coverage, advice: Advice | None) -> Iterator[str]:
    yield (
        f"{unit.topology}, {unit.mains.volts:g} V {unit.mains.hertz:g} Hz, to the {unit.depth}: "
        f"{count_words(reach.faults, 'fault')}, {count_words(reach.tests, 'test')}"
    )
    yield ""
    yield from _table(reach)
    yield ""
    if reach.unseen:
        yield from hanging(f"No test notices: {', '.join(reach.unseen)}")
    else:
        yield "Each fault is noticed by some test."
    yield from _groups(unit, reach)
    if reach.close:
        yield ""
        yield "Parted, but not surely; at worst one is taken for the other so often:"
        for pair in reach.close[:_MOST]:
            yield f"  {share(pair.errors)}  {pair.first} and {pair.second}"
    if advice is not None:
        yield ""
        yield from _advice_lines(advice)


def _table(reach: Coverage) -> Iterator[str]:
    from engine.studies.testability.groups import Apart

    columns = [reach.by_rate[Apart.AT_ALL], reach.by_count[Apart.AT_ALL],
               reach.by_rate[Apart.SURELY], reach.by_count[Apart.SURELY]]  # fmt: skip
    rows = [("faults detected (FFD)", [share(c.detected) for c in columns])]
    for size in columns[0].isolated:
        words = "isolated to 1 fault (FFI)" if size == 1 else f"isolated to {size} at most"
        rows.append((words, [share(c.isolated[size]) for c in columns]))
    rows.append(("mean size of a group", [f"{c.mean_group:.2f}" for c in columns]))
    yield f"{'':<27}{'parted at all':<20}{'surely: 1 error in 20'}"
    yield f"{'':<27}{'by odds':>8}{'by count':>10}  {'by odds':>8}{'by count':>10}"
    for words, (first, second, third, fourth) in rows:
        yield f"{words:<27}{first:>8}{second:>10}  {third:>8}{fourth:>10}"


def _groups(unit: Model, reach: Coverage) -> Iterator[str]:
    yield ""
    if not reach.groups:
        yield "No ambiguity group: the tests part each two faults."
        return
    yield "Ambiguity groups: faults that all tests show alike"
    says = {fault.id: fault.says for fault in unit.faults}
    for group in reach.groups:
        yield from hanging(f"{share(group.rate)}  {', '.join(group.faults)}", 2, 8)
        for fault in group.faults[:_MOST]:
            yield from hanging(f"{fault}: {says[fault]}", 10)
        if len(group.faults) > _MOST:
            yield f"          and {len(group.faults) - _MOST} more"
        for line in _why(reach, group):
            yield from hanging(line, 10)


def _why(reach: Coverage, group: Group) -> Iterator[str]:
    """Why no test parts a group, and whether that matters."""
    reactions = [f"{test} {outcome}" for test, outcome in group.react[:_TELLING]]
    if len(group.react) > _TELLING:
        reactions.append(f"and {len(group.react) - _TELLING} more")
    notice = "test notices" if len(group.react) == 1 else "tests notice"
    yield (
        f"{len(group.react)} of {reach.tests} {notice} them, all in one way: "
        f"{'; '.join(reactions)}. To the others they look sound."
    )
    if group.together:
        yield f"One repair cures all of them: {group.together[0]}."
    else:
        yield "No one repair cures all of them."


def _advice_lines(advice: Advice) -> Iterator[str]:
    yield f"What would help: {count_words(advice.tried, 'addition')} tried, " + (
        "all plans proved."
        if advice.now.proved_optimal
        else "by the best plans found in time, which are not proved."
    )
    if not advice.saving:
        yield "  None of them was found to save minutes."
    for one in advice.saving[:_MOST]:
        aside = "" if advice.now.proved_optimal else f" ({one.sure:.2f} min proved)"
        yield from hanging(f"saves {one.saves:.2f} min a unit{aside}: {_name_of(one)}", 2, 4)
        if one.proposal.write:
            yield from hanging(f"to try it, add to points: {one.proposal.write}", 6)
    if not advice.parting:
        yield "  None of them parts an ambiguity group."
    for one in advice.parting[:_MOST]:
        words = (
            f"parts {count_words(one.groups_broken, 'group')}, the largest left has {one.largest}, "
            f"{share(one.isolated)} isolated to 1 fault: {_name_of(one)}"
        )
        yield from hanging(words, 2, 4)


def _name_of(one: Gain) -> str:
    return f"{one.proposal.id} ({one.proposal.says})"


def _plain(unit: Model, reach: Coverage, advice: Advice | None) -> dict[str, Any]:
    from dataclasses import asdict

    plain: dict[str, Any] = {
        "format": "nextprobe-coverage/1",
        "topology": unit.topology,
        "mains": {"volts": unit.mains.volts, "hertz": unit.mains.hertz},
        "depth": unit.depth,
        "complaint": unit.complaint,
        "knowledge": unit.knowledge,
    }
    figures = asdict(reach)
    for weighing in ("by_rate", "by_count"):
        figures[weighing] = {
            how.value: asdict(fractions) for how, fractions in getattr(reach, weighing).items()
        }
    return plain | figures | {"advice": asdict(advice) if advice is not None else None}
