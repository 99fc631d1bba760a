"""The clauses of the law of stored charge taken out one at a time: does a test of behaviour fail?

    python -m tests.bench.safety_mutations

Each mutation is a line of text put in place of another, in a copy of the program; the safety tests
that take seconds are run on it. Prints what each was caught by; ends with 1 where one survived or
its text is no longer there.
"""

# ruff: noqa: E501  the texts stand as they stand in the program

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
TESTS = (
    "tests/safety/test_stores.py",
    "tests/safety/test_audit_chart.py",
    "tests/safety/test_audit_walk.py",
    "tests/safety/test_witness_walks.py",
    "tests/walk/test_rereading.py",
    "tests/walk/test_warned.py",
)


@dataclass(frozen=True, slots=True)
class Mutation:
    """A clause in words, the file it stands in, its text, and what stands there instead."""

    clause: str
    file: str
    text: str
    instead: str


STORES, SETUP, WALK = "engine/model/makesafe.py", "engine/model/setup.py", "engine/walk/"
CHART, CHARGE, KEEPING = "engine/chart/drawing.py", "engine/audit/charge.py", "engine/audit/keeping.py"

MUTATIONS = (
    Mutation("hvdc charges", STORES, 'CHARGING = ("mains", "hvdc")', 'CHARGING = ("mains",)'),
    Mutation("mains charges", STORES, 'CHARGING = ("mains", "hvdc")', 'CHARGING = ("hvdc",)'),
    Mutation("only what can exceed its limit counts", STORES,
             "if not store.max_volts <= store.below)", "if store.max_volts)"),
    Mutation("a store nobody placed shows at the first opening", STORES,
             "        return is_opened(model, openings)\n    return not",
             "        return False\n    return not"),
    Mutation("contacts outside are always in reach", STORES,
             "return not store.exposed_by or any(", "return any("),
    Mutation("due at the dead arrangement alone", STORES,
             "    if after.supply != model.dead_supply:\n        return ()\n", ""),
    Mutation("what is known is not due", STORES,
             "if store.part not in low)", "if store.part)"),
    Mutation("looking over is no opening", STORES,
             "any(opening.inside for opening", "any(True for opening"),
    Mutation("leaving mains forgets what was known", SETUP,
             "    if makesafe.charges(model, before.supply):\n        low_before = frozenset()\n", ""),
    Mutation("what lies open on a unit that came in comes first", SETUP,
             "    if due:  # a unit", "    if False:  # a unit"),
    Mutation("measured before the next opening", SETUP,
             "        if due:\n            way.append", "        if False:\n            way.append"),
    Mutation("the rig comes last", SETUP,
             "way.append(Step(tuple(fresh), dead, before.rig, minutes_so_far, due))",
             "way.append(Step(tuple(fresh), dead, after.rig, minutes_so_far, due))"),
    Mutation("chart: stores due at a verdict", CHART,
             "due = makesafe.stores_due(model, low, replace(state, supply=model.dead_supply))", "pass"),
    Mutation("chart: what a repair comes upon", CHART,
             "ahead = makesafe.on_the_way_in(model, low, state.opened) if reaches_in else ()", "ahead = ()"),
    Mutation("chart: energised verdicts know nothing", STORES,
             "    if charges(model, state.supply):\n        return frozenset()\n", ""),
    Mutation("walk: every due store is told of", WALK + "arriving.py", "    if lacking:", "    if False:"),
    Mutation("walk: volts below the limit", WALK + "arriving.py",
             "not abs(reading.volts) < store.below", "reading.volts > 1e9"),
    Mutation("walk: nan is no reading", WALK + "arriving.py",
             "if not math.isfinite(reading.volts) or not abs(reading.volts) < store.below:",
             "if abs(reading.volts) >= store.below:"),
    Mutation("walk: nothing hidden is measured", WALK + "arriving.py",
             "if parts - in_reach.keys() or (", "if False and ("),
    Mutation("walk: no rig beside a store out of reach", WALK + "arriving.py",
             "if unreachable and after.rig", "if False and after.rig"),
    Mutation("walk: out of reach leads to its opening alone", WALK + "arriving.py",
             "    if walk.unreachable:\n        _towards(walk, after)\n", ""),
    Mutation("walk: a bench that was left is unplugged first", WALK + "arriving.py",
             "if walk.unsettled and after != walk.dead_bench:", "if False:"),
    Mutation("walk: mains makes all unknown", WALK + "arriving.py",
             "        return frozenset(), frozenset()\n", "        return walk.low | named, frozenset()\n"),
    Mutation("walk: a closed-only supply bars an opened unit", WALK + "arriving.py",
             "is_barred = model.arrangement(after.supply).closed_only and is_open", "is_barred = False"),
    Mutation("walk: the return comes before the step", WALK + "ahead.py",
             "if walk.unsettled and (walk.unreachable or not walk.is_ended):", "if False:"),
    Mutation("walk: what is out of reach comes before a verdict", WALK + "ahead.py",
             "    if walk.unreachable:\n        return _towards(walk)\n", ""),
    Mutation("walk: no test beside an unknown store", WALK + "ahead.py",
             "        and not stores_left(walk)\n", ""),
    Mutation("walk: no test on a bench that was left", WALK + "ahead.py",
             "        not walk.unsettled\n        and not walk.unreachable\n", "        True\n"),
    Mutation("walk: a plan for a closed unit ends as it is opened", WALK + "ahead.py",
             "        and walk.bench.opened <= node.state.opened\n", ""),
    Mutation("walk: an opened unit's plan meets no socket", WALK + "ahead.py",
             "and not (closed_only and makesafe.is_opened(walk.model, node.state.opened))", ""),
    Mutation("walk: time away is unknown", WALK + "job.py",
             "return replace(walk, unsettled=True, low=frozenset(), steps=(*walk.steps, step))",
             "return replace(walk, steps=(*walk.steps, step))"),
    Mutation("walk: a verdict is acted on", WALK + "job.py",
             "        return replace(after, unsettled=True, low=frozenset())\n",
             "        return after\n"),
    Mutation("walk: undo at a verdict", WALK + "undo.py",
             "return take(walk, Away()) if out_of_sight and not away else walk", "return walk"),
    Mutation("walk: a test in an opened unit is confirmed there alone", WALK + "rereading.py",
             "if not here or not allows(model, walk.bench, test):", "if not here:"),
    Mutation("walk: shorts bar", WALK + "state.py",
             "return self.withdrawn | shorts.barred_tests(self.model, answers)", "return self.withdrawn"),
    Mutation("audit: hvdc charges", CHARGE, 'CHARGING = ("mains", "hvdc")', 'CHARGING = ("mains",)'),
    Mutation("audit: limits are bounded", CHARGE, "or not 0 < float(below) <= DISCHARGED_VOLTS", ""),
    Mutation("audit: measured before the next opening", CHARGE,
             "        for part in stores_in_reach(bench, openings).keys() - low:", "        for part in ():"),
    Mutation("audit: measured at the dead arrangement", CHARGE,
             "    if hands.new.supply == bench.dead:\n        for part", "    if False:\n        for part"),
    Mutation("audit: nothing hidden is asked for", CHARGE,
             "    for part in hands.measured - in_reach.keys():", "    for part in ():"),
    Mutation("audit: hands go in when dead alone", CHARGE,
             "if hands_on and hands.new.supply != bench.dead:", "if False:"),
    Mutation("audit: left unmeasured", CHARGE,
             "if hands.old.supply == bench.dead != hands.new.supply:", "if False:"),
    Mutation("audit: due at the end", CHARGE,
             "    for part in sorted(demands - due):", "    for part in ():"),
    Mutation("audit: what a repair comes upon", CHARGE,
             "if showing and places.get(part) not in showing:", "if False:"),
    Mutation("audit: walk, a bench that was left", KEEPING,
             "if before.left and not made_safe:", "if False:"),
    Mutation("audit: walk, due stores are told of", KEEPING,
             "    for part in parts - low - out_of_reach:", "    for part in ():"),
    Mutation("audit: walk, hidden stores stop hands", KEEPING,
             "if before.out_of_reach and not made_safe:", "if False:"),
    Mutation("audit: walk, volts below the limit", KEEPING,
             'abs(float(entry["volts"])) < limits.get(part, 0.0)', "True"),
    Mutation("audit: shorts", "engine/audit/safety.py",
             "if short and bench.energy(stand.supply) in CHARGING:", "if False:"),
    Mutation("audit: a caution that stands was told", "engine/audit/safety.py",
             '    for caution in node.get("standing") or ():', "    for caution in ():"),
    Mutation("audit: a new state tells anew", "engine/audit/arrival.py",
             "    if begins_anew(bench, old, new):\n        return frozenset()\n", ""),
    Mutation("chart: a new state tells anew", "engine/chart/cautioning.py",
             "stands = incoming[name] - place.ends if same else frozenset()",
             "stands = incoming[name] - place.ends"),
    Mutation("chart: a rig's cautions end with it", "engine/chart/cautioning.py", " - place.ends", ""),
    Mutation("walk: a new state tells anew", WALK + "warned.py",
             "            if region(model, before) != region(model, step.bench):\n"
             "                cautions = frozenset()\n", ""),
)  # fmt: skip


def copied(folder: Path) -> None:
    """The program and its tests, in a folder of their own."""
    for part in ("kb", "engine", "render", "tests", "samples"):
        shutil.copytree(ROOT / part, folder / part, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", folder)


def caught_by(folder: Path, mutation: Mutation) -> str:
    """The first test that fails on the mutation; empty where it survives."""
    file = folder / mutation.file
    whole = file.read_text(encoding="utf-8")
    if mutation.text not in whole:
        return "NOT THERE"
    file.write_text(whole.replace(mutation.text, mutation.instead, 1), encoding="utf-8")
    try:
        ran = subprocess.run(
            [sys.executable, "-m", "pytest", "-x", "-q", "--tb=no", "-p", "no:cacheprovider",
             *TESTS],
            cwd=folder, capture_output=True, text=True, check=False,
            env={**os.environ, "PYTHONPATH": str(folder)},
        )  # fmt: skip
    finally:
        file.write_text(whole, encoding="utf-8")
    failed = re.search(r"^(?:FAILED|ERROR) (\S+)", ran.stdout, re.MULTILINE)
    return failed[1] if failed else ("" if ran.returncode == 0 else f"exit {ran.returncode}")


def main() -> int:
    """Try every mutation; the exit code."""
    missed = 0
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        copied(folder)
        for mutation in MUTATIONS:
            found = caught_by(folder, mutation)
            missed += found in ("", "NOT THERE")
            print(f"{mutation.clause}: {found or 'SURVIVED'}", flush=True)
    print(f"{len(MUTATIONS) - missed} of {len(MUTATIONS)} caught")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
