"""How much is lost by not knowing what a lamp is: simulated units that nobody has opened, against
the same units with their topology known from the start.

    .venv/bin/python -m tests.bench.unopened [units] [seed] [file]

With a file every unit is written there as it ends, and a run that was stopped goes on.
Units are drawn by the shares of `unknown-lamp`: something outside the electronics, or a topology
and one of its faults. Looks and readings are drawn from the models' own rows, misreads among them,
and both walks see the same. Minutes of a unit that turned out to be of a topology are those of its
own walk and of the looks and tests before it; openings count once. Right: the remedy cures the
fault; giving a unit up is none.
"""

from __future__ import annotations

import json
import math
import random
import statistics
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

from engine import library
from engine.assembly.mixture import members_of
from engine.model.records import Fault, Mains, Model
from engine.walk import handover, job
from engine.walk.ending import conclude
from engine.walk.events import Answered
from engine.walk.job import Halt, Outset, Setting, Walk
from kb.language import loader
from render.cli.foresight import patient

UNIT = "unknown-lamp"
MAINS = Mains(230.0, 50.0)
_GIVEN_UP = ("scrap", "salvage", "refuse")
_SECONDS = 1.0


@dataclass(frozen=True, slots=True)
class Unit:
    """A simulated unit: what is wrong, outside its electronics or in one of its topologies."""

    number: int
    kind: str
    fault: str
    topology: str | None


@dataclass(frozen=True, slots=True)
class Course:
    """How a walk went; `questions` are those answered before the topology was known, `waits` the
    seconds of the processor from each answer to the next question."""

    is_right: bool
    minutes: float
    questions: int
    waits: tuple[float, ...]
    topology: str | None
    later: tuple[float, ...] = ()
    """As `waits`, in the topology's own walk."""


def units(many: int, seed: int, mixture: Model, members: Mapping[str, Model]) -> Iterator[Unit]:
    """Units by the shares of the unopened unit before any complaint."""
    chance = random.Random(seed)
    shares = {share.family: share.middle for share in mixture.shares}
    kinds = list(shares)
    for number in range(many):
        kind = chance.choices(kinds, [shares[k] for k in kinds])[0]
        if kind not in members:
            yield Unit(number, kind, kind, None)
            continue
        faults = members[kind].faults
        fault = chance.choices(faults, [f.prior for f in faults])[0]
        yield Unit(number, kind, fault.id, kind)


def row_of(model: Model, test: str, unit: Unit) -> Mapping[str, float]:
    """The odds of each answer of the unit: its fault's row, or that of the group it stands in."""
    faults = {fault.id for fault in model.faults}
    if unit.fault in faults:
        return model.row(test, unit.fault)
    groups: list[Fault] = [f for f in model.faults if f.stage == unit.topology]
    likeliest = max(groups, key=lambda fault: fault.prior)
    return model.row(test, likeliest.id)


def shown(model: Model, test: str, unit: Unit, seed: int) -> str:
    """What a person reads off the unit at a test, the same whoever asks; misread at times."""
    chance = random.Random(f"{seed} {unit.number} {test}")
    row = row_of(model, test, unit)
    true = chance.choices(list(row), list(row.values()))[0]
    slips = dict(model.test(test).misread.get(true, {}))
    slips[true] = 1.0 - math.fsum(slips.values())
    return chance.choices(list(slips), list(slips.values()))[0]


def follow(
    walk: Walk, answer: Callable[[str], str], ends: Callable[[Walk], bool]
) -> tuple[Walk, list[float]]:
    """The walk to its end, or to where `ends` holds; and the seconds that each answer took."""
    waits = []
    while not ends(walk):
        ahead = job.pending(walk)
        if ahead is None or isinstance(ahead, Halt):
            break
        if isinstance(ahead, Setting):
            walk = job.take(walk, ahead.event)
            continue
        began = time.process_time()
        walk = job.take(walk, Answered(ahead.test, answer(ahead.test)))
        waits.append(time.process_time() - began)
    return walk, waits


def is_right(walk: Walk, fault: str) -> bool:
    """Whether the verdict's remedy cures the fault and gives nothing up."""
    if not walk.is_ended:
        return False
    remedy = conclude(walk).remedy
    return fault in remedy.cures and remedy.kind not in _GIVEN_UP


def unopened(unit: Unit, seed: int, mixture: Model, members: Mapping[str, Model]) -> Course:
    """A unit walked from nothing known."""
    settled = loader.as_shipped().unopened[UNIT].settled
    truth = members.get(unit.kind, mixture)

    def answer(model: Model) -> Callable[[str], str]:
        own = {test.id for test in truth.tests}
        return lambda test: shown(truth if test in own else model, test, unit, seed)

    planner = patient(_SECONDS)
    first, waits = follow(
        job.begin(Outset(mixture), planner), answer(mixture),
        lambda walk: handover.topology_of(walk, settled) is not None,
    )  # fmt: skip
    questions = sum(step.kind == "test" for step in first.steps)
    topology = handover.topology_of(first, settled)
    if topology is None:
        right = is_right(first, unit.fault) or _is_told(first, unit, members)
        return Course(right, first.minutes, questions, tuple(waits), None)
    before = sum(step.minutes for step in first.steps if not step.opened)
    own = handover.carry(first, job.begin(Outset(members[topology]), planner))
    if topology != unit.kind:
        return Course(False, before + own.minutes, questions, tuple(waits), topology)
    last, more = follow(own, answer(members[topology]), lambda walk: False)
    right = is_right(last, unit.fault)
    minutes = before + last.minutes
    return Course(right, minutes, questions, tuple(waits), topology, tuple(more))


def _is_told(walk: Walk, unit: Unit, members: Mapping[str, Model]) -> bool:
    """Whether a verdict without a topology is what the topology would have come to."""
    if unit.topology is None or not walk.is_ended:
        return False
    remedy = conclude(walk).remedy.id
    own = [r for r in members[unit.topology].remedies if r.id == remedy]
    return any(unit.fault in r.cures for r in own)


def with_topology(unit: Unit, seed: int, member: Model) -> Course:
    """The same unit with its topology known from the start."""
    walk, waits = follow(
        job.begin(Outset(member), patient(_SECONDS)),
        lambda test: shown(member, test, unit, seed), lambda walk: False,
    )  # fmt: skip
    return Course(is_right(walk, unit.fault), walk.minutes, 0, tuple(waits), member.topology)


def both(
    unit: Unit, seed: int, mixture: Model, members: Mapping[str, Model]
) -> tuple[Course, Course | None]:
    """The unit walked from nothing known, and with its topology known if it has one."""
    blind = unopened(unit, seed, mixture, members)
    return blind, with_topology(unit, seed, members[unit.kind]) if unit.topology else None


def kept(shelf: Path | None, run: str) -> dict[int, tuple[Course, Course | None]]:
    """What an earlier part of this run wrote, by the unit's number."""
    if shelf is None or not shelf.exists():
        return {}
    lines = [json.loads(line) for line in shelf.read_text(encoding="utf-8").splitlines()]
    return {
        line["unit"]: (_course(line["blind"]), line["seeing"] and _course(line["seeing"]))
        for line in lines if line["run"] == run
    }  # fmt: skip


def _course(plain: Mapping[str, object]) -> Course:
    lists: dict[str, object] = {k: tuple(plain[k]) for k in ("waits", "later")}  # type: ignore[arg-type]
    return Course(**{**plain, **lists})  # type: ignore[arg-type]


def courses(
    many: int, seed: int, mixture: Model, members: Mapping[str, Model], shelf: Path | None
) -> Iterator[tuple[Unit, Course, Course | None]]:
    """Each unit with its two walks; those that stand in `shelf` are not walked again."""
    run = f"{mixture.knowledge} {seed}"
    known = kept(shelf, run)
    for unit in units(many, seed, mixture, members):
        pair = known.get(unit.number) or both(unit, seed, mixture, members)
        if shelf is not None and unit.number not in known:
            blind, seeing = (course and asdict(course) for course in pair)
            line = {"run": run, "unit": unit.number, "blind": blind, "seeing": seeing}
            with shelf.open("a", encoding="utf-8") as file:
                file.write(json.dumps(line) + "\n")
        yield unit, *pair


def table(many: int, seed: int, shelf: Path | None) -> Iterator[str]:
    """The lines of the comparison."""
    mixture = library.model(UNIT, mains=MAINS)
    names = members_of(loader.as_shipped(), UNIT)
    members = {name: library.model(name, mains=MAINS) for name in names}
    walks = list(courses(many, seed, mixture, members, shelf))
    drawn = [unit for unit, _, _ in walks]
    blind = [course for _, course, _ in walks]
    seeing = [course for _, _, course in walks if course is not None]
    inside = [(u, c) for u, c in zip(drawn, blind, strict=True) if u.topology]
    outside = [c for u, c in zip(drawn, blind, strict=True) if not u.topology]
    yield f"{many} units of {UNIT}, seed {seed}, {len(inside)} of them with a topology's fault"
    yield "| | units | right | minutes | questions before the topology |"
    yield "|---|---|---|---|---|"
    yield _line("all, nothing known", blind)
    yield _line("fault outside the electronics", outside)
    yield _line("a topology's fault, nothing known", [course for _, course in inside])
    yield _line("the same, topology known from the start", seeing)
    right = sum(c.topology in (u.kind, None) for u, c in inside)
    yield f"topology right or not needed: {right} of {len(inside)}"
    yield _pace("next question, before the topology", [w for c in blind for w in c.waits])
    yield _pace("next question, in the topology", [w for c in blind for w in c.later])


def _pace(name: str, waits: list[float]) -> str:
    if not waits:
        return f"{name}: none"
    late = sorted(waits)[math.ceil(0.99 * len(waits)) - 1]
    return f"{name}: median {1e3 * statistics.median(waits):.0f} ms, p99 {1e3 * late:.0f} ms"


def _line(name: str, courses: list[Course]) -> str:
    if not courses:
        return f"| {name} | 0 | | | |"
    right = sum(course.is_right for course in courses)
    minutes = statistics.fmean(course.minutes for course in courses)
    questions = statistics.fmean(course.questions for course in courses)
    return f"| {name} | {len(courses)} | {right} | {minutes:.1f} | {questions:.1f} |"


if __name__ == "__main__":
    words = sys.argv[1:]
    count, start = (int(word) for word in (*words[:2], *("300", "1")[len(words[:2]) :]))
    for row in table(count, start, Path(words[2]) if words[2:] else None):
        print(row)
