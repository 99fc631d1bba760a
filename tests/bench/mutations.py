"""Small mistakes put into the program and its knowledge one at a time: does a test fail?

    python -m tests.bench.mutations [--seed N] [--many N] [--area NAME ...] [--jobs N] [--list]
                                    [--notes FILE] [--only N ...]

A mutation turns one comparison, one number, one `and`, one sign or one `not` into another: in
the engine, in the audit, in the rules. Which ones is drawn by the seed, the same for the same
program, an equal number from each area. The tests that belong to the area run on a copy of the
program until one fails. First, on the program as it is, each of these tests is timed and watched
for which functions it runs (`tests.bench.likeliest`): a mutation then meets the quick tests of
files that run its function, after them the other quick ones, the long ones last. Printed: each
mutation with what caught it, then the survivors; ends with 1 where more than one in twenty
survived. All is noted as it comes, in a file of the cache folder, so that a run that was broken
off goes on where it was, as long as neither program nor tests have changed.

After R. A. DeMillo, R. J. Lipton and F. G. Sayward, Hints on test data selection, Computer 11(4),
1978: small mistakes that no test sees tell where larger ones hide.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import hashlib
import json
import os
import random
import re
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from platformdirs import user_cache_path

from kb import files
from tests.bench.likeliest import ORDER, RECORD, WATCH
from tests.bench.safety_mutations import ROOT, copied

SURVIVORS = 0.05
# Numbers that guard against rounding or against no number at all: no unit reads the difference.
DUST, BEYOND = 1e-5, 1e9
SECONDS = 240.0
# CPU seconds above which a test waits until all others have had their turn; and how much of quick
# tests makes the first turn, in which most are caught.
LONG, FIRST = 4.0, 20.0
# Numbers that a module calls its algorithm's own move the time or the last digit of a result, never
# the result: a test that told two of them apart would hold a clock. So neither they nor the bound
# of what is compared with them is moved.
OWN = "of the algorithm"


@dataclass(frozen=True, slots=True)
class Area:
    """Files, and the tests that answer for them, the quickest first."""

    name: str
    files: tuple[str, ...]
    tests: tuple[str, ...]

    def paths(self) -> list[Path]:
        """The files in a fixed order."""
        return sorted(path for pattern in self.files for path in ROOT.glob(pattern))


AREAS = (
    Area("audit", ("engine/audit/*.py",), (
        "safety/test_audit_densities.py",
        "safety/test_audit_chart.py", "safety/test_audit_walk.py", "safety/test_stores.py",
        "safety/test_limits.py", "sources/test_belief_sources.py",
        "safety/test_audit_misses_nothing.py", "safety/test_audit_plans.py",
        "safety/test_audit_walks.py", "safety/test_audit_readings.py",
        "safety/test_audit_factors.py", "safety/test_second_start.py",
    )),
    Area("model", ("engine/model/*.py", "engine/model/file/*.py"), (
        "safety/test_stores.py", "words/test_modelfile.py", "words/test_modelfile_troubles.py",
        "properties/test_modelfile_reader.py", "safety/test_audit_plans.py",
        "safety/test_lying_documents.py", "properties/test_planner.py", "safety/test_limits.py",
        "words/test_modelfile_standins.py", "words/test_required_names.py",
    )),
    Area("readings", ("engine/readings/*.py",), (
        "properties/test_confusion.py", "words/test_readings.py",
        "properties/test_readings_partition.py",
        "properties/test_belief.py", "sources/test_belief_sources.py", "words/test_replies.py",
        "walk/test_acquaintance.py", "words/test_readings_on_shipped.py",
        "circuit/test_densities.py",
    )),
    Area("assembly", ("engine/assembly/*.py",), (
        "knowledge/test_small_model.py", "knowledge/test_finding.py",
        "knowledge/test_benchfile.py", "knowledge/test_methods.py",
        "knowledge/test_thresholds.py", "words/test_required_names.py",
        "words/test_leads.py", "words/test_cli_knowledge.py",
        "knowledge/test_shop_cannot_loosen.py", "knowledge/test_bench_that_is_there.py",
        "knowledge/test_shipped_topologies.py", "knowledge/test_own_knowledge.py",
    )),
    Area("deduce", ("engine/deduce/*.py",), (
        "knowledge/test_small_model.py", "deduction/test_chaining.py",
        "deduction/test_shipped_rules.py",
        "knowledge/test_exposure.py", "knowledge/test_finding.py", "knowledge/test_thresholds.py",
        "knowledge/test_bad_knowledge.py", "knowledge/test_shipped_topologies.py",
    )),
    Area("planner", ("engine/planner/*.py",), (
        "properties/test_planner_tables.py",
        "properties/test_planner.py", "properties/test_planner_requirements.py",
        "properties/test_planner_refusals.py", "properties/test_planner_shorts.py",
        "sources/test_planner_sources.py", "sources/test_repair_sources.py",
    )),
    Area("chart", ("engine/chart/*.py",), (
        "properties/test_chart_by_hand.py", "safety/test_audit_plans.py",
        "safety/test_second_start.py", "walk/test_instead.py",
        "safety/test_cold_first.py", "properties/test_trials.py", "page/test_page_is_the_chart.py",
        "safety/test_shipped_charts.py",
    )),
    Area("walk", ("engine/walk/*.py",), (
        "walk/test_warned.py", "walk/test_rereading.py", "safety/test_stores.py",
        "walk/test_entry.py", "walk/test_walk_ends.py", "walk/test_traced.py",
        "walk/test_thresholds.py", "walk/test_explain.py", "walk/test_acquaintance.py",
        "walk/test_alternatives.py", "safety/test_audit_walks.py", "walk/test_going_on.py",
        "safety/test_edited_walks.py", "walk/test_walk_states.py",
    )),
    Area("electrics", ("engine/electrics/*.py", "engine/calc/*.py"), (
        "sources/test_electrics.py", "sources/test_electrics_codes.py", "sources/test_prints.py",
        "properties/test_electrics_laws.py", "sources/test_calc_figures.py", "words/test_calc.py",
    )),
    Area("rules", ("kb/rules/*.yaml",), (
        "knowledge/test_bench_figures.py",
        "deduction/test_shipped_rules.py", "sources/test_failure_shares.py",
        "circuit/test_accord.py", "knowledge/test_shipped_topologies.py",
        "safety/test_shipped_charts.py",
    )),
)  # fmt: skip

# Of counts the bound moves by one; of real numbers that would change nothing anybody could see,
# so the comparison is turned around.
_BOUND_MOVED = {ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">"}
_COMPARED = {
    ast.Lt: ">=", ast.LtE: ">", ast.Gt: "<=", ast.GtE: "<", ast.Eq: "!=", ast.NotEq: "==",
    ast.In: "not in", ast.NotIn: "in", ast.Is: "is not", ast.IsNot: "is",
}  # fmt: skip
_SIGNS = {ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*"}
_FIGURE = re.compile(r"(?<=[ \[{])(odds|minutes|share|least|most|below|rank): ([0-9.]+)\b")


@dataclass(frozen=True, slots=True)
class Mutation:
    """A piece of a file and what stands there instead."""

    area: str
    file: str
    line: int
    start: int
    end: int
    before: str
    after: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line} {self.before!r} -> {self.after!r}"


def mutations(area: Area) -> list[Mutation]:
    """All that can be made of an area, in a fixed order."""
    found = []
    for path in area.paths():
        text = path.read_text(encoding="utf-8")
        pieces = _of_python(text) if path.suffix == ".py" else _of_rules(text)
        for start, end, after in pieces:
            line = text.count("\n", 0, start) + 1
            file = path.relative_to(ROOT).as_posix()
            found.append(Mutation(area.name, file, line, start, end, text[start:end], after))
    return found


def _of_rules(text: str) -> Iterator[tuple[int, int, str]]:
    # A rank orders and is no amount: three times the last one is the last one still.
    last = max((float(f[2]) for f in _FIGURE.finditer(text) if f[1] == "rank"), default=0.0)
    for figure in _FIGURE.finditer(text):
        if figure[1] == "rank" and float(figure[2]) == last:
            continue
        yield figure.start(2), figure.end(2), f"{float(figure[2]) * 3 or 1.0:g}"


def _of_python(text: str) -> Iterator[tuple[int, int, str]]:
    starts = [0]
    for line in text.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))

    def place(line: int, column: int) -> int:
        whole = text[starts[line - 1] : starts[line]].encode()
        return starts[line - 1] + len(whole[:column].decode())

    def ends(node: ast.expr) -> int:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        return place(node.end_lineno, node.end_col_offset)

    def between(left: ast.expr, right: ast.expr) -> tuple[int, int]:
        return ends(left), place(right.lineno, right.col_offset)

    tree = ast.parse(text)
    owned, names = _of_the_algorithm(tree, text)
    unread = _only_for_the_unit(tree)
    for node in ast.walk(tree):
        if getattr(node, "lineno", None) in owned:
            continue
        if isinstance(node, ast.Compare) and len(node.ops) == 1:
            start, end = between(node.left, node.comparators[0])
            if any(isinstance(side, ast.Name) and side.id in names for side in _sides(node)):
                continue
            if "(" not in text[start:end] and ")" not in text[start:end]:
                moved = _BOUND_MOVED if any(map(_counts, _sides(node))) else _COMPARED
                kind = type(node.ops[0])
                yield start, end, f" {moved.get(kind, _COMPARED[kind])} "
        elif isinstance(node, ast.BoolOp):
            start, end = between(node.values[0], node.values[1])
            words = text[start:end]
            was, now = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
            if words.count(was) == 1:
                yield start, end, words.replace(was, now)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            start = place(node.lineno, node.col_offset)
            yield start, start + len("not "), ""
        elif isinstance(node, ast.BinOp) and type(node.op) in _SIGNS:
            start, end = between(node.left, node.right)
            sign = text[start:end]
            if sign.strip() in ("+", "-", "*", "/") and not _worded(node):
                yield start, end, f" {_SIGNS[type(node.op)]} "
        elif isinstance(node, ast.Constant):
            value = node.value
            # a truth is an int, too
            if type(value) in (int, float) and _is_telling(value) and id(node) not in unread:
                yield place(node.lineno, node.col_offset), ends(node), repr(value * 2 + 1)


def _of_the_algorithm(tree: ast.Module, text: str) -> tuple[set[int], set[str]]:
    """Lines and names of the numbers that a module calls its algorithm's own, by the words after
    them or the comment before."""
    lines, owned, names = text.splitlines(), set[int](), set[str]()
    group: list[ast.Assign | ast.AnnAssign] = []
    for node in tree.body:
        if isinstance(node, (ast.Assign, ast.AnnAssign)):
            is_next = bool(group) and group[-1].end_lineno == node.lineno - 1
            group = [*group, node] if is_next else [node]
            above = group[0].lineno - 1
            while above and lines[above - 1].startswith("#"):
                above -= 1
            said = " ".join(line.strip("# ") for line in lines[above : group[0].lineno - 1])
            is_own = OWN in said.casefold()
            mine = [node] if is_own else []
        else:
            words = node.value if isinstance(node, ast.Expr) else None
            is_own = isinstance(words, ast.Constant) and OWN in str(words.value).casefold()
            mine, group = (group[-1:] if is_own else []), []
        for one in mine:
            owned.update(range(one.lineno, (one.end_lineno or one.lineno) + 1))
            targets = one.targets if isinstance(one, ast.Assign) else [one.target]
            names.update(name.id for target in targets for name in ast.walk(target)
                         if isinstance(name, ast.Name))  # fmt: skip
    return owned, names


def _only_for_the_unit(tree: ast.Module) -> set[int]:
    """Numbers handed to a call of which nothing but the unit is asked: any other would do."""
    calls = (
        node.value for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and node.attr == "unit"
    )  # fmt: skip
    return {id(handed) for call in calls if isinstance(call, ast.Call) for handed in call.args}


def _is_telling(value: float) -> bool:
    """Whether somebody could read a difference off a number."""
    return value == 0 or DUST <= abs(value) < BEYOND


def _sides(node: ast.Compare) -> tuple[ast.expr, ast.expr]:
    return node.left, node.comparators[0]


def _counts(side: ast.expr) -> bool:
    """Whether a side of a comparison is a whole number or a length."""
    if isinstance(side, ast.Constant):
        return type(side.value) is int
    return isinstance(side, ast.Call) and isinstance(side.func, ast.Name) and side.func.id == "len"


def _worded(node: ast.BinOp) -> bool:
    """Whether texts are joined: another sign would not even run."""
    return any(
        isinstance(side, ast.JoinedStr) or (isinstance(side, ast.Constant) and
                                            isinstance(side.value, str))
        for side in (node.left, node.right)
    )  # fmt: skip


def drawn(seed: int, many: int, areas: list[Area]) -> list[Mutation]:
    """About `many` of them, as many from each area."""
    found = []
    for area in areas:
        every = mutations(area)
        random.Random(f"{seed} {area.name}").shuffle(every)
        found.extend(every[: -(-many // len(areas))])
    return found


def distance(mutation: Mutation, test: str) -> int:
    """How far a test file is from a mutation: named like its module, importing it, or neither."""
    path = Path(mutation.file)
    room, stem = ".".join(path.parent.parts), path.stem
    if stem in Path(test).stem:
        return 0
    imports = re.compile(
        rf"from {re.escape(f'{room}.{stem}')} import|from {re.escape(room)} import .*\b{stem}\b"
    )
    return 1 if imports.search((ROOT / test).read_text(encoding="utf-8")) else 2


def function_of(mutation: Mutation) -> tuple[str, int] | None:
    """The innermost function that a mutation lies in, as file and first line; None outside any."""
    if not mutation.file.endswith(".py"):
        return None
    tree = ast.parse((ROOT / mutation.file).read_text(encoding="utf-8"))
    around = [
        node for node in ast.walk(tree)
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))
        and node.lineno <= mutation.line <= (node.end_lineno or node.lineno)
    ]  # fmt: skip
    if not around:
        return None
    inner = max(around, key=lambda node: node.lineno)
    return mutation.file, min([inner.lineno, *(d.lineno for d in inner.decorator_list)])


def in_order(mutation: Mutation, notes: Notes) -> tuple[list[str], list[str]]:
    """The tests of the mutation's area: those that most likely and most quickly see it, and the
    others, each in the order to run them. A file's quick tests stay together, for its fixtures."""
    area = next(area for area in AREAS if area.name == mutation.area)
    by_file = {f"tests/{name}": notes.tests(f"tests/{name}") for name in area.tests}
    function = function_of(mutation)

    def runs_it(functions: list[list[Any]]) -> bool:
        return function is None or list(function) in functions

    def rank(file: str) -> tuple[bool, int, float]:
        is_run = any(runs_it(functions) for _, functions in by_file[file].values())
        quick = sum(seconds for seconds, _ in by_file[file].values() if seconds <= LONG)
        return not is_run, distance(mutation, file), quick

    first: list[str] = []
    others: list[str] = []
    long: list[tuple[bool, float, str]] = []
    left = FIRST
    for file in sorted(by_file, key=rank):
        is_first = not rank(file)[0] and left > 0.0
        left -= rank(file)[2] if is_first else 0.0
        for test, (seconds, functions) in by_file[file].items():
            if seconds > LONG:
                long.append((not runs_it(functions), seconds, test))
            else:
                (first if is_first else others).append(test)
    return first, [*others, *(test for _, _, test in sorted(long))]


class Notes:
    """What is known so far of this program and these tests, in a file: the tests of each file with
    their seconds and the functions they run, and what caught each mutation."""

    def __init__(self, file: Path, functions: list[tuple[str, int]]) -> None:
        self._file, self._functions, self._lock = file, functions, threading.Lock()
        key = [_sources(), functions]
        digest = hashlib.sha256(json.dumps(key).encode()).hexdigest()
        self._whole: dict[str, Any] = {"key": digest, "tests": {}, "caught": {}}
        if file.exists():
            before = json.loads(file.read_text(encoding="utf-8"))
            if before.get("key") == digest:
                self._whole = before

    def tests(self, file: str) -> dict[str, tuple[float, list[list[Any]]]]:
        """Of a test file, each test with its CPU seconds and the functions that it runs."""
        tests = self._whole["tests"][file]
        return {
            name: (seconds, [list(self._functions[number]) for number in numbers])
            for name, (seconds, numbers) in tests.items()
        }

    def has(self, file: str) -> bool:
        """Whether a test file was timed."""
        return file in self._whole["tests"]

    def watch(self, folder: Path, file: str) -> None:
        """Time a test file on the program as it is; SystemExit where it fails there."""
        functions, record = folder / "functions.json", folder / "record.json"
        functions.write_text(json.dumps(self._functions), encoding="utf-8")
        ran = _pytest(folder, [file], None, {WATCH: str(functions), RECORD: str(record)})
        if ran.returncode:
            raise SystemExit(f"{file} fails without any mutation:\n{ran.stdout[-2000:]}")
        tests = json.loads(record.read_text(encoding="utf-8"))
        print(f"{file}: {sum(seconds for seconds, _ in tests.values()):.0f} s", flush=True)
        self._note("tests", file, tests)

    def caught_by(self, mutation: Mutation) -> str | None:
        """What caught a mutation, empty where it survived; None where it was not tried yet."""
        text: str | None = self._whole["caught"].get(str(mutation))
        return text

    def caught(self, mutation: Mutation, by: str) -> None:
        """Note what caught it."""
        self._note("caught", str(mutation), by)

    def _note(self, part: str, name: str, what: Any) -> None:
        with self._lock:
            self._whole[part][name] = what
            self._file.parent.mkdir(parents=True, exist_ok=True)
            with files.whole(self._file) as aside:
                aside.write_text(json.dumps(self._whole), encoding="utf-8")


def _sources() -> str:
    """Hash of the program, its knowledge and its tests."""
    digest = hashlib.sha256()
    for part in ("engine", "kb", "render", "tests", "samples"):
        for path in sorted((ROOT / part).rglob("*")):
            if path.is_file() and path.suffix not in (".pyc", ".so"):
                digest.update(f"{path.relative_to(ROOT).as_posix()}\0".encode())
                digest.update(path.read_bytes() + b"\0")
    return digest.hexdigest()


def _pytest(
    folder: Path, test_files: Iterable[str], seconds: float | None, own: dict[str, str]
) -> subprocess.CompletedProcess[str]:
    """Run test files in a copy, up to the first that fails."""
    return subprocess.run(
        [sys.executable, "-m", "pytest", "-x", "-q", "--tb=no", "-p", "no:cacheprovider",
         "-p", "tests.bench.likeliest", *test_files],
        cwd=folder, capture_output=True, text=True, check=False, timeout=seconds,
        env={**os.environ, "PYTHONPATH": str(folder), "XDG_CACHE_HOME": str(folder / "cache"),
             **own},
    )  # fmt: skip


def caught_by(folder: Path, mutation: Mutation, notes: Notes) -> str:
    """The first test that fails on the mutation; empty where it survives."""
    file = folder / mutation.file
    whole = file.read_text(encoding="utf-8")
    assert whole[mutation.start : mutation.end] == mutation.before, mutation
    changed = whole[: mutation.start] + mutation.after + whole[mutation.end :]
    file.write_text(changed, encoding="utf-8")
    order = folder / "order.json"
    try:
        for tests in in_order(mutation, notes):
            if not tests:
                continue
            order.write_text(json.dumps(tests), encoding="utf-8")
            test_files = dict.fromkeys(test.partition("::")[0] for test in tests)
            ran = _pytest(folder, test_files, SECONDS, {ORDER: str(order)})
            if ran.returncode:
                failed = re.search(r"^(?:FAILED|ERROR) (\S+)", ran.stdout, re.MULTILINE)
                return failed[1] if failed else f"exit {ran.returncode}"
    except subprocess.TimeoutExpired:
        return f"nothing within {SECONDS:g} s"
    finally:
        file.write_text(whole, encoding="utf-8")
    return ""


def shared_out(jobs: int, todo: Iterable[Any], do: Callable[[Path, Any], None]) -> None:
    """Do all of it in that many copies of the program; who is done takes the next."""
    rest = iter(todo)
    lock = threading.Lock()

    def work(place: str) -> None:
        copied(Path(place))
        while True:
            with lock:
                one = next(rest, None)
            if one is None:
                return
            do(Path(place), one)

    with contextlib.ExitStack() as places, ThreadPoolExecutor(jobs) as pool:
        folders = [places.enter_context(tempfile.TemporaryDirectory()) for _ in range(jobs)]
        list(pool.map(work, folders))


def main() -> int:
    """Try them; the exit code."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--seed", type=int, default=1978)
    parser.add_argument("--many", type=int, default=150)
    parser.add_argument("--area", nargs="*", choices=[area.name for area in AREAS], default=[])
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--list", action="store_true", help="print them, try none")
    parser.add_argument("--only", type=int, nargs="*", help="those of these numbers in the list")
    parser.add_argument(
        "--notes", type=Path, default=user_cache_path("nextprobe") / "mutations" / "notes.json",
        help="what a run that was broken off goes on from",
    )  # fmt: skip
    wishes = parser.parse_args()
    areas = [area for area in AREAS if not wishes.area or area.name in wishes.area]
    every = drawn(wishes.seed, wishes.many, areas)
    if wishes.list:
        print("\n".join(f"{number} {one}" for number, one in enumerate(every)))
        return 0
    functions = sorted({place for one in every if (place := function_of(one))})
    notes = Notes(wishes.notes, functions)
    chosen = every if wishes.only is None else [every[number] for number in wishes.only]
    named = {one.area for one in chosen}
    tests = dict.fromkeys(
        f"tests/{test}" for area in areas if area.name in named for test in area.tests
    )
    shared_out(wishes.jobs, [t for t in tests if not notes.has(t)], notes.watch)

    def attempt(folder: Path, mutation: Mutation) -> None:
        began = time.monotonic()
        by = caught_by(folder, mutation, notes)
        seconds = time.monotonic() - began
        print(f"{mutation}: {by or 'SURVIVED'} ({seconds:.0f} s)", flush=True)
        notes.caught(mutation, by)

    shared_out(wishes.jobs, [m for m in chosen if notes.caught_by(m) is None], attempt)
    by_mutation = {mutation: notes.caught_by(mutation) or "" for mutation in chosen}
    survivors = [m for m, by in by_mutation.items() if not by or by.startswith("nothing within")]
    print(f"\n{len(chosen) - len(survivors)} of {len(chosen)} caught")
    for mutation in survivors:
        print(f"survived: {mutation}")
    return 1 if len(survivors) > SURVIVORS * len(chosen) else 0


if __name__ == "__main__":
    sys.exit(main())
