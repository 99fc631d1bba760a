"""Walks on other makers' units: is the verdict right, and is it right as often as it says?

    python -m tests.bench.calibration [FOLDER ...] [--mode raw narrowed markings good]
        [--mains 230 120] [--mistakes 0 0.03] [--lamps NAME ...] [--every N] [--no-again]
        [--go-on] [--json FILE] [--misses]

Each folder (those in `tests/bench/makers`) holds `units-<lamp>-<mains>.json.xz`: units of designs
that no knowledge was made from, each broken once, with what every test shows on it, worked out
beforehand. `raw`: the walk hears numbers and words only. `markings`: it was told beforehand what
stands on the parts. `narrowed`: the same, but the rules are not deduced anew with them, so that
designs and readings follow the markings and bands do not: quicker by far. `good`: it was told what
a sound unit of the same design reads. The meter adds its error; with mistakes that share of answers
is another one than the true one. A part that the unit lacks is told as not there when its test
comes up. A surge part with a leg lifted reads by itself: where a maker has no reading of it, it
reads as beside its neighbours where it is the one that is shorted, and over range else. A part
lent, or renewed on trial, helps where it is all that the unit needs. Verdicts to scrap count as
wrong.

Printed: share of right first verdicts with its 95 % interval (E. B. Wilson, J. Am. Stat. Assoc. 22,
1927), by lamp, mains and mode, over faults alike and by prior; the reliability table: of verdicts
said to be so sure, how many are right (A. H. Murphy, R. L. Winkler, Applied Statistics 26, 1977),
and the Brier score (G. W. Brier, Monthly Weather Review 78, 1950); every miss.
"""

from __future__ import annotations

import argparse
import json
import lzma
import math
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from random import Random
from typing import Any

from engine import library
from engine.evidence.scale import METER_SHARE, METER_SHARE_ELSE
from engine.model.records import Mains, Model, Test
from engine.readings import bands as readings
from engine.studies.contest import wilson
from engine.walk import fitting, job
from engine.walk.ending import Ending, conclude
from engine.walk.events import Answered, CannotDo, NotFitted
from engine.walk.job import Outset, Setting
from kb.quantities import in_base, show
from kb.trouble import TroubleError
from render.cli.foresight import patient
from render.cli.testifying import witness_for
from tests.bench.virtual_bench import Remembering

MAINS = {"230": Mains(230.0, 50.0), "120": Mains(120.0, 60.0)}
MAKERS = Path(__file__).parent / "makers"
STEPS = (0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 1.0)
SURGE_PARTS = "RV"
"""Designators of parts that block when they are sound, whatever lies beside them."""
Unit = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Try:
    """One walk: which unit, what was concluded and how sure, whether that is right, what it took.

    `weight` is the prior of the unit's fault, 0 where no listed fault is meant. `left` says what
    the belief is at the end and which check would have told more.
    """

    maker: str
    lamp: str
    mains: str
    mode: str
    mistakes: float
    unit: str
    fault: str
    remedy: str
    sure: float
    is_right: bool
    minutes: float
    weight: float
    told: tuple[str, ...]
    slowest: float
    left: str = ""


def units_of(folder: Path, lamp: str, mains: str) -> list[Unit]:
    """The units of a folder; none where it has no such file."""
    file = folder / f"units-{lamp}-{mains}.json.xz"
    return list(json.loads(lzma.decompress(file.read_bytes()))["units"]) if file.is_file() else []


def answer(model: Model, test: Test, unit: Unit, mistakes: float, take: int) -> str | None:
    """What the person says: a number with its unit, or an outcome; None for a part not there."""
    shown = unit["readings"].get(test.id) or _lifted(test, unit) or _lent(test, unit)
    if shown is None or shown.get("absent"):
        return None
    chance = Random(f"{unit['name']} {test.id} {take}")
    if chance.random() < mistakes:
        return _mistaken(model, test, chance)
    if "outcome" in shown:
        ids = {outcome.id for outcome in test.outcomes}
        return str(shown["outcome"]) if shown["outcome"] in ids else None
    return _number(model, test, float(shown["value"]), chance)


def _lifted(test: Test, unit: Unit) -> Mapping[str, Any] | None:
    """What a part reads by ohms with a leg lifted that blocks when sound; None for other tests."""
    beside = unit["readings"].get(f"ohms-{test.on}")
    if not test.id.startswith("lifted-") or not test.on.startswith(SURGE_PARTS) or beside is None:
        return None
    is_shorted = unit["part"] == test.on and unit["mode"].startswith("short")
    return beside if is_shorted or beside.get("absent") else {"value": math.inf}


def _lent(test: Test, unit: Unit) -> Mapping[str, Any] | None:
    """What a good part clipped across one of the unit, or put in its place, shows: the sound unit
    where that one opened, dried out or drifted up (or where to renew it is all the unit needs),
    else what limited mains show anyway. None for other tests."""
    is_lent, is_renewed = (test.rig.startswith(word) for word in ("one-across-", "mend-"))
    if not (is_lent or is_renewed) or "light-on-limited-mains" not in unit["readings"]:
        return None
    before = unit["readings"]["light-on-limited-mains"]["outcome"]
    helps = unit["part"] == test.on and unit["mode"].startswith(("open", "worn", "drifted"))
    if is_renewed:
        helps = unit["remedied_by"] == [test.on]
    if test.rig.endswith("-lit"):  # tried with light on the sensor
        return {"outcome": "dark"} if helps else unit["readings"].get("light-on-sensor")
    if helps:
        return {"outcome": "as-it-should"}
    plain = unit["readings"].get("known-good-socket", {}).get("outcome")
    is_sound = before == "lights" and plain == "lights-well"
    return {"outcome": "as-it-should" if is_sound else "as-before"}


def _number(model: Model, test: Test, value: float, chance: Random) -> str:
    unit = in_base(1.0, str(test.outcomes[0].unit)).unit
    low, high = readings.possible(unit, model.arrangement(test.supply))
    if value >= 1e9 or math.isinf(value):
        return "OL"
    error = chance.gauss(0.0, METER_SHARE.get(unit, METER_SHARE_ELSE))
    return show(min(max(value * (1.0 + error), max(low, 0.0)), high), unit, 3)


def _mistaken(model: Model, test: Test, chance: Random) -> str:
    """Some outcome at random, or a number of its band."""
    outcome = chance.choice(test.outcomes)
    band = next((b for b in readings.bands(test) if b.outcome == outcome.id), None)
    if band is None:
        return outcome.id
    unit = in_base(1.0, str(outcome.unit)).unit
    _, most = readings.possible(unit, model.arrangement(test.supply))
    low = band.low if math.isfinite(band.low) else 0.0
    high = min(band.high, max(3 * low, 1.0), most)
    return show(low + (high - low) * (0.02 + 0.96 * chance.random()), unit, 3)


def known_of(unit: Unit, mode: str, model: Model) -> tuple[str, ...]:
    """What the walk is told beforehand, as `walk --value` takes it."""
    if mode in ("markings", "narrowed"):
        return tuple(f"{part}={text}" for part, text in sorted(unit["markings"].items()))
    if mode != "good":
        return ()
    lines = []
    for test in model.tests:
        shown = unit["good"].get(test.id, {})
        if "value" in shown and readings.bands(test):
            text = _number(model, test, float(shown["value"]), Random(f"good {test.id}"))
            if text != "OL":
                lines.append(f"{test.id}={text}")
    return tuple(lines)


def _useful(lamp: str, mains: Mains, lines: Sequence[str]) -> tuple[str, ...]:
    """The markings that a person would be let type: those refused are left out."""
    from engine.readings import markings

    listing = library.listed_values(lamp, mains)
    kept = []
    for line in lines:
        try:
            markings.read(markings.assignments([line]), listing)
        except TroubleError:
            continue
        kept.append(line)
    return tuple(kept)


def is_right(model: Model, remedy_id: str, unit: Unit) -> bool:
    """Whether a remedy cures the unit: its listed fault, or all parts that must be renewed.

    Scrapping is never right: it names nothing, and a planner short of time falls back on it.
    """
    remedy = model.remedy(remedy_id)
    listed = {fault.id for fault in model.faults}
    if 2 * len(remedy.cures) > len(listed):
        return False
    if unit["fault"] in listed:
        return unit["fault"] in remedy.cures
    renewed = {
        part.part for fault in model.faults if fault.id in remedy.cures for part in fault.parts
    }
    renewed |= {part.removesuffix("Q") for part in renewed}  # a switch goes with its chip
    return bool(unit["remedied_by"]) and set(unit["remedied_by"]) <= renewed


def walk(
    model: Model, lines: Sequence[str], unit: Unit, mistakes: float, planner: Any,
    again: bool = True,
) -> Any:  # fmt: skip
    """The walk on a unit to its first verdict, what was told, and the slowest step in seconds."""
    heard = witness_for(model, lines)
    once = frozenset() if again else frozenset(test.id for test in model.tests)
    walk_ = job.begin(Outset(model, witness=heard, told_once=once), planner)
    told, takes, slowest = [], dict[str, int](), 0.0
    while (step := job.pending(walk_)) is not None:
        if isinstance(step, Setting):
            walk_ = job.take(walk_, step.event)
            continue
        test = model.test(step.test)
        text = answer(model, test, unit, mistakes, takes.get(test.id, 0))
        takes[test.id] = takes.get(test.id, 0) + 1
        begun = time.perf_counter()
        if text is None:
            gone = test.on if test.on in fitting.parts(walk_) else ""
            is_absent = unit["readings"].get(test.id, {}).get("absent") and gone
            walk_ = job.take(walk_, NotFitted(gone) if is_absent else CannotDo(test.id))
        else:
            told.append(f"{test.id} {text}")
            walk_ = job.take(walk_, _event(model, test, text))
        slowest = max(slowest, time.perf_counter() - begun)
    return walk_, tuple(told), slowest


def _event(model: Model, test: Test, text: str) -> Answered:
    if any(outcome.id == text for outcome in test.outcomes):
        return Answered(test.id, text)
    said = readings.read(text, test, model.arrangement(test.supply))
    return Answered(test.id, said.outcome, said.reading or None,
                    said.shares if said.straddles else ())  # fmt: skip


def tries(
    folder: Path, lamp: str, mains: str, mode: str, mistakes: float, every: int,
    again: bool = True, go_on: bool = False,
) -> Iterator[Try]:  # fmt: skip
    """One walk on each unit of a maker."""
    leave = frozenset({"scrap"}) if go_on else frozenset()
    plain = library.model(lamp, mains=MAINS[mains], without=leave)
    planner = Remembering(patient(2.0))
    priors = {fault.id: fault.prior for fault in plain.faults}
    deduced: dict[tuple[str, ...], tuple[Model, Remembering]] = {}  # units of a design share theirs
    for unit in units_of(folder, lamp, mains)[::every]:
        lines = known_of(unit, mode, plain)
        model, plans = plain, planner
        if mode in ("markings", "narrowed"):
            lines = _useful(lamp, MAINS[mains], lines)
        if mode == "markings":
            if lines not in deduced:
                marked = tuple(tuple(line.split("=", 1)) for line in lines)
                model = library.model(lamp, mains=MAINS[mains], marked=marked, without=leave)
                deduced[lines] = model, Remembering(patient(2.0))
            model, plans = deduced[lines]
        walk_, told, slowest = walk(model, lines, unit, mistakes, plans, again)
        end = conclude(walk_)
        yield Try(
            folder.name, lamp, mains, mode, mistakes, unit["name"],
            unit["fault"] or f"{unit['part']}-{unit['mode']}", end.remedy.id, end.confidence,
            is_right(model, end.remedy.id, unit), walk_.minutes,
            priors.get(unit["fault"] or "", 0.0), told, slowest, _left(end),
        )  # fmt: skip


def _left(end: Ending) -> str:
    """The likeliest faults at the end, and the check that would tell more."""
    odds = ", ".join(f"{fault} {p:.1%}" for fault, p in end.faults[:6])
    if end.finer is None:
        return f"{odds}; no check tells more"
    pays = "pays" if end.finer.worth_it else "does not pay"
    return f"{odds}; {end.finer.test} {pays} ({end.finer.saves:.1f} of {end.finer.minutes:.1f} min)"


def table(found: Sequence[Try], say: Any = print) -> None:
    """The shares of right verdicts, the reliability table and the Brier score."""
    kinds = sorted({(t.mode, t.mistakes, t.lamp, t.mains) for t in found})
    say(f"{'mode':9}{'slips':>6} {'lamp':24}{'mains':>6}{'units':>6}{'right':>8}"
        f"{'95 %':>14}{'by prior':>10}{'minutes':>9}{'sure, wrong':>12}")  # fmt: skip
    groups = [(k, [t for t in found if (t.mode, t.mistakes, t.lamp, t.mains) == k]) for k in kinds]
    for mode in sorted({(k[0], k[1]) for k in kinds}):
        groups.append(((*mode, "all", ""), [t for t in found if (t.mode, t.mistakes) == mode]))
    for (mode, mistakes, lamp, mains), own in groups:
        right, many = sum(t.is_right for t in own), len(own)
        low, high = wilson(right, many)
        weight = sum(t.weight for t in own)
        by_prior = sum(t.weight for t in own if t.is_right) / weight if weight else math.nan
        wrong = sum(not t.is_right and t.sure > 0.95 for t in own)
        minutes = sum(t.minutes for t in own) / many
        say(f"{mode:9}{mistakes:6.0%} {lamp:24}{mains:>6}{many:6}{right / many:8.1%}"
            f"{low:7.0%} –{high:5.0%}{by_prior:10.1%}{minutes:9.1f}{wrong:12}")  # fmt: skip
    say("\nsaid to be sure   verdicts   mean said   right")
    for low, high in zip(STEPS, (*STEPS[1:-1], 1.01), strict=False):
        own = [t for t in found if low <= t.sure < high]
        if own:
            mean = sum(t.sure for t in own) / len(own)
            share = sum(t.is_right for t in own) / len(own)
            say(f"{low:.0%} to {min(high, 1.0):.0%}".ljust(18)
                + f"{len(own):8}{mean:12.1%}{share:8.1%}")  # fmt: skip
    brier = sum((t.sure - t.is_right) ** 2 for t in found) / len(found)
    say(f"Brier score {brier:.4f}; slowest answer {max(t.slowest for t in found):.2f} s")


def main() -> None:
    """Run what the command line asks for and print the tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("folders", nargs="*", type=Path, default=sorted(MAKERS.glob("*/")))
    parser.add_argument("--mode", nargs="*", default=["raw", "markings", "good"])
    parser.add_argument("--mains", nargs="*", default=list(MAINS), choices=MAINS)
    parser.add_argument("--lamps", nargs="*", default=["light-controlled-lamp", "buck-lamp"])
    parser.add_argument("--mistakes", nargs="*", type=float, default=[0.0])
    parser.add_argument("--every", type=int, default=1, help="every so many-th unit only")
    parser.add_argument("--misses", action="store_true", help="print every miss")
    parser.add_argument(
        "--no-again", action="store_false", dest="again", help="no test is done a second time"
    )
    parser.add_argument(
        "--go-on", action="store_true", help="go on whatever it costs: no unit is scrapped"
    )
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    found: list[Try] = []
    for folder in options.folders:
        for lamp in options.lamps:
            for mains in options.mains:
                for mode in options.mode:
                    for mistakes in options.mistakes:
                        own = list(
                            tries(
                                folder,
                                lamp,
                                mains,
                                mode,
                                mistakes,
                                options.every,
                                options.again,
                                options.go_on,
                            )
                        )
                        found += own
                        for one in own:
                            if options.misses and not one.is_right:
                                print(
                                    f"{mode} {one.unit}: {one.fault} taken for {one.remedy}, "
                                    f"{one.sure:.1%}: {'; '.join(one.told)}\n    left: {one.left}",
                                    flush=True,
                                )
    if found:
        table(found)
    if options.json:
        plain = json.dumps([asdict(one) for one in found], indent=1)
        options.json.write_text(plain + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
